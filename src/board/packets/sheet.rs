//! What a sheet says of a board that speaks in packets: framing, the question and the answer for each need, settings.
//!
//! Built only by the strict reader (`sheet_file::packets`).

use super::super::console::Capability;
use super::super::signals::Stream;
use super::super::value::SettingName;
use super::field::Field;
use super::framing::{Delimiting, Framing, Packet};
use std::collections::BTreeMap;
use std::time::Duration;

/// Bytes of a stop at most: so many leave in one write while motors may turn (`interlock.md` 7).
pub const LONGEST_STOP: usize = 64;

/// A board's packets.
#[derive(Debug, Clone, PartialEq)]
pub struct PacketSheet {
    /// How they stand on the wire; its byte order is that of the fields too.
    pub framing: Framing,
    /// An answer takes no longer than this.
    pub answer_within: Duration,
    /// How many questions that only read may wait for their answers together.
    pub at_once: usize,
    /// What the board gives besides its settings, and how it is asked.
    pub exchanges: BTreeMap<Capability, Exchange>,
    /// The packets that hold its settings.
    pub settings: Vec<SettingsPacket>,
    /// An answer that means no, to any question; fields `asked` and `why`.
    pub refusal: Option<Shape>,
    /// What it says unasked; field `text`.
    pub note: Option<Shape>,
    /// What it says when it starts.
    pub banner: Option<Shape>,
}

/// A packet to send.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ask {
    /// Its id.
    pub id: u16,
    /// Its payload, before anything is put into it.
    pub payload: Vec<u8>,
}

/// A packet of the board's.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// Its id.
    pub id: u16,
    /// The bytes with which its payload begins, where they tell it from others with its id.
    pub begins: Vec<u8>,
    /// Bytes of its payload.
    pub length: usize,
    /// Whether it may be longer.
    pub longer: bool,
    /// Its fields by their words.
    pub fields: BTreeMap<&'static str, Field>,
}

impl Shape {
    /// Whether a packet is one of these, whatever its length.
    #[must_use]
    pub fn is(&self, id: u16, payload: &[u8]) -> bool {
        self.id == id && payload.starts_with(&self.begins)
    }

    /// Whether a payload has the length that it must have.
    #[must_use]
    pub fn fits(&self, payload: &[u8]) -> bool {
        payload.len() == self.length || self.longer && payload.len() > self.length
    }
}

/// One question and its answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Exchange {
    /// The question; `None`: the board says it by itself.
    pub ask: Option<Ask>,
    /// What is put into the question.
    pub put: BTreeMap<&'static str, Field>,
    /// The answer; `None`: there is none.
    pub answer: Option<Shape>,
    /// Whether the board also says it unasked.
    pub unasked: bool,
}

/// A packet of settings: asked for whole, and written whole.
#[derive(Debug, Clone, PartialEq)]
pub struct SettingsPacket {
    /// The key of its table, under `packets.settings`.
    pub key: String,
    /// The question.
    pub ask: Ask,
    /// The answer.
    pub answer: Shape,
    /// The settings in it.
    pub fields: Vec<(SettingName, Field)>,
    /// Id of the packet that writes it, with the payload of the answer; `None`: it can't be written.
    pub write: Option<u16>,
    /// The answer to that; `None`: there is none.
    pub written: Option<Shape>,
}

impl PacketSheet {
    /// How a need is met, if it is.
    #[must_use]
    pub fn exchange(&self, need: Capability) -> Option<&Exchange> {
        self.exchanges.get(&need)
    }

    /// Whether the board gives a need.
    #[must_use]
    pub fn provides(&self, need: Capability) -> bool {
        match need {
            Capability::List | Capability::Read => true,
            Capability::Write => self.settings.iter().any(|packet| packet.write.is_some()),
            need => self.exchanges.contains_key(&need),
        }
    }

    /// Whether the board gives a signal.
    #[must_use]
    pub fn gives(&self, stream: Stream) -> bool {
        self.provides(Capability::of(stream))
    }

    /// The longest payload of all packets that are sent, and the table that it stands in.
    #[must_use]
    pub fn longest_sent(&self) -> (usize, String) {
        let asks = self.exchanges.iter().filter_map(|(need, exchange)| {
            Some((exchange.ask.as_ref()?.payload.len(), format!("[packets.{}]", need.key())))
        });
        let settings = self.settings.iter().map(|packet| {
            let written = packet.write.map_or(0, |_| packet.answer.length);
            (written.max(packet.ask.payload.len()), format!("[packets.settings.{}]", packet.key))
        });
        asks.chain(settings).max_by_key(|(length, _)| *length).unwrap_or_default()
    }

    /// The stop's own bytes, in every state of the wire: where nothing but a length ends a packet, so often that the
    /// longest one that was left half sent, a write among them, swallows some and not all.
    #[must_use]
    pub fn stop_row(&self) -> Option<Vec<u8>> {
        let ask = self.exchange(Capability::Stop)?.ask.as_ref()?;
        let one = self.framing.encode(&Packet { id: ask.id, sequence: 0, payload: ask.payload.clone() });
        let longest = one.len() - ask.payload.len() + self.longest_sent().0;
        let count = match self.framing.way {
            Delimiting::Length { .. } => 1 + longest.div_ceil(one.len()),
            Delimiting::Cobs | Delimiting::Slip => 1,
        };
        Some(one.repeat(count))
    }

    /// The signals that the question for one asks for: it, and each other that the same packets ask for and tell.
    pub fn told_with(&self, stream: Stream) -> impl Iterator<Item = (Stream, &Shape)> {
        let of = |stream: Stream| self.exchange(Capability::of(stream));
        let same = move |other: &Stream| match (of(stream), of(*other)) {
            (Some(one), Some(other)) => {
                let shapes =
                    |exchange: &Exchange| exchange.answer.as_ref().map(|shape| (shape.id, shape.begins.clone()));
                one.ask == other.ask && shapes(one) == shapes(other)
            }
            _ => false,
        };
        let all = Stream::ALL.into_iter().filter(move |other| *other == stream || same(other));
        all.filter_map(move |other| Some((other, of(other)?.answer.as_ref()?)))
    }

    /// The place of the packet that holds a setting, and its field.
    #[must_use]
    pub fn setting(&self, name: &SettingName) -> Option<(usize, &Field)> {
        self.settings.iter().enumerate().find_map(|(place, packet)| {
            packet.fields.iter().find(|(known, _)| known == name).map(|(_, field)| (place, field))
        })
    }

    /// Every setting, in the order of the packets.
    pub fn names(&self) -> impl Iterator<Item = &SettingName> {
        self.settings.iter().flat_map(|packet| &packet.fields).map(|(name, _)| name)
    }
}
