//! Values of settings as a board holds them.

use serde::{Deserialize, Serialize};
use std::fmt;

/// A board's own name of a setting: 1 to 16 bytes of printable ASCII.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SettingName(String);

impl SettingName {
    /// A name, if the text can be one.
    #[must_use]
    pub fn new(text: &str) -> Option<Self> {
        let fits = (1..=16).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_graphic());
        fits.then(|| Self(text.to_owned()))
    }

    /// The name.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for SettingName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A value on the board: whole or real, never not-a-number.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum Number {
    /// Any of the integer types.
    Whole(i64),
    /// A real; finite.
    Real(f64),
}

impl Number {
    /// The value as a real.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "settings hold at most 32 bits")]
    pub fn real(self) -> f64 {
        match self {
            Self::Whole(whole) => whole as f64,
            Self::Real(real) => real,
        }
    }

    /// The value as a whole number, where it is one: a board may send all its values as reals.
    #[must_use]
    pub fn whole(self) -> Option<i64> {
        match self {
            Self::Whole(whole) => Some(whole),
            #[expect(clippy::cast_possible_truncation, reason = "whole and far inside 64 bits")]
            Self::Real(real) => (real.fract() == 0.0 && real.abs() < 1e15).then_some(real as i64),
        }
    }

    /// Equal as the board compares: reals as the nearest 32-bit number.
    #[must_use]
    #[expect(clippy::cast_possible_truncation, clippy::float_cmp, reason = "the board holds 32-bit reals")]
    pub fn same(self, other: Self) -> bool {
        match (self, other) {
            (Self::Whole(a), Self::Whole(b)) => a == b,
            (a, b) => a.real() as f32 == b.real() as f32,
        }
    }
}

impl fmt::Display for Number {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Whole(whole) => write!(f, "{whole}"),
            #[expect(clippy::cast_possible_truncation, reason = "shown as the board's 32-bit real")]
            Self::Real(real) => write!(f, "{}", *real as f32),
        }
    }
}

/// Why a setting has no value that could be brought back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NoValue {
    /// What the board gives is no number, or none that can be read.
    NoNumber,
    /// Its name stands twice in the board's list.
    Twice,
}
