//! How often a board tells its armed flag, how old the flag may be for that, and from when on it is asked for.
//!
//! The interval is the median of the last eight that the board kept by itself, at least three. Promises: an answer to a
//! question of ours is none of them, so that asking never makes a board seem quicker than it is, and moves no limit. Must
//! not be here: the flag itself (see `signals`).

use crate::measure::time::Time;
use std::collections::VecDeque;
use std::time::Duration;

const FLAGS: usize = 8;
const FLAGS_AT_LEAST: usize = 3;
/// A flag is fresh for twice its interval and a little, within these bounds.
const LATE: Duration = Duration::from_millis(250);
const AGE: Duration = Duration::from_millis(500);
/// The oldest that any flag may be.
pub const AGE_MOST: Duration = Duration::from_millis(2300);

/// A flag that is late is asked for this often: the question before has ended by then.
pub(super) const ASK_AGAIN: Duration = Duration::from_millis(300);

/// A flag that comes more rarely than this lets no motor turn.
const RARE: Duration = Duration::from_millis(1100);

/// See the module.
#[derive(Debug, Clone, Default)]
pub(super) struct Rhythm {
    /// When the board told its flag last by itself, if nothing of ours came between.
    last: Option<Time>,
    /// How far its flags were apart, the newest last.
    apart: VecDeque<Duration>,
    /// Questions for it whose answers may still come, and when the last of them left.
    asked: (u32, Time),
    /// The interval, and the limit that goes with it.
    interval: Option<(Duration, Duration)>,
}

impl Rhythm {
    /// The flag came, over a link with this round trip.
    pub fn hears(&mut self, now: Time, round_trip: Duration) {
        let (questions, left) = self.asked;
        if questions > 0 && now.since(left) <= ASK_AGAIN + round_trip {
            self.asked = (questions - 1, left);
            return;
        }
        self.asked = (0, left);
        let Some(last) = self.last.replace(now) else { return };
        if self.apart.len() == FLAGS {
            self.apart.pop_front();
        }
        self.apart.push_back(now.since(last));
        if self.apart.len() >= FLAGS_AT_LEAST {
            let mut apart = [Duration::ZERO; FLAGS];
            let apart = &mut apart[..self.apart.len()];
            apart.iter_mut().zip(&self.apart).for_each(|(to, from)| *to = *from);
            apart.sort_unstable();
            let interval = apart[apart.len() / 2];
            self.interval = Some((interval, (interval * 2 + LATE).clamp(AGE, AGE_MOST)));
        }
    }

    /// This program did not listen for a while: what it missed says nothing of the board.
    pub fn breaks(&mut self) {
        self.last = None;
    }

    /// The board is asked for it.
    pub fn asks(&mut self, now: Time) {
        self.asked = (self.asked.0 + 1, now);
    }

    /// The interval, once it is known.
    pub fn interval(&self) -> Option<Duration> {
        self.interval.map(|(interval, _)| interval)
    }

    /// Whether it is known to come often enough for motors to turn.
    pub fn is_often(&self) -> bool {
        self.interval().is_some_and(|interval| interval <= RARE)
    }

    /// How old the flag may be to be fresh.
    pub fn limit(&self) -> Duration {
        self.interval.map_or(AGE_MOST, |(_, limit)| limit)
    }

    /// How long after the last one it has to be asked for: a quarter of a second after the next was due, where the limit
    /// leaves that long.
    pub fn asked_after(&self) -> Duration {
        (self.limit() + LATE) / 2
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn ms(millis: u64) -> Duration {
        Duration::from_millis(millis)
    }

    fn told(every: u64, count: u64) -> Rhythm {
        let mut rhythm = Rhythm::default();
        (0..count).for_each(|n| rhythm.hears(Time(n * every * 1000), ms(20)));
        rhythm
    }

    /// The figures of the safety page: 10 Hz 500 ms, 1 Hz 2.25 s, at most 2.3 s.
    #[test]
    fn the_limit_follows_the_interval() {
        for (every, limit, asked) in [(50, 500, 375), (100, 500, 375), (1000, 2250, 1250), (1100, 2300, 1275)] {
            let rhythm = told(every, 9);
            assert_eq!(rhythm.interval(), Some(ms(every)));
            assert_eq!((rhythm.limit(), rhythm.asked_after()), (ms(limit), ms(asked)), "{every} ms");
        }
        assert_eq!((told(1000, 3).interval(), told(1000, 3).limit()), (None, ms(2300)));
    }

    /// Whatever the link takes for an answer: the questions of two seconds, and their answers.
    #[test]
    fn a_board_that_is_asked_all_along_seems_no_quicker() {
        for round_trip in [20, 290, 310, 700] {
            let mut rhythm = Rhythm::default();
            let asked = [1275, 1575, 1875];
            let mut all: Vec<(u64, bool)> = Vec::new();
            for begun in (0..40).map(|n| n * 2000) {
                all.push((begun, false));
                all.extend(asked.iter().flat_map(|at| [(begun + at, true), (begun + at + round_trip, false)]));
            }
            all.sort_unstable();
            for (at, asks) in all {
                let now = Time(at * 1000);
                if asks { rhythm.asks(now) } else { rhythm.hears(now, ms(round_trip)) }
            }
            assert!(rhythm.interval() >= Some(ms(1900)), "{round_trip} ms: {:?}", rhythm.interval());
        }
    }

    #[test]
    fn what_this_program_did_not_listen_to_makes_no_board_slow() {
        let mut rhythm = Rhythm::default();
        for second in 0..40 {
            // One in four falls into a halt of ours.
            if second % 4 == 1 { rhythm.breaks() } else { rhythm.hears(Time(second * 1_000_000), ms(20)) }
        }
        assert_eq!(rhythm.interval(), Some(ms(1000)));
    }
}
