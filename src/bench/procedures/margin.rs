//! What the margin of an idle is enough for, and what speaks against that in the starts of its search.
//!
//! Promises: more than was proved is not claimed of it; where a motor's starts were seen to differ by more, that is said
//! with the figures. Must not be here: how large it is, which is the recipe's.

use crate::bench::procedures::told_turning::NOT_TOLD;
use crate::bench::session::context::SessionContext;
use crate::language::units::Pulse;
use crate::measure::reliability;
use crate::measure::stabiliser::AT_IDLE;
use crate::seam::ui::{IdleFound, StartSeen, Tone};

/// Margins are told in steps of this, µs.
const ROUND: i32 = 5;

impl SessionContext {
    /// Says what the margin of an idle that was found is enough for.
    pub(in crate::bench) fn margin(&self, found: &IdleFound) {
        let Some(lowest) = found.lowest else { return };
        // What starts prove they prove where the motors were driven; where no output tells, as far up as they may be.
        let proved = found.driven.map_or(f64::from(lowest.0) + AT_IDLE, |driven| f64::from(driven.max(lowest).0));
        let over = f64::from(found.kept.0) - proved;
        let covers = |over: f64| reliability::covers(over, found.proved_starts, found.among);
        let enough = covers(over);
        let enough_for = if enough < 1.0 {
            "That is no more than what was proved: enough where no start needs more than those did.".to_owned()
        } else {
            format!("That is enough where a motor's starts differ by {enough} us either way.")
        };
        self.line(Tone::Plain, enough_for);
        let Some(differs) = widest(&found.starts).filter(|differs| f64::from(differs.by()) >= enough.max(1.0)) else {
            return;
        };
        let by = differs.by();
        let larger = (1..=100).map(|steps| steps * ROUND).find(|over| covers(f64::from(*over)) >= f64::from(by));
        let larger = larger.map_or_else(String::new, |margin| format!("search with `then add {margin}`, or "));
        let Differs { corner, turned, not, judged } = differs;
        self.line(
            Tone::Warning,
            format!(
                "The {corner} motor turned at {turned}, and at {not} in another start it did not as it should: {judged}. If \
                 that is the motor and no false reading, its starts differ by {by} us or more, and the margin may be too \
                 small: {larger}prove what is kept with `test idle in 20 starts`."
            ),
        );
    }
}

/// A motor that turned at one pulse, and in another start at as much or more did not.
struct Differs<'s> {
    corner: &'s str,
    turned: Pulse,
    not: Pulse,
    judged: &'s str,
}

impl Differs<'_> {
    fn by(&self) -> i32 {
        self.not.0 - self.turned.0
    }
}

/// The motor whose starts were seen to differ most.
fn widest(starts: &[StartSeen]) -> Option<Differs<'_>> {
    let seen = |turns: bool| {
        starts.iter().flat_map(move |start| {
            let told = start.motors.iter().filter(move |motor| motor.turns == turns && motor.judged != NOT_TOLD);
            told.map(|motor| (start.pulse, motor))
        })
    };
    let differs = seen(false).flat_map(|(not, motor)| {
        let turned = seen(true).filter(move |(turned, other)| other.corner == motor.corner && *turned <= not);
        turned.map(move |(turned, _)| Differs { corner: &motor.corner, turned, not, judged: &motor.judged })
    });
    differs.max_by_key(Differs::by)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::seam::ui::MotorSeen;

    fn start(pulse: i32, motors: &[(&str, bool, &str)]) -> StartSeen {
        let motor = |(corner, turns, judged): &(&str, bool, &str)| MotorSeen {
            corner: (*corner).to_owned(),
            rpm: None,
            unevenness: None,
            judged: (*judged).to_owned(),
            turns: *turns,
            at_once: *turns,
            trace: Vec::new(),
        };
        StartSeen { pulse: Pulse(pulse), start: 1, driven: None, motors: motors.iter().map(motor).collect() }
    }

    #[test]
    fn a_motor_differs_by_its_own_starts_alone() {
        let (well, still) = ("turns", "still");
        let seen = [
            start(1060, &[("left", true, well), ("right", true, well)]),
            // Of the right one nothing was said.
            start(1090, &[("left", false, still), ("right", false, NOT_TOLD)]),
            start(1075, &[("left", false, still), ("right", true, well)]),
            start(1100, &[("left", true, well), ("right", true, well)]),
        ];
        let found = widest(&seen).unwrap();
        assert_eq!((found.corner, found.turned, found.not, found.by()), ("left", Pulse(1060), Pulse(1090), 30));
        assert!(widest(&seen[1..2]).is_none() && widest(&seen[2..]).is_none(), "it never turned at less");
    }
}
