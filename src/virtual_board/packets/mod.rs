//! Boards that speak in packets: the Finch P and the Finch Q, and any that is described.
//!
//! The packets of those two are binary, small, and ours, drawn from no protocol that exists: the Finch P begins each with
//! two start bytes and its length; the Finch Q stuffs its bytes between zeros, numbers its questions, and writes the highest
//! byte first. Must not be here: what a store, a restart or a run is, which is the same on every link.

mod answers;
mod by_hand;
mod frame;
mod layout;
mod speech;

pub(super) use frame::Packets;
pub use speech::{Came, PacketAnswer, PacketQuestion, PacketSpeech, Signal, SignalReading, Speech};

/// What such a board does wrong with the packets that hold its settings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PacketFault {
    /// Nothing.
    #[default]
    Sound,
    /// Each holds a byte too few.
    Length,
    /// Each has a wrong checksum.
    Sum,
    /// Each has no end.
    Endless,
    /// It answers with another than was asked for.
    Other,
    /// A write changes the setting beside it as well.
    Neighbour,
    /// The last byte of each counts how many were told.
    Counter,
}

impl PacketFault {
    /// All, each with its word on a world line.
    pub(super) const ALL: [(&'static str, Self); 7] = [
        ("sound", Self::Sound),
        ("length", Self::Length),
        ("sum", Self::Sum),
        ("endless", Self::Endless),
        ("other", Self::Other),
        ("neighbour", Self::Neighbour),
        ("counter", Self::Counter),
    ];
}
