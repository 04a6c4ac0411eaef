//! Why a request was refused, in words for the person at the bench.
//!
//! Every sentence says what is wrong and, where there is something to do, what to do.

use super::param_type::{Encoding, ParamType};
use crate::board::refusal::Common;
use crate::board::value::{Number, SettingName};
use thiserror::Error;

/// Reasons of a refusal, by us or by the board.
#[derive(Debug, Clone, PartialEq, Error)]
#[expect(missing_docs, reason = "the fields are the parts of the sentence above them")]
pub enum Refusal {
    /// Nothing is bound yet.
    #[error("no board has been heard on this wire yet: wait for its first sign of life")]
    NoBoard,
    /// A setting told by a name that is none.
    #[error(
        "the board tells a setting by a name that is none, `{0}`: names have 1 to 16 printable characters; no copy of its \
         settings would be whole"
    )]
    BadName(String),
    /// A write needs the type.
    #[error("the type of setting {0} is not known, because it was not read from this board yet: read it first")]
    NotRead(SettingName),
    /// Capability bits name no encoding, or were not asked for.
    #[error("the board has not said how it encodes whole numbers, so nothing is written: ask who it is first")]
    EncodingUnsaid,
    /// No reading has confirmed the capability bits.
    #[error(
        "the encoding of whole numbers is not proved yet, so nothing is written: read all settings first, one of \
         them must be a whole number other than zero"
    )]
    EncodingUnproved,
    /// Capability bits and values contradict each other.
    #[error(
        "the board says that it encodes whole numbers {said}, but values that it sent are encoded otherwise: nothing \
         is written to it"
    )]
    EncodingContradicts { said: Encoding },
    /// Some of a reading's whole numbers can't be understood.
    #[error(
        "the board does not say how it encodes whole numbers, and its values leave it open: they can't be read safely"
    )]
    EncodingOpen,
    /// The value does not fit the setting's type.
    #[error("{value} does not fit setting {name}: its type is {kind}, from {least} to {most}")]
    OutOfRange { name: SettingName, value: Number, kind: ParamType, least: i64, most: i64 },
    /// The encoding would round it.
    #[error(
        "{value} can't be sent to setting {name} exactly: this board takes numbers as 32-bit reals, which are exact \
         to 24 bits"
    )]
    NotExact { name: SettingName, value: Number },
    /// Not a number, or too large for the wire.
    #[error("the value for setting {0} is not a finite 32-bit number")]
    NotFinite(SettingName),
    /// A value that can't be used.
    #[error("the board's value of setting {0} is not finite, or no number of its type")]
    Unreadable(SettingName),
    /// A type that the wire does not carry.
    #[error(
        "setting {0} is of a 64-bit type, which the standard's messages for settings do not carry: it is neither read \
         nor written here"
    )]
    TooWide(SettingName),
    /// A command's result, other than accepted.
    #[error("the board answered: {0}")]
    Result(CommandResult),
    /// A setting's error.
    #[error("the board refused setting {name}: {error}")]
    Setting { name: SettingName, error: SettingError },
    /// The board stopped a reading of all settings.
    #[error("the board refused to list its settings: {0}")]
    List(SettingError),
    /// The number of settings changed twice while they were read.
    #[error("the board's number of settings changed while they were read: read them again")]
    ListChanged,
    /// Some settings never came.
    #[error(
        "the board announced {of} settings and sent {have} of them, then no more: check the cable, then read them again"
    )]
    ListIncomplete { have: u16, of: u16 },
    /// A setting stands at a place that there is not, so that more may be missing.
    #[error(
        "the board announced {of} settings, but sent one at place {place}, counted from 0: its list can't be trusted to \
         be whole"
    )]
    ListCount { place: u16, of: u16 },
    /// The outgoing gate did not know the frame.
    #[error("the frame was not let out, because the outgoing gate does not know its kind")]
    Gate,
    /// What any link may say.
    #[error(transparent)]
    Common(#[from] Common),
}

/// `MAV_RESULT` of the standard (common.xml), other than accepted and in progress.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[expect(missing_docs, reason = "each is named as in the standard and says itself in its sentence")]
pub enum CommandResult {
    #[error("not now (temporarily rejected); try again later")]
    TemporarilyRejected,
    #[error("denied; a value of the command is not allowed")]
    Denied,
    #[error("unsupported; it does not know this command")]
    Unsupported,
    #[error("failed; something must be put right first")]
    Failed,
    #[error("cancelled")]
    Cancelled,
    #[error("only taken in the long form of a command")]
    LongOnly,
    #[error("only taken in the integer form of a command")]
    IntOnly,
    #[error("the frame of reference is not supported")]
    FrameUnsupported,
    #[error("another station is in control")]
    NotInControl,
    #[error("result {0}, which the standard does not name")]
    Unnamed(u8),
}

impl CommandResult {
    /// From the number on the wire.
    #[must_use]
    pub fn of(number: u8) -> Self {
        match number {
            1 => Self::TemporarilyRejected,
            2 => Self::Denied,
            3 => Self::Unsupported,
            4 => Self::Failed,
            6 => Self::Cancelled,
            7 => Self::LongOnly,
            8 => Self::IntOnly,
            9 => Self::FrameUnsupported,
            10 => Self::NotInControl,
            other => Self::Unnamed(other),
        }
    }
}

/// `MAV_PARAM_ERROR` of the standard (common.xml).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[expect(missing_docs, reason = "each is named as in the standard and says itself in its sentence")]
pub enum SettingError {
    #[error("it does not exist")]
    DoesNotExist,
    #[error("the value is out of its range")]
    OutOfRange,
    #[error("it may not be changed by this station")]
    PermissionDenied,
    #[error("the component is not known")]
    ComponentNotFound,
    #[error("it can only be read")]
    ReadOnly,
    #[error("its type is not supported")]
    TypeUnsupported,
    #[error("its type is another one")]
    TypeMismatch,
    #[error("it could not be read")]
    ReadFail,
    #[error("error {0}, which the standard does not name")]
    Unnamed(u8),
}

impl SettingError {
    /// From the number on the wire.
    #[must_use]
    pub fn of(number: u8) -> Self {
        match number {
            1 => Self::DoesNotExist,
            2 => Self::OutOfRange,
            3 => Self::PermissionDenied,
            4 => Self::ComponentNotFound,
            5 => Self::ReadOnly,
            6 => Self::TypeUnsupported,
            7 => Self::TypeMismatch,
            8 => Self::ReadFail,
            other => Self::Unnamed(other),
        }
    }
}
