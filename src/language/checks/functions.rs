//! Functions on switches: where arm may stand, and with whom.

use super::codes;
use super::scan::{self, Bound};
use crate::language::bands;
use crate::language::finding::Finding;
use crate::language::recipe::{Function, OnLoss, Part, Recipe};

/// Functions that leave the motors as they are. Every other one is taken to change how motors
/// answer, so that a function this edition has not heard of cannot slip in beside arm.
const HARMLESS: [&str; 2] = ["buzzer", "lights"];

/// Whether a function changes how motors answer.
#[must_use]
pub fn changes_motors(function: &Function) -> bool {
    !HARMLESS.contains(&function.0.as_str())
}

pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    let switches = scan::switches(recipe);
    for arm in scan::bound(recipe).filter(|bound| bound.function.is_arm()) {
        at_rest(&arm, found);
        if let Some(says) = switches.get(arm.switch).and_then(|known| known.momentary) {
            found.push(arm_on_momentary(&arm).also(&says.span, "it springs back, by this line"));
        }
        for other in scan::bound(recipe).filter(|other| !other.function.is_arm() && other.switch == arm.switch) {
            company(&arm, &other, found);
        }
        link_loss(recipe, &arm, found);
    }
}

/// Arm never stands where the switch rests at power-up.
fn at_rest(arm: &Bound<'_>, found: &mut Vec<Finding>) {
    if arm.positions.contains(&0) {
        let message = format!(
            "arm on position 0 of switch {}: the craft would be armed as soon as it has power and the radio is on",
            arm.switch.0
        );
        found.push(
            Finding::error(codes::ARM_AT_REST, arm.statement.part(Part::Positions), message)
                .hint("bind arm to the position farthest from 0"),
        );
    }
}

/// A switch that springs back disarms as soon as it is let go; from the recipe or from a radio card.
#[must_use]
pub fn arm_on_momentary(arm: &Bound<'_>) -> Finding {
    let message = format!(
        "switch {} springs back to position 0: the craft would disarm as soon as it is let go, in the air as well",
        arm.switch.0
    );
    Finding::error(codes::ARM_MOMENTARY, arm.statement.part(Part::Switch), message)
        .hint("bind arm to a switch that stays where it is put")
}

/// Who shares the arm switch, and who even the arm position.
fn company(arm: &Bound<'_>, other: &Bound<'_>, found: &mut Vec<Finding>) {
    // The later line is the one that made it so.
    let (place, earlier) = if other.index > arm.index { (other, arm) } else { (arm, other) };
    let also = format!("{} is bound here", earlier.function.0);
    let (name, switch) = (&other.function.0, &arm.switch.0);
    let shared = other.positions.iter().find(|p| arm.positions.contains(p));
    if let Some(position) = shared.filter(|_| changes_motors(other.function)) {
        let message = format!(
            "arm and {name} both on position {position} of switch {switch}: arming would change in the same moment how the motors answer"
        );
        found.push(
            Finding::error(codes::ARM_MEETS, place.statement.part(Part::Positions), message)
                .also(&earlier.statement.span, also)
                .hint(format!("bind {name} to another switch")),
        );
        return;
    }
    let message = format!(
        "switch {switch} carries arm and {name}: working it for {name} passes through positions that arm or disarm"
    );
    found.push(
        Finding::warning(codes::ARM_SWITCH_SHARED, place.statement.part(Part::Switch), message)
            .also(&earlier.statement.span, also)
            .hint("give arm a switch of its own"),
    );
}

/// A lost link must not arm, nor leave armed.
fn link_loss(recipe: &Recipe, arm: &Bound<'_>, found: &mut Vec<Finding>) {
    let first = scan::declared(recipe).find(|(switch, _)| *switch == arm.switch);
    let Some((_, declared)) = first else { return };
    let Some(on_loss) = declared.on_loss else { return };
    if let Some(finding) = arm_on_loss(arm, declared.rests, on_loss) {
        found.push(finding.also(declared.statement.part(Part::Loss), "on link loss, by this line"));
    }
}

/// The finding, if any, about an arm binding and what its channel does on link loss; from the
/// recipe or from a radio card.
#[must_use]
pub fn arm_on_loss(arm: &Bound<'_>, rests: &[crate::language::units::Pulse], on_loss: OnLoss) -> Option<Finding> {
    let place = arm.statement.part(Part::Positions);
    let switch = &arm.switch.0;
    match on_loss {
        OnLoss::Flagged => None,
        OnLoss::Holds => {
            let message = format!(
                "the channel of switch {switch} holds its value on link loss: an armed craft would stay armed with nobody in control"
            );
            let advice = "set the receiver to send no pulses, or fixed ones that disarm, when the link is lost";
            Some(Finding::error(codes::ARM_ON_LINK_LOSS, place, message).hint(advice))
        }
        OnLoss::Rests(pulse) => bands::covers(rests, arm.positions, pulse).then(|| {
            let message = format!(
                "on link loss the channel of switch {switch} goes to {pulse}, where arm is on: losing the radio could arm the craft"
            );
            Finding::error(codes::ARM_ON_LINK_LOSS, place, message)
                .hint("have the receiver go to the pulse of position 0 on link loss, or bind arm elsewhere")
        }),
    }
}
