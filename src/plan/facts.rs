//! Small facts of a sheet and a reading that plan and bench must see alike.
//!
//! Promises: pure look-ups. Must not be here: what is done about them.

use crate::board::sheet::{SettingEntry, Settings, Sheet};
use crate::board::value::{Number, SettingName};
use crate::language::recipe::Stick;
use crate::language::setting_word::SettingWord;

/// Words that a proof of an idle depends on, where the sheet has them.
const IDLE_DEPENDS_ON: [SettingWord; 4] =
    [SettingWord::Idle, SettingWord::Signal, SettingWord::ZeroThrottle, SettingWord::BatteryCells];

/// Words that a proof of the failsafe depends on besides, where the sheet has them.
pub const LINK_LOSS: [SettingWord; 2] = [SettingWord::LinkLossAction, SettingWord::LinkLossWait];

/// What the board has for a word of the vocabulary, if the sheet maps it and the board gave it.
#[must_use]
pub fn held<'a>(sheet: &'a Sheet, settings: &Settings, word: SettingWord) -> Option<(&'a SettingEntry, Number)> {
    let entry = sheet.entry(word)?;
    settings.get(&entry.name).map(|number| (entry, *number))
}

/// The same, where it is a whole number.
#[must_use]
pub fn held_whole(sheet: &Sheet, settings: &Settings, word: SettingWord) -> Option<i64> {
    held(sheet, settings, word)?.1.whole()
}

/// A stick's channel from 1, as the board has it.
#[must_use]
pub fn stick_channel(sheet: &Sheet, settings: &Settings, stick: Stick) -> Option<u32> {
    if let Some(order) = &sheet.channel_order {
        return (1..).zip(order).find(|(_, fixed)| **fixed == stick).map(|(channel, _)| channel);
    }
    let channel = held_whole(sheet, settings, stick.channel_word())?;
    u32::try_from(channel).ok().filter(|channel| *channel > 0)
}

/// The throttle's.
#[must_use]
pub fn throttle_channel(sheet: &Sheet, settings: &Settings) -> Option<u32> {
    stick_channel(sheet, settings, Stick::Throttle)
}

/// Those of all four, in their order.
#[must_use]
pub fn stick_channels(sheet: &Sheet, settings: &Settings) -> [Option<u32>; 4] {
    Stick::ALL.map(|stick| stick_channel(sheet, settings, stick))
}

/// Settings that a proof of an idle must carry with their values, for it to be judged later.
#[must_use]
pub fn idle_depends_on(sheet: &Sheet) -> Vec<SettingName> {
    names(sheet, &IDLE_DEPENDS_ON)
}

/// What makes the board's level.
#[must_use]
pub fn level_depends_on(sheet: &Sheet) -> Vec<SettingName> {
    names(sheet, &[SettingWord::LevelRoll, SettingWord::LevelPitch, SettingWord::BoardTurn])
}

/// What makes the board's voltage.
#[must_use]
pub fn voltage_depends_on(sheet: &Sheet) -> Vec<SettingName> {
    names(sheet, &[SettingWord::VoltageRatio])
}

/// What the board calls these, where it has them.
#[must_use]
pub fn names(sheet: &Sheet, words: &[SettingWord]) -> Vec<SettingName> {
    words.iter().filter_map(|word| sheet.entry(*word)).map(|entry| entry.name.clone()).collect()
}
