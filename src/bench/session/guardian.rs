//! The session's guardian: told to hold beside the writer's own hold, and what it says handed on.
//!
//! Must not be here: when something is held, and what is known of the guardian (both the interlock's).

use crate::bench::session::Session;
use crate::seam::Effect;
use crate::seam::guardian::{GuardianEvent, stops_in};
use crate::seam::ui::{Tone, UiEvent};

impl Session {
    /// Takes what it says; what it did while this program could not is told in any case.
    pub(super) fn guardian_says(&mut self, event: GuardianEvent, act: &mut dyn FnMut(Effect)) {
        self.bench.interlock_mut().guardian().hear(event);
        let text = match event {
            // A stop that was left is its to send, and that was said.
            GuardianEvent::Fired if !self.bench.interlock().is_left_to_its_guardian() => {
                "This program stood still while motors could turn. Its guardian process took over the stop."
            }
            GuardianEvent::TooLate => {
                "This program stood still while motors could turn, and its guardian process did too: it sent no stop."
            }
            _ => return,
        };
        act(Effect::Show(UiEvent::Line(Tone::Warning, text.to_owned())));
    }

    /// Holds for another while.
    pub(super) fn guard(&mut self, act: &mut dyn FnMut(Effect)) {
        let now = self.bench.now();
        let mut interlock = self.bench.interlock_mut();
        let guardian = interlock.guardian();
        if let Some(lasts) = guardian.wants_stops(now) {
            let length = self.link.held_stop_bytes().map_or(0, |bytes| bytes.len());
            if let Some(stops) = self.link.guardian_stops(stops_in(lasts, length)) {
                act(Effect::Guard(guardian.prepare(now, stops)));
            }
        }
        if let Some(order) = guardian.renew(now) {
            act(Effect::Guard(order));
        }
    }

    /// Lets go.
    pub(super) fn unguard(&mut self, act: &mut dyn FnMut(Effect)) {
        if let Some(order) = self.bench.interlock_mut().guardian().release() {
            act(Effect::Guard(order));
        }
    }
}
