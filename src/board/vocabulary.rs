//! The trade words for settings: the same for every board, with what changing each can do.
//!
//! A sheet maps a word onto the board's own name and may only make its effect worse.

use super::effect::Effect;
use crate::language::units::Unit;

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
        word: "battery-cells",
        kinds: &[ValueKind::Count],
        effect: Effect::Writes,
        statement: Some("battery"),
        closed: None,
    },
    Word {
        word: "battery-chemistry",
        kinds: &[ValueKind::Word],
        effect: Effect::Writes,
        statement: Some("battery"),
        closed: Some(&["lihv", "lipo"]),
    },
    Word {
        word: "battery-land",
        kinds: &[ValueKind::VoltagePerCell],
        effect: Effect::Writes,
        statement: Some("battery"),
        closed: None,
    },
    Word {
        word: "battery-warn",
        kinds: &[ValueKind::VoltagePerCell],
        effect: Effect::Writes,
        statement: Some("battery"),
        closed: None,
    },
    Word {
        word: "board-turn",
        kinds: &[ValueKind::Angle],
        effect: Effect::Writes,
        statement: Some("board turned"),
        closed: None,
    },
    Word {
        word: "idle",
        kinds: &[ValueKind::Pulse, ValueKind::Percent],
        effect: Effect::TurnsMotors,
        statement: Some("idle"),
        closed: None,
    },
    Word {
        word: "level-pitch",
        kinds: &[ValueKind::Angle],
        effect: Effect::Writes,
        statement: Some("calibrate level"),
        closed: None,
    },
    Word {
        word: "level-roll",
        kinds: &[ValueKind::Angle],
        effect: Effect::Writes,
        statement: Some("calibrate level"),
        closed: None,
    },
    Word {
        word: "link-loss-action",
        kinds: &[ValueKind::Word],
        effect: Effect::Writes,
        statement: Some("failsafe"),
        closed: None,
    },
    Word {
        word: "link-loss-wait",
        kinds: &[ValueKind::Duration],
        effect: Effect::Writes,
        statement: Some("failsafe"),
        closed: None,
    },
    Word { word: "loop-rate", kinds: &[ValueKind::Frequency], effect: Effect::Writes, statement: None, closed: None },
    Word {
        word: "pitch-channel",
        kinds: &[ValueKind::Count],
        effect: Effect::TurnsMotors,
        statement: Some("channels"),
        closed: None,
    },
    Word {
        word: "receiver-port",
        kinds: &[ValueKind::Count],
        effect: Effect::Writes,
        statement: Some("receiver"),
        closed: None,
    },
    Word {
        word: "receiver-protocol",
        kinds: &[ValueKind::Word],
        effect: Effect::Writes,
        statement: Some("receiver"),
        closed: None,
    },
    Word {
        word: "roll-channel",
        kinds: &[ValueKind::Count],
        effect: Effect::TurnsMotors,
        statement: Some("channels"),
        closed: None,
    },
    Word {
        word: "signal",
        kinds: &[ValueKind::Word],
        effect: Effect::TurnsMotors,
        statement: Some("signal"),
        closed: Some(&["dshot150", "dshot300", "dshot600", "oneshot125", "pwm"]),
    },
    Word {
        word: "throttle-channel",
        kinds: &[ValueKind::Count],
        effect: Effect::TurnsMotors,
        statement: Some("channels"),
        closed: None,
    },
    Word {
        word: "voltage-ratio",
        kinds: &[ValueKind::Ratio],
        effect: Effect::Writes,
        statement: Some("calibrate battery"),
        closed: None,
    },
    Word {
        word: "yaw-channel",
        kinds: &[ValueKind::Count],
        effect: Effect::TurnsMotors,
        statement: Some("channels"),
        closed: None,
    },
    Word {
        word: "zero-throttle",
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
