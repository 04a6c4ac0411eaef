//! What the motor outputs say by themselves: too much, or that a flag lies.
//!
//! Must not be here: what a step lets them do (see `watch`).

use super::signals::{Sample, Signals, at_rest};
use crate::measure::time::Time;
use std::time::Duration;

/// So much longer than a flag may be late: outputs themselves may be as late as any signal that is believed, which no
/// clock shows where the delay is the same all along.
const BELIED: Duration = Duration::from_millis(2350);

/// No output goes above a pulse, us.
///
/// # Errors
/// One does.
pub(super) fn at_most(outputs: &[u16; 8], most: i32) -> Result<(), String> {
    match outputs.iter().filter(|pulse| **pulse != u16::MAX).max() {
        Some(highest) if i32::from(*highest) > most => {
            Err(format!("a motor output is at {highest} us, above {most} us"))
        }
        _ => Ok(()),
    }
}

/// Outputs that stay up for longer than a flag may be late give the lie to one that says meanwhile, and still, not armed.
///
/// # Errors
/// They do.
pub(super) fn belie_no_flag(signals: &Signals, now: Time) -> Result<(), String> {
    let (late, outputs) = (signals.flag_limit(), &signals.outputs);
    let up = |outputs: Sample<[u16; 8]>| !at_rest(&outputs.value);
    // The past is not looked through for what the present does not do.
    if !outputs.last().is_some_and(up) {
        return Ok(());
    }
    let since = now - (late + BELIED);
    let said = signals.armed.last().is_some_and(|flag| flag.at > since + late)
        && !signals.armed.since(since).any(|flag| flag.value);
    if said && outputs.by(since).is_some_and(up) && outputs.since(since).all(up) {
        return Err("the outputs are driven, and the board says that it is not armed: its flag lies".to_owned());
    }
    Ok(())
}
