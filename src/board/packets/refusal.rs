//! Why a request over packets was refused, in words for the person at the bench.

use super::super::refusal::Common;
use super::super::value::{Number, SettingName};
use super::framing::FrameFault;
use thiserror::Error;

/// Reasons of a refusal, by us or by the board.
#[derive(Debug, Clone, PartialEq, Error)]
#[expect(missing_docs, reason = "the fields are the parts of the sentence above them")]
pub enum Refusal {
    /// A name that stands in no packet.
    #[error("no packet of the sheet holds a setting {0}, so nothing is sent for it")]
    Unknown(SettingName),
    /// A packet that nothing writes.
    #[error("{name} stands in [packets.settings.{packet}], and the sheet has no packet that writes that one")]
    NotWritable { name: SettingName, packet: String },
    /// A number that its field can't hold.
    #[error("{value} does not fit into the field of {name}, so nothing is written")]
    DoesNotFit { name: SettingName, value: Number },
    /// What is written besides is not what it was.
    #[error(
        "{what} is not what it was when the settings were read, and would have been written with {name}: \
         nothing was written; read all settings again"
    )]
    NeighbourDiffers { what: String, name: SettingName },
    /// What was written besides came out as something else.
    #[error(
        "{name} was written, and with it {what} changed, which was not meant: read all settings again, and put it right"
    )]
    NeighbourChanged { what: String, name: SettingName },
    /// The board said no.
    #[error("the board answered no{}", if .0.is_empty() { String::new() } else { format!(": {}", .0) })]
    Board(String),
    /// An answer of another length than the sheet's layout.
    #[error(
        "the board's answer has {found} bytes, and the layout in {table} has {wanted}: the sheet is not this board's"
    )]
    Length { table: String, found: usize, wanted: usize },
    /// An answer in which no value stands that could be one.
    #[error("the board's answer holds no value that could be one, by the layout in {0}")]
    Unreadable(String),
    /// Bytes came that are no whole packet.
    #[error("no answer was understood; what came was {0}")]
    Damaged(FrameFault),
    /// Another packet came.
    #[error("the board answered with packet {0:#04x}, which is the answer to another question")]
    Other(u16),
    /// A signal that the board gives by itself alone.
    #[error("a write begins with what the board holds then, so its bytes can't be told before it is asked")]
    NotForeseen,
    /// What any link may say.
    #[error(transparent)]
    Common(#[from] Common),
}
