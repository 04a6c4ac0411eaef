//! What writing a setting can do, and whether its place among other writes matters.
//!
//! Promises: what nobody can speak for has the worst effect; whatever binds a switch, everything that the trade has a
//! word for, what the sheet says can turn a motor, and a setting that is written twice, keeps its place. Must not be
//! here: how writes are sent.

use super::step::Write;
use crate::board::binding;
use crate::board::effect::Effect;
use crate::board::sheet::{SettingEntry, Sheet};
use crate::board::value::SettingName;
use std::collections::BTreeMap;

/// The worst that writing a setting can do, where motors have power (`energised`) or have none.
pub(super) fn of_writing(sheet: &Sheet, name: &SettingName, energised: bool) -> Effect {
    let Some(entry) = entry_of(sheet, name) else {
        // The order of a band's writes is judged by itself.
        let bound = binding::is_band_setting(sheet, name);
        return if bound && !energised { Effect::Writes } else { Effect::TurnsMotors };
    };
    if energised || entry.effect != Effect::TurnsMotors { entry.effect } else { Effect::Writes }
}

/// The sheet's entry of a board's own name, if it has one.
pub fn entry_of<'s>(sheet: &'s Sheet, name: &SettingName) -> Option<&'s SettingEntry> {
    sheet.word_of(name).map(|(_, entry)| entry).or_else(|| sheet.raw.get(name))
}

/// The writes of a batch, each with whether it keeps its place.
pub(super) fn placed(sheet: &Sheet, mut writes: Vec<Write>) -> Vec<Write> {
    let mut times: BTreeMap<SettingName, usize> = BTreeMap::new();
    for write in &writes {
        *times.entry(write.name.clone()).or_default() += 1;
    }
    for write in &mut writes {
        let name = &write.name;
        let harmless = sheet.raw.get(name).is_none_or(|entry| entry.effect <= Effect::Writes);
        let free = sheet.word_of(name).is_none() && harmless && !binding::is_band_setting(sheet, name);
        write.ordered = !free || times.get(name) != Some(&1);
    }
    writes
}
