//! The session's guardian: told to hold beside the writer's own hold, and heard by the watch.
//!
//! Must not be here: when something is held (see `stopping`), what is known of it (see `interlock::guardian`).

use crate::bench::session::Session;
use crate::bench::session::context::PORT;
use crate::measure::time::Time;
use crate::seam::Effect;
use crate::seam::guardian::{GuardianEvent, stops_in};
use crate::seam::ui::{Tone, UiEvent};

impl Session {
    /// Takes what it says; what it did while this program could not is told in any case.
    pub(in crate::bench) fn guardian_says(&mut self, event: GuardianEvent, act: &mut dyn FnMut(Effect)) {
        self.bench.guardian.borrow_mut().hear(event);
        if event == GuardianEvent::Fired {
            let text = "This program stood still while motors could turn. Its guardian process sent the stop.";
            act(Effect::Show(UiEvent::Line(Tone::Warning, text.to_owned())));
        }
    }

    /// What it did, or did not, stops.
    pub(in crate::bench) fn mind_the_guardian(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        let reason = {
            let mut guardian = self.bench.guardian.borrow_mut();
            let overdue = guardian.overdue(now);
            if guardian.fired() {
                "this program stood still"
            } else if self.holding && guardian.gone() {
                "the guardian process of this program is gone"
            } else if overdue {
                "the guardian process of this program did not answer"
            } else {
                return;
            }
        };
        // Fired and heard of after the stop was seen to its end: it is only told to let go.
        if self.bench.mode().any_key_stops() {
            self.stop(reason.to_owned(), true, now, act);
        }
    }

    /// Holds for another while.
    pub(in crate::bench) fn guard(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        let mut guardian = self.bench.guardian.borrow_mut();
        if let Some(lasts) = guardian.wants_stops(now) {
            let length = self.link.held_stop_bytes().map_or(0, |bytes| bytes.len());
            if let Some(stops) = self.link.guardian_stops(stops_in(lasts, length)) {
                act(Effect::Guard(PORT, guardian.prepare(now, stops)));
            }
        }
        if let Some(order) = guardian.renew(now) {
            act(Effect::Guard(PORT, order));
        }
    }

    /// Lets go, after everything was seen at rest.
    pub(in crate::bench) fn unguard(&mut self, act: &mut dyn FnMut(Effect)) {
        if let Some(order) = self.bench.guardian.borrow_mut().release() {
            act(Effect::Guard(PORT, order));
        }
    }
}
