//! Another craft's starts, from its record, to be seen beside those that are made here.
//!
//! Promises: they are shown and nothing else: no value of this craft follows from them. Must not be here: where the record
//! is found, how they are drawn.

use crate::language::units::Pulse;
use crate::record::run_log::{LogEntry, LogEvent, Motor};
use crate::seam::ui::{Beside, MotorSeen, StartSeen};

/// The starts of a run's log.
#[must_use]
pub fn beside(craft: String, log: &[LogEntry]) -> Beside {
    let starts = log.iter().filter_map(|entry| match &entry.seen {
        LogEvent::Start { pulse, start, motors, .. } => Some(StartSeen {
            pulse: Pulse(*pulse),
            start: *start,
            driven: None,
            motors: motors.iter().map(motor).collect(),
        }),
        _ => None,
    });
    Beside { craft, starts: starts.collect() }
}

fn motor(motor: &Motor) -> MotorSeen {
    let Motor { corner, rpm, unevenness, turns, judged } = motor.clone();
    MotorSeen { corner, rpm, unevenness, judged, turns, at_once: turns, trace: Vec::new() }
}
