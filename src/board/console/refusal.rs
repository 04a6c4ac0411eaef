//! Why a request over a console was refused, in words for the person at the bench.

use super::super::refusal::Common;
use super::super::value::SettingName;
use super::template::ValueError;
use thiserror::Error;

/// Reasons of a refusal, by us or by the board.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum Refusal {
    /// A name that the board did not give.
    #[error("the board has not named a setting {0}, so nothing is sent for it: read all settings first")]
    Unknown(SettingName),
    /// A value or a name that cannot stand in a line.
    #[error(transparent)]
    Value(#[from] ValueError),
    /// The board said no.
    #[error("the board answered: {0}")]
    Board(String),
    /// An answer that is not the sheet's.
    #[error("the board's answer is not the one that its sheet gives: {0}")]
    Strange(String),
    /// A list with fewer settings than the board says, or more than any board has.
    #[error("the list of settings came with gaps: {have} of {of}; read them again")]
    #[expect(missing_docs, reason = "the fields are the parts of the sentence above them")]
    Gaps { have: u32, of: u32 },
    /// More settings than are read.
    #[error("the board lists more settings than any board has: {0}")]
    Endless(u32),
    /// The value of a setting is no number.
    #[error("the board's value of setting {0} is no number")]
    Unreadable(SettingName),
    /// What any link may say.
    #[error(transparent)]
    Common(#[from] Common),
}
