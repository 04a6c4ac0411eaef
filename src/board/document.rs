//! What can be wrong with a TOML document, each with its place and what to do.
//!
//! Shared by board sheets and radio cards. All faults of a document are collected; only a fault of
//! TOML itself ends the reading. Must not be here: what a sheet or a card means.

pub mod changed_lines;
pub mod kind;
pub mod load;
pub(super) mod names;
pub(super) mod reader;

use crate::language::quantity::QuantityError;
use thiserror::Error;

/// Most bytes that a document may have.
pub const MOST_BYTES: usize = 1 << 20;

/// Most faults that are told of one document: more help nobody, and a hostile text could make millions.
pub const MOST_FAULTS: usize = 50;

/// What is wrong with one document, up to [`MOST_FAULTS`]; never empty.
#[derive(Debug, Clone, PartialEq)]
pub struct DocumentError {
    /// In the order of their places.
    pub faults: Vec<DocumentFault>,
}

impl std::error::Error for DocumentError {}

impl std::fmt::Display for DocumentError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (index, fault) in self.faults.iter().enumerate() {
            let gap = if index == 0 { "" } else { "\n" };
            write!(f, "{gap}{fault}")?;
            if let Some(hint) = fault.problem.hint() {
                write!(f, "\n  hint: {hint}")?;
            }
        }
        Ok(())
    }
}

/// One thing wrong, and where.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{file}:{line}:{column}: {problem}")]
pub struct DocumentFault {
    /// The document, as a person would name it.
    pub file: String,
    /// Line from 1.
    pub line: usize,
    /// Column in characters from 1.
    pub column: usize,
    /// What is wrong.
    pub problem: Problem,
}

/// What can be wrong. `key` is always the whole path, such as `settings.idle.unit`.
#[derive(Debug, Clone, PartialEq, Error)]
#[expect(missing_docs, reason = "the fields are the parts of the sentence above them")]
pub enum Problem {
    /// The text is no TOML.
    #[error("this is not TOML: {said}")]
    NotToml { said: String },
    /// Larger than any document needs to be.
    #[error("the document has {bytes} bytes, more than the 1 MiB that is read")]
    TooLarge { bytes: usize },
    /// A key that does not exist there.
    #[error("the key `{key}` is not known here")]
    UnknownKey { key: String, nearest: Option<String>, known: Vec<String> },
    /// A key that there was.
    #[error("the key `{key}` is no longer read: {said}")]
    GoneKey { key: String, said: &'static str },
    /// A key that must be there.
    #[error("the key `{key}` is missing")]
    MissingKey { key: String, why: &'static str },
    /// A value of another type.
    #[error("`{key}` must be {expected}; here it is {found}")]
    WrongType { key: String, expected: &'static str, found: &'static str },
    /// A word where only some words are allowed.
    #[error("`{key}` cannot be \"{found}\"")]
    UnknownWord { key: String, found: String, nearest: Option<String>, known: Vec<String> },
    /// A setting whose word the vocabulary does not have.
    #[error("`{word}` is no word of the vocabulary")]
    UnknownSetting { word: String, nearest: Option<String> },
    /// Text that is no quantity of the kind asked for.
    #[error("`{key}` = \"{found}\": {cause}")]
    BadQuantity { key: String, found: String, cause: QuantityError },
    /// A unit of a kind that the word cannot have.
    #[error("`{word}` cannot be counted in {found}")]
    WrongUnit { word: String, found: String, allowed: String },
    /// A scale of zero or below.
    #[error("`{key}`: one step of the board's number must be more than zero")]
    ScaleNotPositive { key: String },
    /// A word whose value is another form of thing.
    #[error("the value of `{word}` is {must_be}, but the sheet gives {given}")]
    WrongForm { word: String, must_be: &'static str, given: &'static str },
    /// Text that cannot be a setting's name.
    #[error("\"{found}\" cannot be the name of a setting")]
    NotAName { found: String },
    /// Text that cannot be a word or a name of the document's.
    #[error("\"{found}\" cannot be {what}")]
    UnfitName { what: &'static str, found: String, rule: &'static str },
    /// The same setting of the board under two words.
    #[error("`{second}` and `{first}` both stand for the setting {name}")]
    SettingTwice { name: String, first: String, second: String },
    /// The same thing twice where each may stand once.
    #[error("`{key}`: {found} stands there twice")]
    Twice { key: String, found: String },
    /// Least above most, or equal.
    #[error("`{key}`: {low} is not below {high}")]
    UpsideDown { key: String, low: String, high: String },
    /// A number outside what can be.
    #[error("`{key}` = {found} is outside {least} to {most}")]
    OutOfRange { key: String, found: String, least: String, most: String },
    /// An edition that this program does not know.
    #[error("`edition` is {found}; this program reads edition 1")]
    UnknownEdition { found: i64 },
    /// A channel that exists, given as the number of none.
    #[error("`{key}` = {found} is a channel that a receiver has")]
    ChannelExists { key: String, found: i64 },
    /// Infinity or not-a-number.
    #[error("`{key}` is not a finite number")]
    NotFinite { key: String },
    /// Too few or too many items.
    #[error("the number of items in `{key}` is {found}; {} allowed", span(*least, *most))]
    WrongLength { key: String, found: usize, least: usize, most: usize },
    /// Keys that exclude each other.
    #[error("`{key}` and `{other}` cannot stand together")]
    Conflict { key: String, other: String },
    /// An effect below that of the word.
    #[error("`{key}`: \"{found}\" is less than \"{least}\", which changing this setting can do")]
    EffectLowered { key: String, found: &'static str, least: &'static str },
    /// A closed band that would be open.
    #[error("`{key}`: a band from {low} to {high} is not closed, since {low} is below {high}")]
    NotClosed { key: String, low: i64, high: i64 },
    /// A board without an arm function.
    #[error("`{key}` does not bind `arm`")]
    NoArm { key: String },
    /// Motors counted and corners named apart.
    #[error("`motors.count` is {count}, but `motors.corners` names {corners}")]
    CornersDiffer { count: i64, corners: usize },
    /// Rests that go up and down.
    #[error("`{key}`: the rest pulses must rise from position to position, or fall")]
    NotMonotonic { key: String },
    /// Two switches or sticks on one channel.
    #[error("channel {channel} carries both {first} and {second}")]
    ChannelTwice { channel: u32, first: String, second: String },
    /// A pattern of row names without its place for the number.
    #[error("`{key}` = \"{found}\" must hold `{{row}}` once")]
    NoRowMark { key: String, found: String },
    /// A line or a pattern of a console that cannot be used.
    #[error("`{key}` = \"{found}\": {cause}")]
    BadConsole { key: String, found: String, cause: String },
    /// Something that the sheet promises and its link has nothing for.
    #[error("`{key}` says what the {link} must give, but there is no [{link}.{need}]")]
    NotInConsole { key: String, link: &'static str, need: &'static str },
    /// Packets that cannot be.
    #[error("`{key}`: {cause}")]
    BadPacket { key: String, cause: String, hint: String },
}

fn span(least: usize, most: usize) -> String {
    if least == most { format!("{least} is") } else { format!("{least} to {most} are") }
}

fn listed(known: &[String]) -> Option<String> {
    (!known.is_empty()).then(|| format!("allowed: {}", known.join(", ")))
}

impl Problem {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        let nearest_or = |nearest: &Option<String>, known: &[String]| {
            nearest.as_ref().map(|near| format!("did you mean `{near}`?")).or_else(|| listed(known))
        };
        match self {
            Self::UnknownKey { nearest, known, .. } | Self::UnknownWord { nearest, known, .. } => {
                nearest_or(nearest, known)
            }
            Self::GoneKey { .. } => Some("delete the line".to_owned()),
            Self::UnknownSetting { nearest, .. } => Some(match nearest {
                Some(near) => format!("did you mean `{near}`?"),
                None => "list a setting that has no word under [raw], by the board's own name".to_owned(),
            }),
            Self::MissingKey { why, .. } => (!why.is_empty()).then(|| (*why).to_owned()),
            Self::WrongUnit { allowed, .. } => Some(format!("units of this word: {allowed}")),
            Self::NotAName { .. } => Some("a setting's name is 1 to 16 printable ASCII characters".to_owned()),
            Self::UnfitName { rule, .. } => Some((*rule).to_owned()),
            Self::SettingTwice { .. } => Some("leave one of them out".to_owned()),
            Self::EffectLowered { .. } => Some("a sheet can only raise an effect; leave the key out".to_owned()),
            Self::NotClosed { .. } => Some(
                "give two ends between which no pulse lies, such as two equal ones; where both lie inside, the lower \
                     has to be above the upper"
                    .to_owned(),
            ),
            Self::NoArm { .. } => Some("every board has a function `arm`: say where its ends stand".to_owned()),
            Self::NoRowMark { .. } => {
                Some("write the row's number as `{row}`, such as \"ROW{row}_CHANNEL\"".to_owned())
            }
            Self::NotInConsole { key, link, need } => Some(format!("add [{link}.{need}], or take `{key}` back")),
            Self::BadPacket { hint, .. } => Some(hint.clone()),
            Self::ChannelTwice { .. } => {
                Some("take one of the two out of the card; `find switch …` or `find sticks` finds it again".to_owned())
            }
            Self::UnknownEdition { .. } => Some("a newer program may read it".to_owned()),
            Self::ChannelExists { .. } => {
                Some("give the number that stands for no channel: 0, or one from 19 up".to_owned())
            }
            Self::TooLarge { .. } => Some("is this the file that was meant?".to_owned()),
            _ => None,
        }
    }
}
