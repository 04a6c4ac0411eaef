//! Whether two boards speak with one system and component, told from the numbers of their frames.
//!
//! A board numbers its frames one after another. Two that share an id run two such series into one another, and either of
//! two things shows it, whichever way they lie. A number comes again, with other contents, long before the 256 numbers
//! have gone round (the series lie close by). Or the numbers go back and forth between two places, each of which goes on
//! where it had been (they lie far apart). Neither comes of loss, of frames that come twice (their contents are the same)
//! or late (their numbers were not heard before), nor of a restart: that ends the one series for good, after a silence.
//! Must not be here: what two speakers mean.

use crate::measure::time::Time;
use std::time::Duration;

/// A number that comes again after fewer frames than this has not gone round, were three of five frames lost.
const ROUND: u64 = 100;
/// A series goes on within so many numbers.
const NEAR: u8 = 8;
/// So many numbers back a frame may be late.
const LATE: u8 = 32;
/// So many of the last 64 frames have to show two series.
const SHOWN: u32 = 6;
/// After a silence a board may have restarted: its numbers are a new series.
const SILENCE: Duration = Duration::from_millis(500);

/// What one frame shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum FrameNovelty {
    /// Nothing.
    New,
    /// It is a frame that was heard before.
    Again,
    /// Two speak.
    Two,
}

/// The frame that had a number last.
#[derive(Debug, Default, Clone)]
struct Numbered {
    /// When it came, counted in frames from 1; 0: none did.
    at: u64,
    id: u32,
    payload: Vec<u8>,
}

/// The numbers of one sender's frames.
#[derive(Debug, Default)]
pub(super) struct Speakers {
    heard: Option<Time>,
    count: u64,
    /// By number; empty where nothing was heard.
    numbers: Vec<Numbered>,
    /// The series that is heard now, and the one before it.
    heads: (Option<u8>, Option<u8>),
    last: u8,
    /// What the last frames showed, a bit a frame, the newest lowest.
    shown: u64,
}

impl Speakers {
    /// Takes a frame's number and contents.
    pub(super) fn take(&mut self, now: Time, number: u8, id: u32, payload: &[u8]) -> FrameNovelty {
        if self.heard.is_none_or(|heard| now > heard + SILENCE) {
            let numbers = vec![Numbered::default(); 256];
            *self = Self { numbers, last: number, heads: (Some(number), None), ..Self::default() };
        }
        self.heard = Some(now);
        self.count += 1;
        let before = &mut self.numbers[usize::from(number)];
        let again = before.at > 0 && self.count - before.at < ROUND;
        before.at = self.count;
        if again && before.id == id && before.payload == payload {
            return FrameNovelty::Again;
        }
        before.id = id;
        before.payload.clear();
        before.payload.extend_from_slice(payload);
        // What follows the frame before it belongs to its series, whatever else had this number.
        let follows = (1..=NEAR).contains(&number.wrapping_sub(self.last));
        let differs = again && !follows;
        self.last = number;
        self.shown = self.shown << 1 | u64::from(differs || self.turns_to_the_other(number));
        if self.shown.count_ones() >= SHOWN { FrameNovelty::Two } else { FrameNovelty::New }
    }

    /// Whether the series before this one goes on with it.
    fn turns_to_the_other(&mut self, number: u8) -> bool {
        let (Some(now), other) = self.heads else { return false };
        if number.wrapping_sub(now) <= NEAR {
            self.heads.0 = Some(number);
        } else if now.wrapping_sub(number) > LATE {
            let goes_on = other.is_some_and(|other| (1..=NEAR).contains(&number.wrapping_sub(other)));
            self.heads = (Some(number), Some(now));
            return goes_on && number.wrapping_sub(now) > LATE;
        }
        false
    }
}
