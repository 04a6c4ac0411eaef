//! What a start shows of each motor: turns, hesitates, still, or no signal.
//!
//! The figures come from `measure::turning`; here they meet the corners.

use crate::bench::procedures::start::StartHeard;
use crate::interlock::craft::Facts;
use crate::language::units::Pulse;
use crate::measure::turning::{self, Fault, Judged, MotorDwell, Verdict};
use crate::seam::ui::{MotorSeen, StartSeen};

/// Judges every motor of a start.
#[must_use]
pub fn judge(heard: &StartHeard, facts: &Facts, pulse: Pulse, start: u32) -> StartSeen {
    let fastest =
        facts.kv.zip(heard.volts).map(|(kv, volts)| turning::fastest(f64::from(kv), volts, f64::from(pulse.0)));
    let samples: Vec<Vec<f64>> = (0..facts.corners.len())
        .map(|index| heard.speeds.iter().filter_map(|s| s.value.get(index).copied().flatten()).collect())
        .collect();
    let dwells: Vec<MotorDwell<'_>> = samples.iter().map(|rpm| MotorDwell { rpm, fastest }).collect();
    let judged = turning::judge(&dwells);
    let motors = facts.corners.iter().zip(&judged).map(|(corner, motor)| seen(corner, motor)).collect();
    StartSeen { pulse, start, motors }
}

fn seen(corner: &str, motor: &Judged) -> MotorSeen {
    MotorSeen {
        corner: corner.to_owned(),
        rpm: motor.figures.map(|figures| figures.median_rpm),
        unevenness: motor.figures.map(|figures| figures.variation),
        judged: words(motor),
        turns: motor.verdict == Verdict::Turns,
    }
}

fn words(motor: &Judged) -> String {
    let verdict = match motor.verdict {
        Verdict::Turns => return "turns".to_owned(),
        Verdict::Still => return "still".to_owned(),
        Verdict::NoSignal => return "no signal".to_owned(),
        Verdict::Hesitates => "hesitates",
    };
    let why = motor.faults.first().map(|fault| match fault {
        Fault::Fell(share) => format!(", fell to {:.0} % of its speed", share * 100.0),
        Fault::Uneven(variation) => format!(", uneven by {:.0} %", variation * 100.0),
        Fault::TooFast { rpm, most } => format!(", {rpm:.0} rpm read, {most:.0} at most possible"),
        Fault::UnlikeFellows { rpm, fellows } => format!(", {rpm:.0} rpm while the others turn at {fellows:.0}"),
    });
    format!("{verdict}{}", why.unwrap_or_default())
}
