//! Why a request over a console was refused, in words for the person at the bench.

use super::super::motor_run::OutOfBounds;
use super::super::value::{Number, SettingName};
use super::sheet::Capability;
use super::template::ValueError;
use thiserror::Error;

/// Reasons of a refusal, by us or by the board.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum Refusal {
    /// The sheet has no line for it.
    #[error("this board's sheet gives no {what}: it has no [console.{key}]", what = .0.words(), key = .0.key())]
    NotGiven(Capability),
    /// Arming is the operator's switch; no sheet has a line for it.
    #[error("a board with a console is armed by its switch alone")]
    NoArm,
    /// A write before the board's settings were listed.
    #[error("the board's settings were not read yet, so nothing is written: read all settings first")]
    NotListed,
    /// A name that the board did not give.
    #[error("the board has not named a setting {0}, so nothing is sent for it: read all settings first")]
    Unknown(SettingName),
    /// A value or a name that cannot stand in a line.
    #[error(transparent)]
    Value(#[from] ValueError),
    /// A whole number is needed.
    #[error("{value} is not a whole number, but setting {name} holds only whole numbers")]
    #[expect(missing_docs, reason = "the fields are the parts of the sentence above them")]
    NotWhole { name: SettingName, value: Number },
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
    /// The board started anew in the middle of an answer.
    #[error("the board started anew before it answered")]
    Restarted,
    /// Two readings of all settings at once.
    #[error("all settings are being read already: wait for that to end")]
    ListBusy,
    /// A stop came in between.
    #[error("a stop overtook it")]
    Overtaken,
    /// The gate let it not leave: its reason.
    #[error("{0}")]
    NotNow(String),
    /// A motor run outside of what any link lets pass.
    #[error(transparent)]
    Motor(#[from] OutOfBounds),
    /// A rate of zero.
    #[error("a stream can't be asked for at 0 Hz: leave the rate out to put back what was before")]
    RateZero,
}
