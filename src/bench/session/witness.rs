//! What of that which is shown belongs into the run's log: what was measured, said by a person, and stopped.
//!
//! Promises: it holds no more than a few thousand things between two times that it is emptied. Must not be here: files.

use crate::measure::time::Time;
use crate::record::run_log::{Motor, Seen};
use crate::seam::ui::{Tone, UiEvent};

/// More than any one step shows.
const MOST: usize = 4000;

/// See the module.
#[derive(Debug, Default)]
pub struct Witness(Vec<(Time, Seen)>);

impl Witness {
    /// Something is shown.
    pub(super) fn sees(&mut self, now: Time, shown: &UiEvent) {
        if let Some(seen) = seen(shown).filter(|_| self.0.len() < MOST) {
            self.0.push((now, seen));
        }
    }

    /// All since the last time.
    pub(in crate::bench) fn take(&mut self) -> Vec<(Time, Seen)> {
        std::mem::take(&mut self.0)
    }
}

fn seen(shown: &UiEvent) -> Option<Seen> {
    Some(match shown {
        UiEvent::StepBegins { title, .. } => Seen::Step { title: title.clone() },
        UiEvent::Line(Tone::Measured, text) => Seen::Measured { text: text.clone() },
        UiEvent::Line(Tone::Attested, text) => Seen::Attested { text: text.clone() },
        UiEvent::Line(Tone::Good, text) => Seen::Good { text: text.clone() },
        UiEvent::Line(Tone::Warning, text) => Seen::Warning { text: text.clone() },
        UiEvent::Start(start) => Seen::Start {
            pulse: start.pulse.0,
            start: start.start,
            motors: start
                .motors
                .iter()
                .map(|motor| Motor {
                    corner: motor.corner.clone(),
                    rpm: motor.rpm,
                    unevenness: motor.unevenness,
                    judged: motor.judged.clone(),
                })
                .collect(),
        },
        UiEvent::StopSent { reason, .. } => Seen::Stop { reason: reason.clone() },
        UiEvent::StopConfirmed => Seen::AtRest { seen: true },
        UiEvent::PullTheBattery => Seen::AtRest { seen: false },
        _ => return None,
    })
}
