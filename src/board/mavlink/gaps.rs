//! Gaps of a list that are asked for by their place: how many at a time, and when again.
//!
//! As many are on their way as the wire has room for between a request and its answer. A board answers in the order
//! in which it is asked, so one that later ones have overtaken is lost, and asked for again at once. Must not be here:
//! when a list has ended, and what is missing.

use super::round_trip::{RoundTrip, micros};
use crate::measure::time::Time;
use std::time::Duration;

/// Gaps asked for at a time while the wire is not known yet.
pub const WINDOW: usize = 8;
/// The fewest and the most at a time; small boards have little room for what comes in.
const LEAST: usize = 4;
const MOST: usize = 32;
/// First wait while no answer's time is known.
pub const FIRST_WAIT: Duration = Duration::from_millis(150);
/// The longest wait.
const LONGEST_WAIT: Duration = Duration::from_millis(250);
/// So many tries wait alike, before each further one waits twice as long.
const ALIKE: u32 = 5;
/// A request is lost once so many later ones were answered.
const OVERTAKEN: u8 = 2;

#[derive(Debug)]
struct Gap {
    index: u16,
    tries: u32,
    /// Number of its last request.
    order: u32,
    overtaken: u8,
    sent: Time,
    /// Requests that were before it.
    ahead: u32,
    due: Time,
}

/// Requests on their way.
#[derive(Debug, Default)]
pub(super) struct Gaps {
    open: Vec<Gap>,
    orders: u32,
    trip: RoundTrip,
    /// Time that the wire takes for one setting.
    each: Duration,
    /// Requests since the last answer.
    pub(super) unanswered: u32,
    /// Whether any place that was asked for was ever answered.
    pub(super) answered: bool,
}

impl Gaps {
    /// The time from the request for the list to its first setting.
    pub(super) fn first_answer(&mut self, took: Duration) {
        self.trip.note(took);
    }

    /// The time that the wire takes for one setting, as measured.
    pub(super) fn pace(&mut self, each: Duration) {
        self.each = each;
    }

    /// Nothing is on its way.
    pub(super) fn clear(&mut self) {
        self.open.clear();
        self.unanswered = 0;
    }

    pub(super) fn asked(&self, index: u16) -> bool {
        self.open.iter().any(|gap| gap.index == index)
    }

    pub(super) fn is_empty(&self) -> bool {
        self.open.is_empty()
    }

    /// Whether another may be asked for.
    pub(super) fn has_room(&self) -> bool {
        let window = match self.trip.usual() {
            Some(usual) if micros(self.each) > 0 => {
                let fills = 3 * micros(usual) / (2 * micros(self.each));
                usize::try_from(fills).unwrap_or(MOST).saturating_add(2).clamp(LEAST, MOST)
            }
            _ => WINDOW,
        };
        self.open.len() < window
    }

    /// Takes an answer; whether it was asked for.
    pub(super) fn answer(&mut self, now: Time, index: u16) -> bool {
        let Some(place) = self.open.iter().position(|gap| gap.index == index) else { return false };
        let gap = self.open.swap_remove(place);
        if gap.tries == 1 {
            self.trip.note(now.since(gap.sent).saturating_sub(self.each * gap.ahead));
        }
        for other in self.open.iter_mut().filter(|other| other.order < gap.order) {
            other.overtaken += 1;
            if other.overtaken >= OVERTAKEN {
                other.due = other.due.min(now);
            }
        }
        (self.unanswered, self.answered) = (0, true);
        true
    }

    /// The longest waiting of those that are to be asked for again; to be followed by [`Gaps::ask`].
    pub(super) fn due(&self, now: Time) -> Option<u16> {
        self.open.iter().filter(|gap| gap.due <= now).min_by_key(|gap| gap.order).map(|gap| gap.index)
    }

    /// Notes a request for a place, for the first time or again.
    pub(super) fn ask(&mut self, now: Time, index: u16) {
        let known = self.open.iter().position(|gap| gap.index == index).map(|place| self.open.swap_remove(place));
        let tries = known.map_or(0, |gap| gap.tries) + 1;
        let ahead = u32::try_from(self.open.len()).unwrap_or(u32::MAX);
        let wait = self.trip.patience(FIRST_WAIT) + self.each * (ahead + 1);
        let longer = 1 << tries.saturating_sub(ALIKE).min(6);
        let due = now + (wait * longer).min(wait.max(LONGEST_WAIT));
        self.orders += 1;
        self.unanswered += 1;
        self.open.push(Gap { index, tries, order: self.orders, overtaken: 0, sent: now, ahead, due });
    }

    /// When something is to be asked for again.
    pub(super) fn wake(&self) -> Time {
        self.open.iter().map(|gap| gap.due).min().unwrap_or(Time::NEVER)
    }
}
