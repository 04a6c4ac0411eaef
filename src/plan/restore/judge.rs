//! Whether the values of a copy may be written: judged as a recipe's would be.
//!
//! Promises: a value that is none of its setting's type, above a built-in ceiling or outside the sheet's limits is
//! refused by name; so is an arm band over a pulse at which its channel stands, rests or goes on link loss, and what is
//! not known counts as inside. Must not be here: in which order values are written.

use super::{Radio, RestoreError};
use crate::board::binding::{self, BoundNow};
use crate::board::convert::{self, ConvertError};
use crate::board::sheet::{BandPart, BindingLayout, Settings, Sheet};
use crate::board::value::{Number, SettingName};
use crate::language::characters::capital;
use crate::language::recipe::Function;
use crate::measure::frame::CHANNEL_NUMBERS;
use crate::plan::bands::{arm_stays, loss_is_known, loss_pulses, loss_unknown};
use crate::plan::naming::Naming;
use crate::plan::order::UNMEASURED_NOISE;
use crate::plan::problem::Problem;
use crate::plan::remark::Remark;
use crate::plan::values::above_ceiling;

/// The number that is written for a copy's value, which the board holds as `held` now.
pub(super) fn value(
    naming: &Naming<'_>,
    name: &SettingName,
    held: Number,
    copied: Number,
) -> Result<Number, RestoreError> {
    let refused = |problem: Problem| RestoreError::Setting {
        name: name.clone(),
        shown: copied.to_string(),
        problem: Box::new(problem),
    };
    let as_convert = |error: ConvertError| refused(Problem::Value(error));
    let number = convert::as_held(name.as_str(), copied, held).map_err(as_convert)?;
    if let Some((word, entry)) = naming.sheet.word_of(name) {
        convert::judge(word, entry, number).map_err(as_convert)?;
        return above_ceiling(word, entry, number).map_or(Ok(number), |problem| Err(refused(problem)));
    }
    if let Some(entry) = naming.sheet.raw.get(name) {
        return convert::judge(name.as_str(), entry, number).map_err(as_convert).map(|()| number);
    }
    match naming.band_setting(name) {
        Some((_, part)) if !fits(naming.sheet, part, number) => {
            Err(RestoreError::NoBand { name: name.clone(), shown: copied.to_string() })
        }
        _ => Ok(number),
    }
}

/// Whether a number can be a part of a band on this board.
fn fits(sheet: &Sheet, part: BandPart, number: Number) -> bool {
    let binding = &sheet.binding;
    let Some(number) = number.whole() else { return false };
    match part {
        BandPart::Channel => number == binding.channel_unbound || CHANNEL_NUMBERS.contains(&number),
        BandPart::From | BandPart::To => {
            let closed = [binding.closed.0, binding.closed.1].contains(&number);
            let (least, most) = (i64::from(binding.least.0), i64::from(binding.most.0));
            closed || ((least..=most).contains(&number) && (number - least) % i64::from(binding.granularity) == 0)
        }
        BandPart::Function => match &binding.way {
            BindingLayout::Direct(_) => true,
            BindingLayout::Rows { functions, free, .. } => {
                number == *free || functions.values().any(|known| *known == number)
            }
        },
    }
}

/// The arm bands that a board will have, those that it has not now judged by all that is known of the radio.
pub(super) fn arm_bands(
    sheet: &Sheet,
    radio: &Radio<'_>,
    now: &Settings,
    then: &Settings,
    remarks: &mut Vec<Remark>,
) -> Result<Vec<BoundNow>, RestoreError> {
    let arm = Function::arm();
    let bands = binding::bound_now(sheet, then, &arm).map_err(RestoreError::Binding)?;
    let before = binding::bound_now(sheet, now, &arm).unwrap_or_default();
    for band in bands.iter().filter(|band| !before.contains(band)) {
        arm_band(sheet, radio, band)?;
        let mut on_it = radio.card.switches.values().filter(|entry| entry.channel == band.channel);
        let said = on_it.find_map(|entry| entry.on_loss);
        let text = format!("{}. `find link loss` tells.", capital(&loss_unknown(band.channel)));
        if !loss_is_known(band.channel, said, radio.link_loss) && remarks.iter().all(|known| known.text != text) {
            remarks.push(Remark { line: None, text });
        }
    }
    Ok(bands)
}

fn arm_band(sheet: &Sheet, radio: &Radio<'_>, band: &BoundNow) -> Result<(), RestoreError> {
    let BoundNow { channel, from, to } = *band;
    let inside =
        |pulse: f64| f64::from(from.0) <= pulse + UNMEASURED_NOISE && pulse - UNMEASURED_NOISE < f64::from(to.0);
    let named: Vec<_> = radio.card.switches.iter().filter(|(_, entry)| entry.channel == channel).collect();
    for (switch, entry) in &named {
        arm_stays(switch, entry.momentary).map_err(RestoreError::arm)?;
    }
    let switches: Vec<_> = named.into_iter().map(|(_, entry)| entry).collect();
    let mut on_loss: Vec<_> = switches.iter().map(|entry| entry.on_loss).collect();
    on_loss.push(None);
    for said in on_loss {
        let pulses = loss_pulses(channel, said, radio.link_loss).map_err(RestoreError::arm)?;
        if let Some(pulse) = pulses.into_iter().find(|pulse| inside(*pulse)) {
            let does = format!("goes to {pulse:.0} us");
            return Err(RestoreError::arm(Problem::ArmOnLinkLoss { channel, does }));
        }
    }
    if switches.iter().filter_map(|entry| entry.rests.first()).any(|rest| inside(rest.0.into())) {
        return Err(RestoreError::arm(Problem::ArmAtRest));
    }
    let Some(heard) = &radio.heard else { return Ok(()) };
    match heard.get(&channel) {
        Some(pulse) if inside(pulse.0.into()) => Err(RestoreError::ArmStands { channel, pulse: *pulse, from, to }),
        Some(_) => Ok(()),
        // USB feeds no receiver, and with the battery out nothing can be heard: the rests that were found count.
        None if !sheet.usb_feeds_receiver && !switches.is_empty() => Ok(()),
        None => Err(RestoreError::ArmUnheard { channel, fed: sheet.usb_feeds_receiver }),
    }
}
