//! Why a request was refused on any link, in words for the person at the bench.
//!
//! Must not be here: what one link alone can say no to (see the `refusal` of each).

use super::console::Capability;
use super::motor_run::OutOfBounds;
use super::value::{Number, SettingName};
use thiserror::Error;

/// Reasons that every link, or every link of a sheet, has.
#[derive(Debug, Clone, PartialEq, Error)]
#[expect(missing_docs, reason = "the fields are the parts of the sentence above them")]
pub enum Common {
    /// The sheet does not say how.
    #[error("this board's sheet gives no {what}: it has no [{link}.{key}]", what = need.words(), key = need.key())]
    NotGiven { link: &'static str, need: Capability },
    /// A write before the board's settings were read.
    #[error("the board's settings were not read yet, so nothing is written: read all settings first")]
    NotListed,
    /// A whole number is needed.
    #[error("{value} is not a whole number, but setting {name} holds only whole numbers")]
    NotWhole { name: SettingName, value: Number },
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
