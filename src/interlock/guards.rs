//! Entry guards: what must hold, each by the age of its own signal, before a motor may turn, the
//! battery goes in, or anything is written.
//!
//! Pure judgements over signals. Must not be here: waiting, asking, stopping.

use super::craft::Facts;
use super::signals::{Channels, POWER_AGE, STREAM_AGE, Sample, Signals, at_rest};
use crate::board::binding::BoundNow;
use crate::board::console::Capability;
use crate::board::signals::Stream;
use crate::language::units::{Angle, Pulse, Voltage};
use crate::measure::level::{self, AttitudeSample};
use crate::measure::time::Time;
use crate::seam::fault::Fault;
use std::time::Duration;

/// While anything turns, a flag older than this is enough only beside outputs no older than [`OUTPUTS_BESIDE`].
pub(super) const FLAG_ALONE: Duration = Duration::from_millis(750);
const OUTPUTS_BESIDE: Duration = Duration::from_millis(250);
/// Rates that the guards need, in hertz: parts of the fastest, so that a board sends what is due in one turn.
pub const RATES: &[(Stream, u32)] = &[
    (Stream::Alive, 10),
    (Stream::Channels, 50),
    (Stream::Outputs, 50),
    (Stream::Attitude, 25),
    (Stream::Power, 10),
    (Stream::Speeds, 25),
];

/// Refuses by name what the board's sheet gives no line for: waiting for it, or checking the link, would not help.
///
/// # Errors
/// The sheet lacks it.
pub fn given(signals: &Signals, need: Capability) -> Result<(), Fault> {
    if !signals.lacks.needs.contains(&need) {
        return Ok(());
    }
    Err(Fault::refused(
        format!("This board's sheet {} gives no {}.", signals.lacks.sheet, need.words()),
        format!(
            "Without it nothing that needs it is done; a sheet with [{}.{}] gives it.",
            signals.lacks.link,
            need.key()
        ),
    ))
}

/// The armed flag, fresh and off.
///
/// # Errors
/// No fresh flag, or armed.
pub fn disarmed(signals: &Signals, now: Time) -> Result<(), Fault> {
    match signals.flag(now) {
        Some(false) => Ok(()),
        Some(true) => Err(Fault::refused("The board is armed.", "Put the arm switch to position 0.")),
        None => Err(Fault::refused(
            "The board has not said of late whether it is armed.",
            "Take it as armed: hands clear. Check the cable.",
        )),
    }
}

/// Outputs fresh and at rest.
///
/// # Errors
/// No fresh outputs, or one of them raised.
pub fn outputs_at_rest(signals: &Signals, now: Time) -> Result<(), Fault> {
    given(signals, Capability::Outputs)?;
    if at_rest(&fresh_outputs(signals, now)?) {
        return Ok(());
    }
    Err(Fault::refused("A motor output is raised.", "Disarm, and wait until the motors are still."))
}

fn fresh_outputs(signals: &Signals, now: Time) -> Result<[u16; 8], Fault> {
    signals.outputs.fresh(now, STREAM_AGE).ok_or_else(|| {
        Fault::refused("The motor outputs are not heard.", "Check the link; nothing is done without them.")
    })
}

fn fresh_channels(signals: &Signals, now: Time) -> Result<Channels, Fault> {
    signals
        .channels
        .fresh(now, STREAM_AGE)
        .ok_or_else(|| Fault::refused("The receiver channels are not heard.", "Check the link to the board."))
}

/// The armed flag as it is enough while anything turns: where it comes rarely, only beside outputs that are young.
#[must_use]
pub fn flag_while_turning(signals: &Signals, now: Time) -> Option<bool> {
    let young = signals.armed.fresh(now, FLAG_ALONE).is_some() || signals.outputs.fresh(now, OUTPUTS_BESIDE).is_some();
    signals.flag(now).filter(|_| young)
}

/// What is seen to move or to be armed, if anything is.
#[must_use]
pub fn moves(signals: &Signals, now: Time) -> Option<&'static str> {
    if signals.flag(now) == Some(true) {
        return Some("it is armed");
    }
    (signals.last_at_rest() == Some(false)).then_some("an output is raised")
}

/// Outputs and channels fresh.
///
/// # Errors
/// One of them is not.
pub fn fresh(signals: &Signals, now: Time) -> Result<(), Fault> {
    given(signals, Capability::Outputs)?;
    given(signals, Capability::Channels)?;
    fresh_outputs(signals, now)?;
    fresh_channels(signals, now).map(drop)
}

/// As many outputs driven as the craft has motors.
///
/// # Errors
/// Another number of outputs, or none heard.
pub fn driven_outputs(signals: &Signals, facts: &Facts, now: Time) -> Result<(), Fault> {
    let Some(outputs) = signals.outputs.fresh(now, STREAM_AGE) else { return outputs_at_rest(signals, now) };
    let driven = outputs.iter().filter(|pulse| **pulse != 0 && **pulse != u16::MAX).count();
    if driven == facts.corners.len() {
        return Ok(());
    }
    Err(Fault::refused(
        format!("The board drives {driven} outputs, and this craft has {} motors.", facts.corners.len()),
        "Check that the board is set up for this frame.",
    ))
}

/// The receiver heard and the throttle channel low.
///
/// # Errors
/// No fresh channels, no receiver signal, unknown throttle channel, throttle up.
pub fn throttle_low(signals: &Signals, facts: &Facts, now: Time) -> Result<Pulse, Fault> {
    let channel = facts.throttle_channel.ok_or_else(|| {
        Fault::refused("It is not known which channel is the throttle.", "Say `channels …` in the recipe.")
    })?;
    let pulse = channel_pulse(signals, channel, now)?;
    if pulse < facts.throttle_below {
        return Ok(pulse);
    }
    Err(Fault::refused(
        format!("The throttle is up: channel {channel} is at {pulse}."),
        "Pull the throttle stick down.",
    ))
}

/// A fresh pulse of a channel with the receiver heard.
///
/// # Errors
/// No fresh channels, no receiver signal, or the channel unused.
pub fn channel_pulse(signals: &Signals, channel: u32, now: Time) -> Result<Pulse, Fault> {
    given(signals, Capability::Channels)?;
    let channels = fresh_channels(signals, now)?;
    if channels.count == 0 {
        return Err(Fault::refused("The receiver hears no radio.", "Switch the radio on and wait for its link."));
    }
    channels.of(channel).ok_or_else(|| {
        Fault::refused(format!("Channel {channel} carries nothing."), "Check the radio's channel setup and the card.")
    })
}

/// The arm switch's channel outside every band that arms.
///
/// # Errors
/// Inside, or not heard.
pub fn arm_switch_off(signals: &Signals, facts: &Facts, now: Time) -> Result<(), Fault> {
    outside(signals, &facts.arm_bands, "arm switch", now)
}

/// The buzzer's switch outside every band in which the motors sound; whatever it does where they do not.
///
/// # Errors
/// Inside, or not heard.
pub fn motors_silent(signals: &Signals, facts: &Facts, now: Time) -> Result<(), Fault> {
    outside(signals, &facts.sounding_bands, "buzzer's switch, which has the motors sound,", now)
}

fn outside(signals: &Signals, bands: &[BoundNow], switch: &str, now: Time) -> Result<(), Fault> {
    for band in bands {
        let BoundNow { channel, from, to } = *band;
        let Some(channels) = signals.channels.fresh(now, STREAM_AGE) else {
            return channel_pulse(signals, channel, now).map(|_| ());
        };
        // Without its radio a switch stands where it was last heard, for all that anybody knows.
        if channels.count == 0 && signals.last_heard.is_some_and(|heard| heard.inside(band).is_some()) {
            return Err(Fault::refused(
                format!("The radio is off, and the {switch} was on when it was last heard."),
                format!("Put the {switch} to position 0, then switch the radio on."),
            ));
        }
        // A channel that carries nothing turns nothing on.
        if let Some(pulse) = channels.inside(band) {
            return Err(Fault::refused(
                format!("The {switch} is on: channel {channel} is at {pulse}, inside {} to {}.", from.0, to.0),
                format!("Put the {switch} to position 0."),
            ));
        }
    }
    Ok(())
}

/// Roll and pitch within `most` of zero, as the median of the last half second.
///
/// # Errors
/// Not heard, or further from level; the message names the side that is low.
pub fn level(signals: &Signals, most: Angle, now: Time) -> Result<(f64, f64), Fault> {
    given(signals, Capability::Attitude)?;
    let (roll, pitch) = attitude(signals, now)
        .ok_or_else(|| Fault::refused("The attitude is not heard.", "Check the link; a search needs it."))?;
    let bound = f64::from(most.0) / 1000.0;
    if roll.abs() <= bound && pitch.abs() <= bound {
        return Ok((roll, pitch));
    }
    Err(Fault::refused(
        format!("The craft is not level: roll {roll:.1} deg, pitch {pitch:.1} deg; {most} allowed."),
        raise(roll, pitch),
    ))
}

/// Which side to raise, from roll (right down positive) and pitch (nose up positive) in degrees.
#[must_use]
pub fn raise(roll: f64, pitch: f64) -> String {
    let side = if roll > 0.0 { "right" } else { "left" };
    let end = if pitch > 0.0 { "tail" } else { "nose" };
    match (roll.abs() > 0.5, pitch.abs() > 0.5) {
        (true, true) if roll.abs() > 2.0 * pitch.abs() => format!("Raise the {side} side."),
        (true, true) if pitch.abs() > 2.0 * roll.abs() => format!("Raise the {end}."),
        (true, true) => format!("Raise the {side} side and the {end}."),
        (false, true) => format!("Raise the {end}."),
        _ => format!("Raise the {side} side."),
    }
}

/// Median roll and pitch in degrees of late, if heard often enough.
#[must_use]
pub fn attitude(signals: &Signals, now: Time) -> Option<(f64, f64)> {
    signals.attitude.fresh(now, STREAM_AGE)?;
    let sample = |sample: Sample<(f64, f64)>| AttitudeSample {
        at: sample.at,
        roll: sample.value.0.to_radians(),
        pitch: sample.value.1.to_radians(),
    };
    let samples: Vec<AttitudeSample> = signals.attitude.since(now - level::WINDOW).map(sample).collect();
    let level = level::level(&samples, now).ok()?;
    Some((level.roll.to_degrees(), level.pitch.to_degrees()))
}

/// How far two angles are apart, degrees, the short way round.
#[must_use]
pub fn apart(one: f64, other: f64) -> f64 {
    let apart = (one - other).rem_euclid(360.0);
    apart.min(360.0 - apart)
}

/// A cell of any lithium pack that is told lower, in volts, is miscounted or spoilt; *common practice*.
const LEAST_OF_A_CELL: f64 = 2.9;
/// No cell is charged higher: high-voltage lithium polymer to 4.35 V (*common practice*), and a sensor may be off a little.
const MOST_OF_A_CELL: f64 = 4.5;

/// Pack voltage for each cell at least this.
///
/// # Errors
/// Not measured, or lower.
pub fn battery_at_least(signals: &Signals, per_cell: Voltage, cells: u32, now: Time) -> Result<f64, Fault> {
    given(signals, Capability::Power)?;
    let Some(mv) = signals.power.fresh(now, POWER_AGE).and_then(|p| p.millivolts) else {
        return Err(Fault::refused("The pack voltage is not heard.", "Check the board's voltage sensor."));
    };
    let each = f64::from(mv) / f64::from(cells.max(1)) / 1000.0;
    if each > MOST_OF_A_CELL {
        let cells = if cells > 1 { format!("{cells} cells have") } else { "1 cell has".to_owned() };
        let what = format!("The pack is at {:.2} V, more than {cells} when full.", f64::from(mv) / 1000.0);
        return Err(Fault::refused(
            what,
            "Count the cells of this pack; calibrate the battery if the number is right.",
        ));
    }
    if each * 1000.0 >= f64::from(per_cell.0) {
        return Ok(each);
    }
    // Rounded down: a pack just under the limit must not be shown at it.
    let each = (each * 100.0).floor() / 100.0;
    let what = format!("The pack is at {each:.2} V per cell, {per_cell} per cell is asked for.");
    if each < LEAST_OF_A_CELL {
        let volts = f64::from(mv) / 1000.0;
        let hint = format!(
            "{volts:.2} V are too few for {cells} cells: count the cells of this pack; one that truly fell so low is not \
             charged any more."
        );
        return Err(Fault::refused(what, hint));
    }
    Err(Fault::refused(what, "Charge the battery, or take a full one."))
}

/// The flag, attitude, and pack and current where the sheet bounds it: what is watched while anything turns.
///
/// # Errors
/// Not heard.
pub fn watchable(signals: &Signals, facts: &Facts, now: Time) -> Result<(), Fault> {
    given(signals, Capability::Stop)?;
    given(signals, Capability::Attitude)?;
    if facts.most_current.is_some() {
        given(signals, Capability::Power)?;
    }
    if flag_while_turning(signals, now).is_none() {
        return Err(Fault::refused(
            "The armed flag is too old for motors to turn.",
            "Check the link; nothing turns without it.",
        ));
    }
    if attitude(signals, now).is_none() {
        return Err(Fault::refused("The attitude is not heard.", "Check the link; nothing turns without it."));
    }
    if facts.most_current.is_some() && signals.power.fresh(now, POWER_AGE).is_none() {
        return Err(Fault::refused("Pack and current are not heard.", "Check the link; nothing turns without them."));
    }
    Ok(())
}

/// Nobody else is on this wire.
///
/// # Errors
/// Another station or vehicle was heard.
pub fn alone(signals: &Signals) -> Result<(), Fault> {
    match signals.stranger {
        Some((system, _, false)) => Err(Fault::refused(
            format!("Another vehicle (system {system}) is on this link."),
            "Take it off the link: motors turn on a link of their own.",
        )),
        _ => sure_of_one(signals),
    }
}

/// Whether vehicles of several numbers answer, and nobody said which one is meant.
fn several(signals: &Signals) -> bool {
    let mut systems = signals.rivals.iter().map(|(system, _)| *system);
    systems.next().is_some_and(|first| systems.any(|system| system != first))
}

/// Nobody else gives commands on this wire, and it is sure which of those on it is meant: a vehicle of another number
/// hears nothing of what is sent to this one.
///
/// # Errors
/// Another station that commands, or two that could be meant.
pub fn sure_of_one(signals: &Signals) -> Result<(), Fault> {
    match signals.stranger {
        Some((system, component, true)) => Err(Fault::refused(
            format!("Another station (system {system}, component {component}) gives commands on this link."),
            "Close the other program or take its link away, then start again.",
        )),
        // Two of one system are no strangers to each other.
        _ if signals.two_speak => Err(Fault::refused(
            "Two boards speak with one id on this link.",
            "Take one off the link, then start again.",
        )),
        Some((system, ..)) if several(signals) => Err(Fault::refused(
            format!("Another vehicle (system {system}) is on this link."),
            "Take it off the link, or name yours with --system-id.",
        )),
        _ if !signals.rivals.is_empty() => Err(Fault::refused(
            "Two boards answer on this link with one system number.",
            "Take one off the link, or give each its own number.",
        )),
        _ => Ok(()),
    }
}
