//! The trade words for settings: the same for every board, with what changing each can do.
//!
//! A sheet maps a word onto the board's own name and may only make its effect worse.

use super::effect::Effect;
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

/// All words, sorted.
pub const WORDS: &[Word] = &[
    Word {
        word: SettingWord::BatteryCells.word(),
        kinds: &[ValueKind::Count],
        effect: Effect::Writes,
        statement: Some("battery"),
        closed: None,
    },
    Word {
        word: SettingWord::BatteryChemistry.word(),
        kinds: &[ValueKind::Word],
        effect: Effect::Writes,
        statement: Some("battery"),
        closed: Some(&["liion", "lihv", "lipo"]),
    },
    Word {
        word: SettingWord::BatteryLand.word(),
        kinds: &[ValueKind::VoltagePerCell],
        effect: Effect::Writes,
        statement: Some("battery"),
        closed: None,
    },
    Word {
        word: SettingWord::BatteryWarn.word(),
        kinds: &[ValueKind::VoltagePerCell],
        effect: Effect::Writes,
        statement: Some("battery"),
        closed: None,
    },
    Word {
        word: SettingWord::BoardTurn.word(),
        kinds: &[ValueKind::Angle],
        effect: Effect::Writes,
        statement: Some("board turned"),
        closed: None,
    },
    Word {
        word: SettingWord::Idle.word(),
        kinds: &[ValueKind::Pulse, ValueKind::Percent],
        effect: Effect::TurnsMotors,
        statement: Some("idle"),
        closed: None,
    },
    Word {
        word: SettingWord::LevelPitch.word(),
        kinds: &[ValueKind::Angle],
        effect: Effect::Writes,
        statement: Some("calibrate level"),
        closed: None,
    },
    Word {
        word: SettingWord::LevelRoll.word(),
        kinds: &[ValueKind::Angle],
        effect: Effect::Writes,
        statement: Some("calibrate level"),
        closed: None,
    },
    Word {
        word: SettingWord::LinkLossAction.word(),
        kinds: &[ValueKind::Word],
        effect: Effect::Writes,
        statement: Some("failsafe"),
        closed: None,
    },
    Word {
        word: SettingWord::LinkLossWait.word(),
        kinds: &[ValueKind::Duration],
        effect: Effect::Writes,
        statement: Some("failsafe"),
        closed: None,
    },
    Word {
        word: SettingWord::LoopRate.word(),
        kinds: &[ValueKind::Frequency],
        effect: Effect::Writes,
        statement: None,
        closed: None,
    },
    Word {
        word: SettingWord::PitchChannel.word(),
        kinds: &[ValueKind::Count],
        effect: Effect::TurnsMotors,
        statement: Some("channels"),
        closed: None,
    },
    Word {
        word: SettingWord::ReceiverPort.word(),
        kinds: &[ValueKind::Count],
        effect: Effect::Writes,
        statement: Some("receiver"),
        closed: None,
    },
    Word {
        word: SettingWord::ReceiverProtocol.word(),
        kinds: &[ValueKind::Word],
        effect: Effect::Writes,
        statement: Some("receiver"),
        closed: None,
    },
    Word {
        word: SettingWord::RollChannel.word(),
        kinds: &[ValueKind::Count],
        effect: Effect::TurnsMotors,
        statement: Some("channels"),
        closed: None,
    },
    Word {
        word: SettingWord::Signal.word(),
        kinds: &[ValueKind::Word],
        effect: Effect::TurnsMotors,
        statement: Some("signal"),
        closed: Some(&["dshot150", "dshot300", "dshot600", "oneshot125", "pwm"]),
    },
    Word {
        word: SettingWord::ThrottleChannel.word(),
        kinds: &[ValueKind::Count],
        effect: Effect::TurnsMotors,
        statement: Some("channels"),
        closed: None,
    },
    Word {
        word: SettingWord::VoltageRatio.word(),
        kinds: &[ValueKind::Ratio],
        effect: Effect::Writes,
        statement: Some("calibrate battery"),
        closed: None,
    },
    Word {
        word: SettingWord::YawChannel.word(),
        kinds: &[ValueKind::Count],
        effect: Effect::TurnsMotors,
        statement: Some("channels"),
        closed: None,
    },
    Word {
        word: SettingWord::ZeroThrottle.word(),
        kinds: &[ValueKind::Word],
        effect: Effect::TurnsMotors,
        statement: Some("at zero throttle"),
        closed: Some(&["rest", "spin"]),
    },
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
