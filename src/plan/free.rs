//! Which writes of a batch may overtake each other.
//!
//! Promises: whatever binds a switch, everything that the trade has a word for, and what the sheet says can turn a
//! motor, keeps its place, and so does a setting that is written twice. Must not be here: how they are sent.

use super::step::Write;
use crate::board::effect::Effect;
use crate::board::sheet::{BindingLayout, Sheet};
use crate::board::value::SettingName;
use std::collections::BTreeMap;

/// For each write, whether its place among those beside it that are free too does not matter. Without a sheet nothing
/// is known, and all keep their places.
#[must_use]
pub fn free(sheet: Option<&Sheet>, writes: &[Write]) -> Vec<bool> {
    let Some(sheet) = sheet else { return vec![false; writes.len()] };
    let mut times: BTreeMap<&SettingName, usize> = BTreeMap::new();
    for write in writes {
        *times.entry(&write.name).or_default() += 1;
    }
    writes.iter().map(|write| times.get(&write.name) == Some(&1) && is_free(sheet, &write.name)).collect()
}

fn is_free(sheet: &Sheet, name: &SettingName) -> bool {
    let harmless = sheet.raw.get(name).is_none_or(|entry| entry.effect <= Effect::Writes);
    sheet.word_of(name).is_none() && harmless && !binds(sheet, name)
}

/// Whether a setting belongs to a band of any function.
fn binds(sheet: &Sheet, name: &SettingName) -> bool {
    match &sheet.binding.way {
        BindingLayout::Direct(bands) => {
            bands.values().any(|band| [&band.channel, &band.from, &band.to].contains(&name))
        }
        BindingLayout::Rows { rows, .. } => {
            rows.iter().any(|row| [&row.function, &row.channel, &row.from, &row.to].contains(&name))
        }
    }
}
