//! Questions to a board: what each is for, its packet, and what may be done with it after no answer.

use super::super::console::Capability;
use super::super::signals::{Outgoing, Stream, Ticket};
use super::super::value::{Number, SettingName};
use super::refusal::Refusal;
use super::sheet::{PacketSheet, Shape};
use crate::measure::time::Time;

/// A setting to be written, and the place of its packet.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Change {
    pub(super) ticket: Ticket,
    pub(super) name: SettingName,
    pub(super) value: Number,
    pub(super) packet: usize,
}

/// What a question is for.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Purpose {
    Poll(Stream),
    Identify(Ticket),
    /// One packet of all settings, by its place.
    Part(Ticket, usize),
    Read(Ticket, usize),
    /// The packet as it is just before it is written.
    Before(Change),
    /// The packet written whole.
    Write(Change),
    /// The packet read back; whether the board acknowledged that it was written.
    Back(Change, bool),
    Store(Ticket),
    Restart(Ticket),
    Run(Ticket),
    Disarm(Ticket),
}

impl Purpose {
    pub(super) fn ticket(&self) -> Option<Ticket> {
        match self {
            Self::Poll(_) => None,
            Self::Before(change) | Self::Write(change) | Self::Back(change, _) => Some(change.ticket),
            Self::Identify(ticket)
            | Self::Part(ticket, _)
            | Self::Read(ticket, _)
            | Self::Store(ticket)
            | Self::Restart(ticket)
            | Self::Run(ticket)
            | Self::Disarm(ticket) => Some(*ticket),
        }
    }

    /// The need behind it, where it is not about settings.
    pub(super) fn need(&self) -> Option<Capability> {
        Some(match self {
            Self::Poll(stream) => Capability::of(*stream),
            Self::Identify(_) => Capability::Identity,
            Self::Store(_) => Capability::Store,
            Self::Restart(_) => Capability::Restart,
            Self::Run(_) => Capability::RunMotor,
            Self::Disarm(_) => Capability::Stop,
            Self::Part(..) | Self::Read(..) | Self::Before(_) | Self::Write(_) | Self::Back(..) => return None,
        })
    }

    /// The place of the packet of settings that it is about.
    pub(super) fn packet(&self) -> Option<usize> {
        match self {
            Self::Part(_, packet) | Self::Read(_, packet) => Some(*packet),
            Self::Before(change) | Self::Write(change) | Self::Back(change, _) => Some(change.packet),
            _ => None,
        }
    }

    /// The answer that it waits for, if there is one.
    pub(super) fn answer<'s>(&self, sheet: &'s PacketSheet) -> Option<&'s Shape> {
        match (self.packet(), self) {
            (Some(packet), Self::Write(_)) => sheet.settings.get(packet)?.written.as_ref(),
            (Some(packet), _) => sheet.settings.get(packet).map(|packet| &packet.answer),
            (None, _) => sheet.exchange(self.need()?)?.answer.as_ref(),
        }
    }

    /// Where its layout stands in the sheet.
    pub(super) fn table(&self, sheet: &PacketSheet) -> String {
        match (self.packet().and_then(|packet| sheet.settings.get(packet)), self.need()) {
            (Some(packet), _) => format!("[packets.settings.{}]", packet.key),
            (None, Some(need)) => format!("[packets.{}]", need.key()),
            (None, None) => "[packets]".to_owned(),
        }
    }

    /// Whether it only reads, so that others that do may wait for their answers beside it.
    pub(super) fn reads(&self) -> bool {
        matches!(self, Self::Poll(_) | Self::Identify(_) | Self::Part(..) | Self::Read(..))
    }

    /// Whether it may be sent again: it only reads, or it only stops.
    pub(super) fn repeats(&self) -> bool {
        self.reads() || matches!(self, Self::Before(_) | Self::Back(..) | Self::Disarm(_))
    }

    /// Whether a stop takes it away for good: nothing that could start, change or store goes on after one.
    pub(super) fn overtaken(&self) -> bool {
        !matches!(self, Self::Disarm(_)) && !self.reads()
    }

    /// Whether it goes before whatever waits.
    pub(super) fn urgent(&self) -> bool {
        matches!(self, Self::Disarm(_) | Self::Run(_))
    }
}

/// A question, to be sent or sent.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Question {
    pub(super) what: Purpose,
    pub(super) id: u16,
    pub(super) payload: Vec<u8>,
    /// How often it was sent.
    pub(super) sent: u8,
    /// What came instead of its answer.
    pub(super) instead: Option<Refusal>,
}

impl Question {
    pub(super) fn new(what: Purpose, id: u16, payload: Vec<u8>) -> Self {
        Self { what, id, payload, sent: 0, instead: None }
    }
}

/// A question that waits for its answer.
#[derive(Debug, Clone)]
pub(super) struct Open {
    pub(super) question: Question,
    /// Its number, where the framing has one.
    pub(super) sequence: u16,
    /// What its packet does.
    pub(super) does: Outgoing,
    /// An answer later than this is none.
    pub(super) due: Time,
    /// When it was sent.
    pub(super) sent_at: Time,
}
