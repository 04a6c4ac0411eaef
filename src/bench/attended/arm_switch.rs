//! Which switch arms the craft now: from the bands on the board and the switches that are known.

use crate::bench::procedures::arm_switch::ArmSwitch;
use crate::bench::procedures::find_switch::pulses;
use crate::board::binding::BoundNow;
use crate::board::bound::positions_on;
use crate::board::radio_card::RadioCard;
use crate::interlock::craft::Facts;
use crate::seam::fault::Fault;

/// The switch whose channel carries the arm band, with the positions that lie in it.
///
/// # Errors
/// No band, no known switch on its channel, or position 0 lies in it.
pub fn arm_switch(facts: &Facts, card: &RadioCard) -> Result<ArmSwitch, Fault> {
    let found = card.switches.iter().find_map(|(switch, entry)| {
        let on = positions_on(&facts.arm_bands, entry.channel, &entry.rests);
        (!on.is_empty()).then(|| ArmSwitch { switch: switch.clone(), entry: entry.clone(), on })
    });
    let arm = found.ok_or_else(|| unknown(facts, card))?;
    if arm.on.contains(&0) {
        return Err(Fault::refused(
            format!("Switch {} arms in position 0.", arm.switch.0),
            "Bind arm to another position: the radio starts with its switches at 0.",
        ));
    }
    Ok(arm)
}

/// What is missing: a binding, a switch on its channel, or a position of it that is inside.
fn unknown(facts: &Facts, card: &RadioCard) -> Fault {
    let Some(BoundNow { channel, from, to }) = facts.arm_bands.first() else {
        return Fault::refused(
            "No switch arms this craft: arm is bound to none.",
            "Find the switch and bind arm to one of its positions before motors are to turn.",
        );
    };
    let bound = format!("No known switch arms this craft: arm is bound to channel {channel}, {from} to {to}");
    if let Some((switch, entry)) = card.switches.iter().find(|(_, entry)| entry.channel == *channel) {
        return Fault::refused(
            format!("{bound}, and switch {} on it rests at {}.", switch.0, pulses(&entry.rests)),
            "Bind arm to one of its positions before motors are to turn.",
        );
    }
    Fault::refused(
        format!("{bound}, and no switch is known on it."),
        "Name the card of your radio with `--radio CARD`, or run a recipe with `find switch` first: what it finds stays in \
         the craft's record.",
    )
}
