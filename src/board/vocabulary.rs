//! The trade words for settings: the same for every board, with what changing each can do.
//!
//! A sheet maps a word onto the board's own name and may only make its effect worse.

use super::effect::Effect::{self, TurnsMotors, Writes};
use crate::language::Reading;
use crate::language::setting_word::SettingWord;
use crate::language::sources::Sources;
use crate::language::units::Unit;
use std::path::Path;

/// What a word's value is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "each is the kind of value that it names")]
pub enum ValueKind {
    Pulse,
    Percent,
    Frequency,
    Duration,
    Angle,
    VoltagePerCell,
    Ratio,
    Count,
    Word,
}

impl ValueKind {
    /// The units that such a value may be counted in; none for bare numbers and words.
    #[must_use]
    pub fn units(self) -> &'static [Unit] {
        match self {
            Self::Pulse => &[Unit::Us, Unit::Ms],
            Self::Percent => &[Unit::Percent],
            Self::Frequency => &[Unit::Hz, Unit::KHz],
            Self::Duration => &[Unit::Us, Unit::Ms, Unit::S, Unit::Min],
            Self::Angle => &[Unit::Deg],
            Self::VoltagePerCell => &[Unit::MilliVPerCell, Unit::VPerCell],
            Self::Ratio | Self::Count | Self::Word => &[],
        }
    }
}

/// One word of the vocabulary.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Word {
    /// As a recipe writes it.
    pub word: &'static str,
    /// Kinds of value it may have.
    pub kinds: &'static [ValueKind],
    /// The worst that changing it can do with the battery in.
    pub effect: Effect,
    /// The statement that sets it, where it has one; `set` then refuses it.
    pub statement: Option<&'static str>,
    /// The words that its value may be, where the language fixes them.
    pub closed: Option<&'static [&'static str]>,
}

const fn row(
    word: SettingWord,
    kinds: &'static [ValueKind],
    effect: Effect,
    statement: Option<&'static str>,
    closed: Option<&'static [&'static str]>,
) -> Word {
    Word { word: word.word(), kinds, effect, statement, closed }
}

/// All words, sorted.
pub const WORDS: &[Word] = &[
    row(SettingWord::BatteryCells, &[ValueKind::Count], Writes, Some("battery"), None),
    row(SettingWord::BatteryChemistry, &[ValueKind::Word], Writes, Some("battery"), Some(&["liion", "lihv", "lipo"])),
    row(SettingWord::BatteryLand, &[ValueKind::VoltagePerCell], Writes, Some("battery"), None),
    row(SettingWord::BatteryWarn, &[ValueKind::VoltagePerCell], Writes, Some("battery"), None),
    row(SettingWord::BoardTurn, &[ValueKind::Angle], Writes, Some("board turned"), None),
    row(SettingWord::Idle, &[ValueKind::Pulse, ValueKind::Percent], TurnsMotors, Some("idle"), None),
    row(SettingWord::LevelPitch, &[ValueKind::Angle], Writes, Some("calibrate level"), None),
    row(SettingWord::LevelRoll, &[ValueKind::Angle], Writes, Some("calibrate level"), None),
    row(SettingWord::LinkLossAction, &[ValueKind::Word], Writes, Some("failsafe"), None),
    row(SettingWord::LinkLossWait, &[ValueKind::Duration], Writes, Some("failsafe"), None),
    row(SettingWord::LoopRate, &[ValueKind::Frequency], Writes, None, None),
    row(SettingWord::PitchChannel, &[ValueKind::Count], TurnsMotors, Some("channels"), None),
    row(SettingWord::ReceiverPort, &[ValueKind::Count], Writes, Some("receiver"), None),
    row(SettingWord::ReceiverProtocol, &[ValueKind::Word], Writes, Some("receiver"), None),
    row(SettingWord::RollChannel, &[ValueKind::Count], TurnsMotors, Some("channels"), None),
    row(
        SettingWord::Signal,
        &[ValueKind::Word],
        TurnsMotors,
        Some("signal"),
        Some(&["dshot150", "dshot300", "dshot600", "oneshot125", "pwm"]),
    ),
    row(SettingWord::ThrottleChannel, &[ValueKind::Count], TurnsMotors, Some("channels"), None),
    row(SettingWord::VoltageRatio, &[ValueKind::Ratio], Writes, Some("calibrate battery"), None),
    row(SettingWord::YawChannel, &[ValueKind::Count], TurnsMotors, Some("channels"), None),
    row(SettingWord::ZeroThrottle, &[ValueKind::Word], TurnsMotors, Some("at zero throttle"), Some(&["rest", "spin"])),
];

/// Looks a word up.
#[must_use]
pub fn word(name: &str) -> Option<&'static Word> {
    WORDS.iter().find(|w| w.word == name)
}

/// Reads a recipe and all it uses; no parameter of it may be called after a word. `with` fills its parameters.
#[must_use]
pub fn read(sources: &dyn Sources, file: &Path, with: &[(String, String)]) -> Reading {
    let words: Vec<&str> = WORDS.iter().map(|row| row.word).collect();
    crate::language::read(sources, file, with, &words)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_has_its_row() {
        assert!(WORDS.iter().map(|row| row.word).eq(SettingWord::ALL.into_iter().map(SettingWord::word)));
        assert!(SettingWord::ALL.is_sorted_by_key(|word| word.word()));
    }
}
