//! What statements name and set: sticks, switches, functions, settings, signals, each with its words.
//!
//! Values only. Must not be here: what is said of them (see `statement`), places in a text.

use super::setting_word::SettingWord;
use super::units::{Decimal, Percent, Pulse, Quantity};
use crate::measure::words::words;
use std::fmt;

words! {
    /// The four sticks' functions.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
    #[expect(missing_docs, reason = "the names are the trade's")]
    pub enum Stick, word {
        Roll = "roll",
        Pitch = "pitch",
        Throttle = "throttle",
        Yaw = "yaw",
    }
}

impl Stick {
    /// The word of the setting that holds its channel.
    #[must_use]
    pub fn channel_word(self) -> SettingWord {
        match self {
            Self::Roll => SettingWord::RollChannel,
            Self::Pitch => SettingWord::PitchChannel,
            Self::Throttle => SettingWord::ThrottleChannel,
            Self::Yaw => SettingWord::YawChannel,
        }
    }
}

/// A function's name as a recipe writes it, such as `arm`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Function(pub String);

impl Function {
    /// `arm`, which exists on every board.
    #[must_use]
    pub fn arm() -> Self {
        Self("arm".to_owned())
    }

    /// Whether this is `arm`, which exists on every board.
    #[must_use]
    pub fn is_arm(&self) -> bool {
        self.0 == "arm"
    }
}

/// A switch's name, case kept.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Switch(pub String);

/// What a setting is called in a recipe.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Setting {
    /// A word of the vocabulary, such as `loop-rate`. Whether it exists is checked with the vocabulary.
    Word(String),
    /// The board's own name, from quotes.
    Raw(String),
}

/// A value for `set` and `expect`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Value {
    /// A bare number.
    Number(Decimal),
    /// A number with a unit.
    Quantity(Quantity),
    /// A word, such as `spin` or `dshot300`.
    Word(String),
}

/// What a channel does when the link is lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OnLoss {
    /// Goes to this pulse.
    Rests(Pulse),
    /// Stays where it was: counts as everywhere.
    Holds,
    /// The board is told, the value counts as nowhere.
    Flagged,
}

impl fmt::Display for OnLoss {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Rests(pulse) => write!(f, "goes to {pulse} on link loss"),
            Self::Holds => f.write_str("stays where it was on link loss"),
            Self::Flagged => f.write_str("is flagged on link loss"),
        }
    }
}

/// What motors do at zero throttle while armed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the words are the language's")]
pub enum ZeroThrottle {
    Spin,
    Rest,
}

/// Battery chemistry, which sets what full means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names are the trade's")]
pub enum Chemistry {
    Lipo,
    Lihv,
    Liion,
}

/// An idle: a pulse width, or a share where the board counts so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Idle {
    /// A pulse width.
    Pulse(Pulse),
    /// A share of the range from 1000 to 2000 µs.
    Percent(Percent),
}
