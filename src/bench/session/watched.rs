//! What is asked of hands now, what was seen of it so far, and what the strip told last.
//!
//! Must not be here: what the strip tells of it (see `strip`), and what counts as done (see the procedures).

use crate::bench::session::spans::Spans;
use crate::board::radio_card::{RadioCard, SwitchEntry};
use crate::language::recipe::Switch;
use crate::measure::time::Time;
use crate::seam::strip::Strip;
use crate::seam::ui::{Gesture, Tone, UiEvent};
use std::collections::BTreeMap;
use std::time::Duration;

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
    pub(super) gesture: Gesture,
    began: Time,
    within: Duration,
    pub(super) spans: Spans,
}

impl Asked {
    /// What is asked, since when, and how long it may take.
    pub(super) fn what(&self) -> (Gesture, Time, Duration) {
        (self.gesture.clone(), self.began, self.within)
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
                let spans = Spans::since(now);
                self.gesture = Some(Asked { gesture: gesture.clone(), began: now, within: *within, spans });
            }
            UiEvent::BoardSays(_) | UiEvent::Passing(_) | UiEvent::Line(Tone::Plain, _) => {}
            _ => self.gesture = None,
        }
    }
}
