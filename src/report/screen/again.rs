//! A motor question that comes again: what has changed first, then everything else in two lines.
//!
//! Promises: every field of the whole question stands in it, from the very value that is executed. Must not be here: when a
//! question counts as one that comes again.

use crate::language::characters::capital;
use crate::plan::titles::count;
use crate::report::gate;
use crate::report::words::at_most;
use crate::seam::ui::{MotorStep, Motors, StartedBy};

/// Said in every motor question.
pub(super) const HANDS_CLEAR: &str = "HANDS CLEAR";

/// What has changed, as a sentence, and the rest.
pub(super) fn again(step: &MotorStep, before: &MotorStep) -> (String, String) {
    let purpose = gate::line(&step.purpose);
    let changed = if step.pulse != before.pulse {
        format!("{} now, {} before: {purpose}.", step.pulse, before.pulse)
    } else if step.motors != before.motors {
        format!("{} now: {purpose}.", capital(&motors(&step.motors)))
    } else if step.starts != before.starts {
        format!("{} now, {} before: {purpose}.", count(step.starts, "start"), before.starts)
    } else if step.longest != before.longest {
        format!("{} at most now, {} before: {purpose}.", at_most(step.bound()), at_most(before.bound()))
    } else if step.purpose != before.purpose {
        format!("{}.", capital(&purpose))
    } else {
        format!("The same again: {purpose}.")
    };
    let mut rest = Vec::new();
    if step.pulse == before.pulse {
        rest.push(step.pulse.to_string());
    }
    if !matches!(step.by, StartedBy::Change { .. } | StartedBy::WorkedSwitch) {
        rest.push(format!("{} at most", at_most(step.bound())));
        rest.push(count(step.starts, "start"));
    }
    if step.motors == before.motors {
        rest.push(motors(&step.motors));
    }
    let (by, stops) = match &step.by {
        StartedBy::Switch { switch, on, off } => {
            let switch = gate::line(&switch.0);
            (format!("{switch} at {on} starts, at {off} stops"), format!("any key, {switch} to {off}"))
        }
        StartedBy::Sound { switch, on, off } => {
            let switch = gate::line(&switch.0);
            (format!("{switch} at {on} sounds them, at {off} ends it"), format!("{switch} to {off}"))
        }
        StartedBy::Command => ("by this computer".to_owned(), "any key".to_owned()),
        StartedBy::Change { .. } => ("by nobody".to_owned(), "Ctrl-C".to_owned()),
        StartedBy::WorkedSwitch => ("by your switch".to_owned(), "any key".to_owned()),
    };
    rest.push(by);
    // What to see in it was said at first.
    let look_at = step.look_at.split(':').next().unwrap_or_default();
    let look_at = format!("look at {}", gate::line(look_at.trim_end_matches('.')));
    let plug = if step.on_usb { "the USB cable and the plug" } else { "the plug" };
    let rest = rest.join(", ");
    (changed, format!("{rest}; {look_at}; to stop: {stops}; emergency stop: {plug}; {HANDS_CLEAR}"))
}

fn motors(motors: &Motors) -> String {
    match motors {
        Motors::All => "all motors".to_owned(),
        Motors::None => "none is meant to turn".to_owned(),
        Motors::One(corner, _) => format!("only {}", gate::line(corner)),
    }
}
