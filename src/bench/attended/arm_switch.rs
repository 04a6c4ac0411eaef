//! Which switch arms the craft now: from the bands on the board and the switches that are known.

use crate::bench::procedures::start::ArmSwitch;
use crate::board::radio_card::RadioCard;
use crate::interlock::craft::Facts;
use crate::seam::fault::Fault;

/// The switch whose channel carries the arm band, with the positions that lie in it.
///
/// # Errors
/// No band, no known switch on its channel, or position 0 lies in it.
pub fn arm_switch(facts: &Facts, card: &RadioCard) -> Result<ArmSwitch, Fault> {
    let found = card.switches.iter().find_map(|(switch, entry)| {
        let on: Vec<u32> = (0u32..)
            .zip(&entry.rests)
            .filter(|(_, rest)| facts.arms_at(entry.channel, **rest))
            .map(|(position, _)| position)
            .collect();
        (!on.is_empty()).then(|| ArmSwitch { switch: switch.clone(), entry: entry.clone(), on })
    });
    let arm = found.ok_or_else(|| {
        Fault::refused(
            "No known switch arms this craft.",
            "Find the switch and bind arm to one of its positions before motors are to turn.",
        )
    })?;
    if arm.on.contains(&0) {
        return Err(Fault::refused(
            format!("Switch {} arms in position 0.", arm.switch.0),
            "Bind arm to another position: the radio starts with its switches at 0.",
        ));
    }
    Ok(arm)
}
