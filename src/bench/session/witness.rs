//! What of that which is shown belongs into the run's log: what was measured, said by a person, and stopped.
//!
//! Promises: it holds no more than a few thousand things between two times that it is emptied, and no run's samples
//! without end. Must not be here: files.

use crate::measure::time::Time;
use crate::record::run_log::{LogEvent, Motor, Samples};
use crate::seam::ui::{Tone, UiEvent};

/// More than any one step shows.
const MOST: usize = 4000;

/// So many samples are kept of a run, some 2 MB of its log; a whole set-up has some ten thousand.
const MOST_SAMPLES: usize = 200_000;

/// See the module.
#[derive(Debug, Default)]
pub struct Witness {
    seen: Vec<(Time, LogEvent)>,
    /// What the next thing that is measured was measured from.
    samples: Option<Samples>,
    /// How many there were so far.
    kept: usize,
}

impl Witness {
    /// Something is shown.
    pub(super) fn sees(&mut self, now: Time, shown: &UiEvent) {
        let Some(mut seen) = seen(shown).filter(|_| self.seen.len() < MOST) else { return };
        // What the board says in words was measured from nothing.
        let measured = !matches!(shown, UiEvent::BoardSays(_));
        if let LogEvent::Measured { samples, .. } | LogEvent::Start { samples, .. } = &mut seen
            && measured
        {
            *samples = self.samples.take();
        }
        self.seen.push((now, seen));
    }

    /// What is measured next was measured from these.
    pub(in crate::bench) fn measures(&mut self, samples: Samples) {
        self.kept = self.kept.saturating_add(samples.count());
        self.samples = Some(samples).filter(|_| self.kept <= MOST_SAMPLES);
    }

    /// All since the last time.
    pub(in crate::bench) fn take(&mut self) -> Vec<(Time, LogEvent)> {
        std::mem::take(&mut self.seen)
    }
}

fn seen(shown: &UiEvent) -> Option<LogEvent> {
    Some(match shown {
        UiEvent::StepBegins { title, .. } => LogEvent::Step { title: title.clone() },
        UiEvent::Line(Tone::Measured, text) | UiEvent::Noted(Tone::Measured, text) => {
            LogEvent::Measured { text: text.clone(), samples: None }
        }
        UiEvent::Line(Tone::Attested, text) | UiEvent::Noted(Tone::Attested, text) => {
            LogEvent::Attested { text: text.clone() }
        }
        UiEvent::Line(Tone::Good, text) | UiEvent::Noted(Tone::Good, text) => LogEvent::Good { text: text.clone() },
        UiEvent::Line(Tone::Warning, text) => LogEvent::Warning { text: text.clone() },
        UiEvent::Start(start) => LogEvent::Start {
            pulse: start.pulse.0,
            start: start.start,
            motors: start
                .motors
                .iter()
                .map(|motor| Motor {
                    corner: motor.corner.clone(),
                    rpm: motor.rpm,
                    unevenness: motor.unevenness,
                    turns: motor.turns,
                    judged: motor.judged.clone(),
                })
                .collect(),
            samples: None,
        },
        UiEvent::BoardSays(all) => {
            let all: Vec<&str> = all.iter().map(|(text, _)| text.as_str()).collect();
            LogEvent::Measured { text: format!("the board says: {}", all.join("; ")), samples: None }
        }
        UiEvent::StopBegins { reason, delivery } => {
            LogEvent::Stop { reason: reason.clone(), delivery: Some(delivery.told().to_owned()) }
        }
        UiEvent::StopConfirmed => LogEvent::AtRest { seen: true },
        UiEvent::PullTheBattery => LogEvent::AtRest { seen: false },
        _ => return None,
    })
}
