//! A board's clock as one stream shows it, held against ours: how old a message is, and whether it is the same clock.
//!
//! Promises: a message counts as true no later than it came; a clock that runs slow or fast by 2 % stays usable, since
//! the fit forgets; what lies in front of the fit, or far behind what was heard last, is a break. A constant delay can't
//! be seen here (see `contact`, round trip). Must not be here: what a break means.

use crate::measure::time::Time;
use std::time::Duration;

/// A step back of up to this much is a message that came out of order.
const REORDERED: i64 = 500_000;
/// Further off the fitted rate than this, and [`DRIFT`] of the time passed, no clock runs on.
const OFF: i64 = 250_000;
/// Parts of the time passed that a clock may be off, one in fifty.
const DRIFT: i64 = 50;
/// The least offset is taken over so many spans of [`SPAN`]: what is older is forgotten.
const SPANS: usize = 4;
const SPAN: Duration = Duration::from_secs(1);

/// The offset of a span in which nothing was heard: it is the least of none.
const UNHEARD: i64 = i64::MAX;

/// So many messages of another clock, none of them two in a row, are no stray ones.
const BESIDE: u32 = 4;

/// See the module. Times in µs, offsets as ours less the board's.
#[derive(Debug, Clone)]
pub(super) struct BoardClock {
    /// The newest moment on the board's clock, and when it came.
    newest: Option<(i64, Time)>,
    /// When the newest span began.
    span: Option<Time>,
    /// The least offset of each span, the newest last; [`UNHEARD`] where there was none.
    least: [i64; SPANS],
    /// The message before was a break already.
    broken: bool,
    /// Another clock whose messages come between those of this one: its offset, and how many fitted it.
    beside: Option<(i64, u32)>,
}

/// What one message says of its clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum ClockSays {
    /// It runs on.
    RunsOn,
    /// It runs on with a message that is late, or is another that is behind it.
    Late,
    /// It does not fit what was heard before; the next one tells.
    Unlikely,
    /// Two in a row do not fit: another clock, or one that started anew.
    Anew,
    /// Two clocks run, and the messages of the one come between those of the other.
    Two,
}

impl Default for BoardClock {
    fn default() -> Self {
        Self { newest: None, span: None, least: [UNHEARD; SPANS], broken: false, beside: None }
    }
}

impl BoardClock {
    /// Takes a message with the board's time in ms that came now. Gives the moment at which it was true.
    pub fn moment(&mut self, now: Time, board_ms: u32) -> (Time, ClockSays) {
        let board = i64::from(board_ms) * 1000;
        let offset = i64::try_from(now.0).unwrap_or(i64::MAX) - board;
        let mut says = ClockSays::RunsOn;
        if let Some((newest, came)) = self.newest {
            let passed = i64::try_from(now.0.saturating_sub(came.0)).unwrap_or(i64::MAX);
            let off = OFF + passed / DRIFT;
            // What was taken up once is in a span.
            let least = self.offset();
            let ahead = offset < least.saturating_sub(off);
            if offset > least.saturating_add(off) {
                says = ClockSays::Late;
            }
            if ahead || board < newest - REORDERED {
                says = if self.broken { ClockSays::Anew } else { ClockSays::Unlikely };
            }
        }
        self.broken = says == ClockSays::Unlikely;
        if self.broken && self.runs_beside(offset) {
            return (now, ClockSays::Two);
        }
        match says {
            // It says nothing of the time: taken as true when it came, and not taken up.
            ClockSays::Unlikely => return (now, says),
            ClockSays::Anew => *self = Self::default(),
            ClockSays::RunsOn | ClockSays::Late | ClockSays::Two => {}
        }
        self.take(now, offset);
        if self.newest.is_none_or(|(newest, _)| board >= newest) {
            self.newest = Some((board, now));
        }
        (Time(u64::try_from(board + self.offset()).unwrap_or(0)).min(now), says)
    }

    /// Whether any message carried a time.
    pub fn is_heard(&self) -> bool {
        self.newest.is_some()
    }

    /// Whether a message that does not fit is one of several of the same other clock, each between messages of this one.
    fn runs_beside(&mut self, offset: i64) -> bool {
        let fits = |(other, count): (i64, u32)| (offset.abs_diff(other) <= OFF.unsigned_abs()).then_some(count);
        let count = self.beside.and_then(fits).unwrap_or(0) + 1;
        self.beside = Some((offset, count));
        count >= BESIDE
    }

    fn take(&mut self, now: Time, offset: i64) {
        if self.span.is_none_or(|began| now.since(began) >= SPAN) {
            self.span = Some(now);
            self.least.rotate_left(1);
            self.least[SPANS - 1] = UNHEARD;
        }
        self.least[SPANS - 1] = self.least[SPANS - 1].min(offset);
    }

    fn offset(&self) -> i64 {
        self.least.into_iter().fold(UNHEARD, i64::min)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Messages at 50 Hz for so long, on a clock at this rate; `delay` in ms by moment.
    fn ages(seconds: u64, rate: f64, delay: impl Fn(u64) -> u64) -> Vec<(u64, Duration, ClockSays)> {
        let mut clock = BoardClock::default();
        (0..seconds * 50)
            .map(|n| {
                let sent = 5_000_000 + n * 20_000;
                let now = Time(sent + delay(sent) * 1000);
                #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, clippy::cast_precision_loss)]
                let board = (sent as f64 * rate / 1000.0) as u32;
                let (at, says) = clock.moment(now, board);
                (sent, now.since(at), says)
            })
            .collect()
    }

    #[test]
    fn a_clock_off_by_two_percent_stays_usable_for_an_hour() {
        for rate in [0.98, 0.9999, 1.0, 1.0001, 1.02] {
            for (sent, age, says) in ages(3600, rate, |_| 5) {
                assert!(age < Duration::from_millis(90) && says == ClockSays::RunsOn, "{rate} {sent} {age:?} {says:?}");
            }
        }
    }

    #[test]
    fn a_delay_that_comes_is_age_at_once_and_no_other_clock() {
        let late = ages(20, 1.0, |sent| if sent > 15_000_000 { 700 } else { 5 });
        let (_, age, _) = late.iter().find(|(sent, ..)| *sent > 15_000_000).unwrap();
        assert!(*age >= Duration::from_millis(690), "{age:?}");
        // Until what was heard before it is forgotten.
        let still = late.iter().filter(|(sent, ..)| (15_000_001..17_900_000).contains(sent));
        assert!(still.map(|(_, age, _)| age).all(|age| *age >= Duration::from_millis(690)));
        assert!(late.iter().all(|(.., says)| matches!(says, ClockSays::RunsOn | ClockSays::Late)));
        let (.., says) = late.iter().find(|(sent, ..)| *sent > 15_000_000).unwrap();
        assert_eq!(*says, ClockSays::Late);
    }

    #[test]
    fn another_clock_is_one_after_two_messages() {
        for jump in [-40_000_i64, 40_000] {
            let mut clock = BoardClock::default();
            for n in 0..200_u32 {
                clock.moment(Time(9_000_000 + u64::from(n) * 20_000), 100_000 + n * 20);
            }
            let other = |n: u32| u32::try_from(104_000 + i64::from(n) * 20 + jump).unwrap();
            let then = Time(13_000_000);
            assert_eq!(clock.moment(then, other(0)).1, ClockSays::Unlikely);
            assert_eq!(clock.moment(then + Duration::from_millis(20), other(1)).1, ClockSays::Anew);
            assert_eq!(clock.moment(then + Duration::from_millis(40), other(2)).1, ClockSays::RunsOn);
        }
    }

    #[test]
    fn the_longer_nothing_came_the_more_a_clock_may_be_off() {
        for (ahead, says) in [(440, ClockSays::RunsOn), (460, ClockSays::Unlikely)] {
            let mut clock = BoardClock::default();
            for n in 0..200_u32 {
                clock.moment(Time(9_000_000 + u64::from(n) * 20_000), 100_000 + n * 20);
            }
            // 10 s after the last, and so much further on than ours.
            assert_eq!(clock.moment(Time(22_980_000), 103_980 + 10_000 + ahead).1, says, "{ahead} ms");
        }
    }

    #[test]
    fn two_clocks_that_take_turns_are_two_and_strays_are_none() {
        let strays = |offset: &dyn Fn(u32) -> i64| {
            let mut clock = BoardClock::default();
            let mut says = (0..600_u32).flat_map(|n| {
                let now = Time(9_000_000 + u64::from(n) * 20_000);
                let other = u32::try_from(i64::from(100_000 + n * 20) + offset(n)).unwrap();
                let own = clock.moment(now, 100_000 + n * 20).1;
                [own, clock.moment(now + Duration::from_millis(10), if n > 100 { other } else { 100_010 + n * 20 }).1]
            });
            says.position(|says| says == ClockSays::Two)
        };
        for apart in [-40_000, -700, 700, 40_000] {
            let found = strays(&|_| apart).unwrap_or_else(|| panic!("{apart} ms apart: not found"));
            assert!((200..220).contains(&found), "{apart} ms apart: after {found}");
        }
        // Of the same clock, out of order by anything up to half a second; and wild ones, of no clock at all.
        assert_eq!(strays(&|n| -i64::from(n * 37 % 490)), None);
        assert_eq!(strays(&|n| if n % 50 == 0 { 3000 + i64::from(n * n % 9000) * 7 } else { 10 }), None);
    }

    #[test]
    fn a_message_out_of_order_is_none() {
        let mut clock = BoardClock::default();
        for n in [0_u32, 20, 60, 40, 400, 100, 420, 440] {
            assert_eq!(clock.moment(Time(2_000_000 + u64::from(n) * 1000), 5_000 + n).1, ClockSays::RunsOn, "{n}");
        }
    }
}
