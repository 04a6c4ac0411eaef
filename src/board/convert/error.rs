//! Why a recipe's value cannot be a board's number, and what would do.

use thiserror::Error;

/// See the module. `word` is the vocabulary's word, or the board's own name.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[expect(missing_docs, reason = "the fields are the parts of the sentence above them")]
pub enum ConvertError {
    /// A number where a word is needed.
    #[error("`{word}` is set to a word, not to {found}")]
    NotAWord { word: String, found: String, known: Vec<String> },
    /// A word that this board's setting does not have.
    #[error("`{word}` cannot be `{found}` on this board")]
    UnknownWord { word: String, found: String, nearest: Option<String>, known: Vec<String> },
    /// A word where a number is needed.
    #[error("`{word}` is set to a number, not to `{found}`")]
    NotANumber { word: String, found: String },
    /// A unit of another kind than the sheet counts in.
    #[error("`{word}` cannot be given in {found} on this board")]
    WrongUnit { word: String, found: &'static str, allowed: Vec<&'static str> },
    /// A bare number where a unit is needed.
    #[error("`{word}` needs a unit")]
    MissingUnit { word: String, allowed: Vec<&'static str> },
    /// Finer than the board counts.
    #[error("`{word}` cannot be {value}: this board counts it in steps of {step}")]
    BetweenSteps { word: String, value: String, step: String },
    /// Outside the sheet's range.
    #[error("`{word}` cannot be {value}: this board takes {least} to {most}")]
    OutOfRange { word: String, value: String, least: String, most: String },
    /// Off the sheet's list.
    #[error("`{word}` cannot be {value} on this board")]
    NotListed { word: String, value: String, only: Vec<String> },
    /// More than a setting can hold.
    #[error("`{word}` cannot be {value}: no setting holds more than 32 bits")]
    TooLarge { word: String, value: String },
    /// An entry that no sheet reader lets through.
    #[error("the sheet's unit of `{word}` is not readable")]
    BadSheet { word: String },
}

impl ConvertError {
    /// What would do.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        let units = |allowed: &[&str]| match allowed {
            [] => "write a bare number".to_owned(),
            units => format!("units allowed: {}", units.join(", ")),
        };
        match self {
            Self::UnknownWord { nearest: Some(near), .. } => Some(format!("did you mean `{near}`?")),
            Self::NotAWord { known, .. } | Self::UnknownWord { known, .. } => {
                Some(format!("words allowed: {}", known.join(", ")))
            }
            Self::WrongUnit { allowed, .. } | Self::MissingUnit { allowed, .. } => Some(units(allowed)),
            Self::NotListed { only, .. } => Some(format!("values allowed: {}", only.join(", "))),
            _ => None,
        }
    }
}
