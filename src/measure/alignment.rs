//! What two streams told, put on one time: each is as late as its own way, and arrivals alone do not show how late.
//!
//! Promises: where both carry one clock of the board's, that clock decides and no delay matters; else the doubt is
//! given, by what the link takes there and back and by how unevenly messages came. Must not know what was told.

use super::number;
use super::time::Time;
use std::time::Duration;

/// A message: when it came, the board's time in milliseconds where it carried one, and what it told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Arrival<T> {
    /// When it came.
    pub came: Time,
    /// The board's own time, ms.
    pub board: Option<u32>,
    /// What it told.
    pub value: T,
}

/// Two streams on one time.
#[derive(Debug, Clone, PartialEq)]
pub struct Aligned<A, B> {
    /// The first, in rising time.
    pub first: Vec<(Time, A)>,
    /// The second, in rising time.
    pub second: Vec<(Time, B)>,
    /// How far a moment of the one may be off against one of the other.
    pub doubt: Duration,
    /// Whether the board's own clock was used.
    pub by_board: bool,
}

/// The board's times are whole milliseconds, on either stream.
const WHOLE: Duration = Duration::from_millis(2);
/// Further apart than this no delay puts two streams of one clock, µs.
const ONE_CLOCK: i64 = 2_000_000;
/// No board's clock runs further apart from ours (*common practice*); and of a time as it is measured here, about a second
/// at most, that part is in doubt.
const DRIFT: f64 = 0.02;
const SECOND: Duration = Duration::from_secs(1);
/// Over this long a clock's rate can be told from delays, µs.
const LONG: i64 = 2_000_000;
/// A step back of up to this much is a message that came out of order, ms.
const REORDERED: u32 = 500;

/// Puts what two streams told later than `after` on one time, by all that is known of them. `round_trip`: what an
/// answered question took, zero where it is not known.
#[must_use]
pub fn align<A: Copy, B: Copy>(
    first: &[Arrival<A>],
    second: &[Arrival<B>],
    after: Time,
    round_trip: Duration,
) -> Aligned<A, B> {
    let clocks = Clock::of(first).zip(Clock::of(second));
    match clocks.filter(|(one, other)| (one.offset - other.offset).abs() <= ONE_CLOCK) {
        // On ours, so that it may be held against anything; one clock for both.
        Some((_, clock)) => Aligned {
            first: clock.date(first, after),
            second: clock.date(second, after),
            doubt: WHOLE + SECOND.mul_f64(clock.grows.abs()),
            by_board: true,
        },
        None => by_arrival(first, second, after, round_trip),
    }
}

/// The same by arrivals alone.
#[must_use]
pub fn by_arrival<A: Copy, B: Copy>(
    first: &[Arrival<A>],
    second: &[Arrival<B>],
    after: Time,
    round_trip: Duration,
) -> Aligned<A, B> {
    let first: Vec<(Time, A)> =
        first.iter().map(|told| (told.came, told.value)).filter(|(at, _)| *at > after).collect();
    let second: Vec<(Time, B)> =
        second.iter().map(|told| (told.came, told.value)).filter(|(at, _)| *at > after).collect();
    let doubt = round_trip + uneven(&first).max(uneven(&second));
    Aligned { first, second, doubt, by_board: false }
}

/// The board's clock against ours, as one stream shows it.
#[derive(Debug, Clone, Copy)]
struct Clock {
    /// Ours less the board's, µs, at a moment of the board's; the least of the later half: a delay is never negative.
    offset: i64,
    at: i64,
    /// How much it grows in a microsecond of the board's, where the board's clock runs slow.
    grows: f64,
}

impl Clock {
    /// `None` where a message carried no time, or time stood still.
    fn of<T>(told: &[Arrival<T>]) -> Option<Self> {
        let told = since_start(told);
        let (earlier, later) = told.split_at(told.len() / 2);
        let (first, second) = (least(earlier)?, least(later)?);
        let apart = second.1 - first.1;
        if apart <= 0 {
            return None;
        }
        let grows = if apart >= LONG { number::signed(second.0 - first.0) / number::signed(apart) } else { 0.0 };
        // What grows faster is a link whose delay changed.
        Some(Self { offset: second.0, at: second.1, grows: grows.clamp(-DRIFT, DRIFT) })
    }

    fn date<T: Copy>(self, told: &[Arrival<T>], after: Time) -> Vec<(Time, T)> {
        let at = |told: &Arrival<T>| {
            let board = i64::from(told.board.unwrap_or(0)) * 1000;
            let at = board + self.offset + number::rounded(number::signed(board - self.at) * self.grows);
            Time(u64::try_from(at).unwrap_or(0))
        };
        let told = since_start(told).iter().filter(|told| told.came > after);
        let mut all: Vec<(Time, T)> = told.map(|told| (at(told), told.value)).collect();
        all.sort_by_key(|(at, _)| *at);
        all
    }
}

/// What came since the board's clock started anew, if it did: a step back of more than messages out of order make.
fn since_start<T>(told: &[Arrival<T>]) -> &[Arrival<T>] {
    let back = |pair: &[Arrival<T>]| {
        pair[0].board.zip(pair[1].board).is_some_and(|(before, then)| then.saturating_add(REORDERED) < before)
    };
    let start = told.windows(2).rposition(back).map_or(0, |place| place + 1);
    &told[start..]
}

/// The least offset, and when it was, by the board, µs.
fn least<T>(told: &[Arrival<T>]) -> Option<(i64, i64)> {
    let offset = |told: &Arrival<T>| {
        let board = i64::from(told.board?) * 1000;
        Some((i64::try_from(told.came.0).ok()? - board, board))
    };
    told.iter().map(offset).collect::<Option<Vec<_>>>()?.into_iter().min()
}

/// How much later than usual a message came at most, or how much earlier.
fn uneven<T>(told: &[(Time, T)]) -> Duration {
    let mut gaps: Vec<Duration> = told.windows(2).map(|pair| pair[1].0.since(pair[0].0)).collect();
    gaps.sort_unstable();
    let Some(usual) = gaps.get(gaps.len() / 2).copied() else { return Duration::ZERO };
    let (least, most) = (gaps[0], gaps[gaps.len() - 1]);
    most.saturating_sub(usual).max(usual.saturating_sub(least))
}
