//! The watch: judges at every status and every tick whether what is seen may go on.
//!
//! A pure judgement over signals, facts and mode; the session carries out the stop. It never waits
//! and never writes to a terminal. Must not be here: how a stop is sent (see `stop`).

use crate::interlock::craft::Facts;
use crate::interlock::guards::{self, ARMED_AGE, POWER_AGE, STREAM_AGE};
use crate::interlock::signals::{Channels, Live, Pack, REST_MOST, at_rest};
use crate::interlock::state::{Mode, Turning};
use crate::language::ceilings;
use crate::measure::time::Time;
use crate::seam::ui::{Motors, StartedBy};
use std::time::Duration;

/// How far above the step's pulse an output may go before it is a stop.
const OVER_STEP: i32 = 30;
/// How far the craft may move while anything turns, degrees.
const MOVED: f64 = 5.0;
/// A motor that nobody asked for turns from this speed on, rpm.
const TURNS: f64 = 300.0;
/// How long outputs and flag may disagree, as one is heard before the other.
const LAG: Duration = Duration::from_millis(300);

/// Judges the moment; `Err` is the reason of a stop.
///
/// # Errors
/// The reason, as a sentence.
pub fn judge(live: &Live, facts: Option<&Facts>, mode: &mut Mode, attested_out: bool, now: Time) -> Result<(), String> {
    match mode {
        Mode::Looking | Mode::Stopping(_) | Mode::Latched => Ok(()),
        Mode::Still => still(live, attested_out, now),
        Mode::SwitchesWorked => worked(live, attested_out, now),
        Mode::Turning(turning) => self::turning(live, facts, turning, battery_out(live, attested_out, now), now),
    }
}

/// Seen not armed and with every output at rest, at this moment.
#[must_use]
pub fn at_rest_now(live: &Live, now: Time) -> bool {
    live.armed.fresh(now, ARMED_AGE) == Some(false)
        && live.outputs.fresh(now, STREAM_AGE).is_some_and(|outputs| at_rest(&outputs))
}

fn battery_out(live: &Live, attested_out: bool, now: Time) -> bool {
    match live.pack(now) {
        Pack::Out => true,
        Pack::In => false,
        Pack::Unknown => attested_out,
    }
}

fn still(live: &Live, attested_out: bool, now: Time) -> Result<(), String> {
    if battery_out(live, attested_out, now) {
        return Ok(());
    }
    unexpected(live, now)
}

fn worked(live: &Live, attested_out: bool, now: Time) -> Result<(), String> {
    if battery_out(live, attested_out, now) {
        return Ok(());
    }
    if live.pack(now) == Pack::In {
        return Err("the battery went in while it was to stay out".to_owned());
    }
    unexpected(live, now)
}

/// An arming, a raised output or a speed that nobody asked for.
fn unexpected(live: &Live, now: Time) -> Result<(), String> {
    if live.armed.fresh(now, ARMED_AGE) == Some(true) {
        return Err("the board armed without being asked to".to_owned());
    }
    if live.outputs.fresh(now, STREAM_AGE).is_some_and(|outputs| !at_rest(&outputs)) {
        return Err("a motor output rose without being asked to".to_owned());
    }
    if live.speeds.fresh(now, STREAM_AGE).is_some_and(|all| all.iter().flatten().any(|rpm| *rpm > TURNS)) {
        return Err("a motor turns without being asked to".to_owned());
    }
    Ok(())
}

fn turning(live: &Live, facts: Option<&Facts>, turning: &mut Turning, out: bool, now: Time) -> Result<(), String> {
    let facts = facts.ok_or_else(|| "nothing is known of the craft".to_owned())?;
    let armed = live.armed.fresh(now, ARMED_AGE).ok_or_else(|| "the armed flag is not heard any more".to_owned())?;
    let channels = radio(live, turning, now)?;
    let outputs =
        live.outputs.fresh(now, STREAM_AGE).ok_or_else(|| "the motor outputs are not heard any more".to_owned())?;
    guards::alone(live).map_err(|fault| fault.to_string())?;
    if let Some(channels) = &channels {
        throttle(facts, turning, channels, armed)?;
    }
    arming(live, facts, turning, channels.as_ref(), armed, now)?;
    if turning.step.motors == Motors::None {
        // Proved with the battery out: commanded outputs move nothing, but the battery must stay out.
        return if out { Ok(()) } else { Err("the battery went in where it was to stay out".to_owned()) };
    }
    if out {
        return Err("the battery went out".to_owned());
    }
    raised(facts, turning, &outputs, armed, now)?;
    moved(live, turning, now)?;
    current(live, facts, now)
}

/// The channels as the radio gives them; `None`: it is off, as it was confirmed.
fn radio(live: &Live, turning: &Turning, now: Time) -> Result<Option<Channels>, String> {
    let may_go = turning.radio_may_go();
    let told = live.power.fresh(now, POWER_AGE).and_then(|power| power.receiver) == Some(false);
    match live.channels.fresh(now, STREAM_AGE) {
        // What a board goes on giving after it knew of the loss is nobody's hand at the sticks.
        _ if may_go && told => Ok(None),
        Some(channels) if channels.count > 0 => Ok(Some(channels)),
        _ if may_go => Ok(None),
        Some(_) => Err("the receiver lost the radio".to_owned()),
        None => Err("the receiver channels are not heard any more".to_owned()),
    }
}

fn throttle(facts: &Facts, turning: &Turning, channels: &Channels, armed: bool) -> Result<(), String> {
    if turning.breaks.throttle && !armed {
        return Ok(());
    }
    let pulse = facts.throttle_channel.and_then(|channel| channels.of(channel));
    match pulse {
        Some(pulse) if pulse < facts.throttle_below => Ok(()),
        Some(pulse) => Err(format!("the throttle was raised to {pulse}")),
        None => Err("the throttle channel is not heard any more".to_owned()),
    }
}

fn arming(
    live: &Live,
    facts: &Facts,
    turning: &mut Turning,
    channels: Option<&Channels>,
    armed: bool,
    now: Time,
) -> Result<(), String> {
    let by_switch = matches!(turning.step.by, StartedBy::Switch { .. });
    if !armed {
        if turning.armed_at.is_some() && turning.disarmed_at.is_none() {
            turning.disarmed_at = Some(now);
        }
        return Ok(());
    }
    if !by_switch {
        return Err("the board armed while one motor was run by command".to_owned());
    }
    if turning.disarmed_at.is_some() {
        if !turning.breaks.arms_again {
            return Err("the board armed a second time".to_owned());
        }
        turning.armed_at = None;
        turning.disarmed_at = None;
    }
    let since = *turning.armed_at.get_or_insert(now);
    if since == now && now > turning.invited_until {
        return Err("the board armed after the invitation had ended".to_owned());
    }
    // With the battery out nothing turns, and the hand may take its time from position to position.
    if turning.step.motors != Motors::None && now.since(since) > turning.step.bound() {
        return Err(format!("the motors were to turn for {} s at most", turning.step.bound().as_secs_f64()));
    }
    let Some(channels) = channels else { return Ok(()) };
    let bound = facts.arm_bands.iter().any(|(c, from, to)| channels.of(*c).is_some_and(|p| p >= *from && p < *to));
    let switched_off_for = live.channels.last().map_or(Duration::ZERO, |s| now.since(s.at));
    if !bound && now.since(since) > LAG && switched_off_for < LAG && left_band_long_ago(live, facts, now) {
        return Err("the board is armed although its switch is off".to_owned());
    }
    Ok(())
}

/// Whether the arm channel has been outside its bands for longer than flag and channels may disagree.
fn left_band_long_ago(live: &Live, facts: &Facts, now: Time) -> bool {
    live.channels
        .since(now - ARMED_AGE)
        .all(|s| !facts.arm_bands.iter().any(|(c, from, to)| s.value.of(*c).is_some_and(|p| p >= *from && p < *to)))
}

fn raised(facts: &Facts, turning: &Turning, outputs: &[u16; 8], armed: bool, now: Time) -> Result<(), String> {
    let allowed = (turning.step.pulse.0 + OVER_STEP).min(ceilings::PULSE.0);
    for (index, pulse) in outputs.iter().enumerate().filter(|(_, pulse)| **pulse > REST_MOST && **pulse != u16::MAX) {
        let corner = facts.corners.get(index).map_or("an unknown", String::as_str);
        if !turning.may_turn(index) {
            return Err(format!("the {corner} motor is driven, and was not asked for"));
        }
        if i32::from(*pulse) > allowed {
            return Err(format!("the {corner} motor is driven at {pulse} us, more than the {allowed} us allowed"));
        }
    }
    let any = !at_rest(outputs);
    let expected = match turning.step.by {
        StartedBy::Switch { .. } => {
            armed
                || turning.disarmed_at.is_some_and(|at| now.since(at) <= LAG)
                || (turning.armed_at.is_none() && now <= turning.invited_until)
        }
        StartedBy::Change { .. } => false,
        StartedBy::Command => turning.commanded_until.is_some_and(|until| now <= until + LAG),
    };
    if any && !expected {
        return Err("the motors are driven although nothing asks for it any more".to_owned());
    }
    Ok(())
}

fn moved(live: &Live, turning: &Turning, now: Time) -> Result<(), String> {
    let Some((roll, pitch)) = turning.attitude else { return Ok(()) };
    let Some((r, p)) = live.attitude.fresh(now, STREAM_AGE) else {
        return Err("the attitude is not heard any more".to_owned());
    };
    if (r - roll).abs() > MOVED || (p - pitch).abs() > MOVED {
        return Err(format!("the craft moved by more than {MOVED} deg"));
    }
    Ok(())
}

fn current(live: &Live, facts: &Facts, now: Time) -> Result<(), String> {
    let Some(most) = facts.most_current else { return Ok(()) };
    let power = live.power.fresh(now, POWER_AGE).ok_or_else(|| "pack and current are not heard any more".to_owned())?;
    match power.centiamps {
        Some(ca) if i32::from(ca) * 10 > most.0 => Err(format!(
            "the motors draw {:.1} A, more than the {most} that the sheet allows without propellers",
            f64::from(ca) / 100.0
        )),
        _ => Ok(()),
    }
}
