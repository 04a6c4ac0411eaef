//! What is asked of hands now, what was seen of it so far, and what the strip told last.
//!
//! Must not be here: what the strip tells of it (see `strip`), and what counts as done (see the procedures).

use crate::bench::session::spans::Spans;
use crate::board::radio_card::{RadioCard, SwitchEntry};
use crate::interlock::signals::Signals;
use crate::language::recipe::Switch;
use crate::measure::time::Time;
use crate::seam::strip::Strip;
use crate::seam::ui::{Gesture, Tone, UiEvent};
use std::collections::BTreeMap;
use std::time::Duration;

/// So far a craft has to be tilted, in tenths of a degree.
#[expect(clippy::cast_possible_truncation, reason = "a few degrees")]
pub(super) const TILTED: i32 = (crate::measure::moved::TILTED * 10.0) as i32;

/// What is asked of hands now, and what was told last.
#[derive(Debug, Default)]
pub struct Watched {
    pub(super) gesture: Option<Asked>,
    pub(super) switches: BTreeMap<Switch, SwitchEntry>,
    pub(super) told: Option<Strip>,
    pub(super) told_at: Time,
    /// When it was looked at last.
    pub(super) looked: Time,
}

/// A gesture that is asked for, and what was seen of it so far.
#[derive(Debug)]
pub(super) struct Asked {
    gesture: Gesture,
    began: Time,
    within: Duration,
    pub(super) spans: Spans,
    pub(super) leans: Leans,
}

/// How far a craft was tilted, in tenths of a degree, taken in as it comes.
#[derive(Debug)]
pub(super) struct Leans {
    last: Time,
    pub(super) first: Option<(i32, i32)>,
    pub(super) far: bool,
}

impl Asked {
    /// What is asked, since when, and how long it may take.
    pub(super) fn what(&self) -> (Gesture, Time, Duration) {
        (self.gesture.clone(), self.began, self.within)
    }
}

impl Leans {
    pub(super) fn take(&mut self, live: &Signals) {
        for sample in live.attitude.since(self.last) {
            self.last = sample.at;
            let (roll, pitch) = (tenths(sample.value.0), tenths(sample.value.1));
            let first = *self.first.get_or_insert((roll, pitch));
            self.far |= (roll - first.0).abs() > TILTED || (pitch - first.1).abs() > TILTED;
        }
    }
}

impl Watched {
    /// The switches of this radio are known.
    pub(in crate::bench) fn knows(&mut self, card: &RadioCard) {
        self.switches.clone_from(&card.switches);
    }

    /// Something is shown: an invitation begins to be watched, and what tells that it is over ends it.
    pub(super) fn shows(&mut self, now: Time, shown: &UiEvent) {
        match shown {
            UiEvent::Invite(gesture, _, within, _) => {
                let leans = Leans { last: now, first: None, far: false };
                let spans = Spans::since(now);
                self.gesture = Some(Asked { gesture: gesture.clone(), began: now, within: *within, spans, leans });
            }
            UiEvent::BoardSays(_) | UiEvent::Passing(_) | UiEvent::Line(Tone::Plain, _) => {}
            _ => self.gesture = None,
        }
    }
}

#[expect(clippy::cast_possible_truncation, reason = "an angle in tenths of a degree fits")]
pub(super) fn tenths(degrees: f64) -> i32 {
    (degrees * 10.0).round() as i32
}
