//! What a start shows of each motor: turns, hesitates, still, or no signal.
//!
//! The figures come from `measure::turning`; here they meet the corners.

use crate::bench::procedures::start::StartHeard;
use crate::interlock::craft::Facts;
use crate::language::units::Pulse;
use crate::measure::catching::{self, Caught};
use crate::measure::rounding;
use crate::measure::time::Time;
use crate::measure::turning::{self, Judged, MotorDwell, MotorVerdict, TurningFault};
use crate::seam::ui::{MotorSeen, StartSeen};
use std::time::Duration;

/// Outputs that are less than this below the idle are told in steps, and are at it; chosen.
const STEP_TOLD: i32 = 20;

/// Judges every motor of a start.
#[must_use]
pub fn judge(heard: &StartHeard, facts: &Facts, pulse: Pulse, start: u32) -> StartSeen {
    let fastest =
        facts.kv.zip(heard.volts).map(|(kv, volts)| turning::fastest(f64::from(kv), volts, f64::from(pulse.0)));
    let timed: Vec<Vec<(Time, f64)>> = (0..facts.corners.len())
        .map(|index| {
            heard.speeds.iter().filter_map(|(at, all)| Some((*at, all.get(index).copied().flatten()?))).collect()
        })
        .collect();
    let (from, _) = heard.dwell;
    let samples: Vec<Vec<f64>> =
        timed.iter().map(|all| all.iter().filter(|(at, _)| *at > from).map(|(_, rpm)| *rpm).collect()).collect();
    let every = heard.speeds_every().unwrap_or(Duration::MAX);
    let dwells: Vec<MotorDwell<'_>> = samples.iter().map(|rpm| MotorDwell { rpm, every, fastest }).collect();
    let judged = turning::judge(&dwells);
    let caught = catching::caught(heard.left, &timed, Duration::ZERO);
    let motors = facts.corners.iter().zip(judged.iter().zip(caught)).zip(samples.iter());
    let motors = motors.map(|((corner, (motor, caught)), trace)| seen(corner, motor, caught, trace)).collect();
    StartSeen { pulse, start, driven: heard.driven, motors }
}

/// The pulse at which starts prove something: the highest that a motor was driven at in any of them.
#[must_use]
pub fn driven<'s>(starts: impl Iterator<Item = &'s StartSeen>) -> Option<Pulse> {
    starts.map(|start| start.driven).try_fold(Pulse(0), |highest, driven| Some(highest.max(driven?)))
}

/// Whether the board drove a motor at the idle, as far as its outputs tell.
#[must_use]
pub fn drives_it(seen: &StartSeen) -> bool {
    seen.driven.is_none_or(|driven| driven.0 + STEP_TOLD >= seen.pulse.0)
}

/// Where what starts at a pulse prove is proved, for the end of a sentence; nothing where that is the pulse itself.
#[must_use]
pub fn proved_there(pulse: Pulse, driven: Option<Pulse>) -> String {
    match driven {
        Some(driven) if driven <= pulse => String::new(),
        Some(driven) => format!(" at {driven}, up to which the stabiliser drove a motor"),
        None => " with what the stabiliser added, which no output tells".to_owned(),
    }
}

fn seen(corner: &str, motor: &Judged, caught: Caught, trace: &[f64]) -> MotorSeen {
    let turns = motor.verdict == MotorVerdict::Turns;
    MotorSeen {
        corner: corner.to_owned(),
        rpm: motor.figures.map(|figures| figures.median_rpm),
        unevenness: motor.figures.map(|figures| figures.variation),
        judged: match caught {
            Caught::Late(after) if turns => {
                format!("caught late, {} ms or more after its output left rest", after.as_millis())
            }
            _ => words(motor),
        },
        turns: turns && !matches!(caught, Caught::Late(_)),
        at_once: caught == Caught::AtOnce,
        trace: trace.to_vec(),
    }
}

fn words(motor: &Judged) -> String {
    let verdict = match motor.verdict {
        MotorVerdict::Turns => return "turns".to_owned(),
        MotorVerdict::Still => return "still".to_owned(),
        MotorVerdict::NoSignal => return "no signal".to_owned(),
        MotorVerdict::Hesitates => "hesitates",
    };
    let why = motor.faults.first().map(|fault| match fault {
        TurningFault::Reversed => ", turned one way and the other".to_owned(),
        TurningFault::Frozen(rpm) => format!(", its reading stood at {rpm:.0} rpm and measures nothing"),
        TurningFault::False(share) => format!(", {:.0} % of its readings are false", rounding::down(share * 100.0, 0)),
        TurningFault::Fell(share) => format!(", fell to {:.0} % of its speed", rounding::down(share * 100.0, 0)),
        TurningFault::Uneven(variation) => format!(", uneven by {:.0} %", rounding::up(variation * 100.0, 0)),
        TurningFault::TooFast { rpm, most } => format!(", {rpm:.0} rpm read, {most:.0} at most possible"),
        TurningFault::UnlikeFellows { rpm, fellows } => format!(", {rpm:.0} rpm while the others turn at {fellows:.0}"),
    });
    format!("{verdict}{}", why.unwrap_or_default())
}
