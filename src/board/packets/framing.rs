//! How a packet stands on the wire: start bytes and a length, or bytes stuffed between marks; its parts and its checksum.
//!
//! Pure: a packet becomes bytes, and bytes between marks become a packet. Promises: what is made reads back as itself.
//! Must not be here: finding packets in a stream (see `splitter`).

use super::checksum::Checksum;
use super::slip;
use thiserror::Error;

/// Longest payload that any sheet may ask for, bytes.
pub const LONGEST: usize = 1024;

/// Which byte of a number comes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ByteOrder {
    /// The lowest.
    Little,
    /// The highest.
    Big,
}

impl ByteOrder {
    /// The low `size` bytes of a number.
    #[must_use]
    pub fn bytes(self, number: u128, size: usize) -> Vec<u8> {
        let mut bytes: Vec<u8> = number.to_le_bytes().into_iter().take(size).collect();
        if self == Self::Big {
            bytes.reverse();
        }
        bytes
    }

    /// The number of some bytes, at most sixteen.
    #[must_use]
    pub fn number(self, bytes: &[u8]) -> u128 {
        let add = |sum: u128, byte: &u8| sum << 8 | u128::from(*byte);
        match self {
            Self::Little => bytes.iter().rev().fold(0, add),
            Self::Big => bytes.iter().fold(0, add),
        }
    }
}

/// One part of a packet, after its start bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// How long it is, in so many bytes.
    Length(usize),
    /// What it is, in so many bytes.
    Id(usize),
    /// A number that a question carries and its answer repeats, in so many bytes.
    Sequence(usize),
    /// One byte that is always sent so; what the board has there is not looked at.
    Fixed(u8),
    /// What it says.
    Payload,
    /// Its checksum.
    Checksum,
}

/// What a length counts and a checksum is taken over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Span {
    /// The start bytes.
    Start,
    /// The part at this place.
    Part(usize),
}

/// How the ends of a packet are told.
#[derive(Debug, Clone, PartialEq)]
pub enum Delimiting {
    /// By start bytes and a length.
    Length {
        /// Before every packet that is sent.
        start: Vec<u8>,
        /// Before every packet of the board's.
        heard: Vec<u8>,
        /// What the length counts.
        counts: Vec<Span>,
    },
    /// By zeros, of which a packet holds none: consistent overhead byte stuffing.
    Cobs,
    /// By END, after RFC 1055.
    Slip,
}

/// A framing.
#[derive(Debug, Clone, PartialEq)]
pub struct Framing {
    /// How its ends are told.
    pub way: Delimiting,
    /// Its parts, in their order; one of them is the payload, one the id.
    pub parts: Vec<Part>,
    /// The checksum, and what it is taken over.
    pub sum: Option<(Checksum, Vec<Span>)>,
    /// Which byte of length, id, sequence and checksum comes first.
    pub order: ByteOrder,
    /// Longest payload, bytes.
    pub most: usize,
}

/// A packet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Packet {
    /// What it is.
    pub id: u16,
    /// Its number, where the framing has one; else 0.
    pub sequence: u16,
    /// What it says.
    pub payload: Vec<u8>,
}

/// What is wrong with bytes that should be a packet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum FrameFault {
    /// Its checksum is another.
    #[error("a packet whose checksum is wrong")]
    Sum,
    /// It is longer than any that the sheet knows, or has no end.
    #[error("a packet longer than the sheet's longest, or without an end")]
    TooLong,
    /// Its length can't be: it counts fewer bytes than there must be, or more than there may.
    #[error("a packet whose length can't be")]
    Length,
    /// Too short to hold its own parts.
    #[error("a packet too short for its own parts")]
    Short,
    /// Stuffed as no packet is.
    #[error("a packet whose byte stuffing is damaged")]
    Stuffing,
}

impl Framing {
    /// Bytes of a part; the payload's are not known beforehand.
    pub(super) fn size(&self, part: Part) -> usize {
        match part {
            Part::Length(size) | Part::Id(size) | Part::Sequence(size) => size,
            Part::Fixed(_) => 1,
            Part::Payload => 0,
            Part::Checksum => self.sum.as_ref().map_or(0, |(sum, _)| sum.size()),
        }
    }

    /// Bytes of the parts before the payload, and after it.
    #[must_use]
    pub(super) fn around(&self) -> (usize, usize) {
        let at = self.parts.iter().position(|part| *part == Part::Payload).unwrap_or(self.parts.len());
        let sum = |parts: &[Part]| parts.iter().map(|part| self.size(*part)).sum();
        (sum(&self.parts[..at]), sum(self.parts.get(at + 1..).unwrap_or_default()))
    }

    /// What the length says of a packet with so many start bytes and such a payload; `None`: it has no length.
    fn counted(&self, start: usize, payload: usize) -> Option<usize> {
        let Delimiting::Length { counts, .. } = &self.way else { return None };
        Some(
            counts
                .iter()
                .map(|span| match span {
                    Span::Start => start,
                    Span::Part(at) => match self.parts.get(*at) {
                        Some(Part::Payload) => payload,
                        Some(part) => self.size(*part),
                        None => 0,
                    },
                })
                .sum(),
        )
    }

    /// What the length says of a packet with the longest payload.
    #[must_use]
    pub fn longest_counted(&self) -> Option<usize> {
        let Delimiting::Length { start, heard, .. } = &self.way else { return None };
        self.counted(start.len().max(heard.len()), self.most)
    }

    /// The payload's bytes by the parts that stand before it; `None`: the length can't be.
    pub(super) fn payload_by(&self, head: &[u8]) -> Option<usize> {
        let Delimiting::Length { heard, .. } = &self.way else { return None };
        let mut at = 0;
        for part in &self.parts {
            if let Part::Length(size) = part {
                let said = usize::try_from(self.order.number(head.get(at..at + size)?)).ok()?;
                return said.checked_sub(self.counted(heard.len(), 0)?).filter(|payload| *payload <= self.most);
            }
            at += self.size(*part);
        }
        None
    }

    /// The checksum of a packet of which `body` is everything behind `start`.
    fn sum_of(&self, start: &[u8], body: &[u8], payload: usize) -> Option<Vec<u8>> {
        let (sum, over) = self.sum.as_ref()?;
        Some(self.order.bytes(sum.of(&self.summed(over, start, body, payload)?), sum.size()))
    }

    /// What of such a packet a checksum over these parts is taken over.
    pub(super) fn summed(&self, over: &[Span], start: &[u8], body: &[u8], payload: usize) -> Option<Vec<u8>> {
        let mut summed = Vec::new();
        if over.contains(&Span::Start) {
            summed.extend_from_slice(start);
        }
        let mut at = 0;
        for (place, part) in self.parts.iter().enumerate() {
            let size = if *part == Part::Payload { payload } else { self.size(*part) };
            if over.contains(&Span::Part(place)) {
                summed.extend_from_slice(body.get(at..at + size)?);
            }
            at += size;
        }
        Some(summed)
    }

    /// The parts of a packet behind its start bytes.
    fn body(&self, start: &[u8], packet: &Packet) -> Vec<u8> {
        let mut body = Vec::with_capacity(packet.payload.len() + 16);
        let mut sum_at = None;
        for part in &self.parts {
            match *part {
                Part::Length(size) => {
                    let counted = self.counted(start.len(), packet.payload.len()).unwrap_or(packet.payload.len());
                    body.extend(self.order.bytes(counted as u128, size));
                }
                Part::Id(size) => body.extend(self.order.bytes(packet.id.into(), size)),
                Part::Sequence(size) => body.extend(self.order.bytes(packet.sequence.into(), size)),
                Part::Fixed(byte) => body.push(byte),
                Part::Payload => body.extend_from_slice(&packet.payload),
                Part::Checksum => {
                    sum_at = Some(body.len());
                    body.resize(body.len() + self.size(*part), 0);
                }
            }
        }
        if let (Some(at), Some(sum)) = (sum_at, self.sum_of(start, &body, packet.payload.len())) {
            body[at..at + sum.len()].copy_from_slice(&sum);
        }
        body
    }

    /// The bytes of a packet.
    #[must_use]
    pub fn encode(&self, packet: &Packet) -> Vec<u8> {
        match &self.way {
            Delimiting::Length { start, .. } => [start.clone(), self.body(start, packet)].concat(),
            // A mark before it as well: what stood half sent on the wire ends there (RFC 1055, "PROTOCOL").
            Delimiting::Cobs => [vec![0], cobs::encode_vec(&self.body(&[], packet)), vec![0]].concat(),
            Delimiting::Slip => [vec![slip::END], slip::stuff(&self.body(&[], packet)), vec![slip::END]].concat(),
        }
    }

    /// A packet out of what stands behind its start bytes, or of what was stuffed.
    ///
    /// # Errors
    /// Too short or too long, or another checksum.
    pub(super) fn decode(&self, start: &[u8], body: &[u8]) -> Result<Packet, FrameFault> {
        let (before, after) = self.around();
        let payload = body.len().checked_sub(before + after).ok_or(FrameFault::Short)?;
        if payload > self.most {
            return Err(FrameFault::TooLong);
        }
        let mut packet = Packet { id: 0, sequence: 0, payload: body[before..before + payload].to_vec() };
        let mut at = 0;
        for part in &self.parts {
            let size = if *part == Part::Payload { payload } else { self.size(*part) };
            let bytes = &body[at..at + size];
            at += size;
            let number = || u16::try_from(self.order.number(bytes)).unwrap_or(u16::MAX);
            match part {
                Part::Id(_) => packet.id = number(),
                Part::Sequence(_) => packet.sequence = number(),
                Part::Checksum if self.sum_of(start, body, payload).as_deref() != Some(bytes) => {
                    return Err(FrameFault::Sum);
                }
                Part::Length(_)
                    if self
                        .counted(start.len(), payload)
                        .is_some_and(|counted| counted as u128 != self.order.number(bytes)) =>
                {
                    return Err(FrameFault::Length);
                }
                Part::Length(_) | Part::Fixed(_) | Part::Payload | Part::Checksum => {}
            }
        }
        Ok(packet)
    }

    /// The same as the board has it: what it hears is what was sent.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        let way = match &self.way {
            Delimiting::Length { start, heard, counts } => {
                Delimiting::Length { start: heard.clone(), heard: start.clone(), counts: counts.clone() }
            }
            way => way.clone(),
        };
        Self { way, ..self.clone() }
    }

    /// How many numbers a question can carry; `None`: it carries none.
    #[must_use]
    pub fn sequences(&self) -> Option<u16> {
        self.parts.iter().find_map(|part| match part {
            Part::Sequence(1) => Some(u16::from(u8::MAX)),
            Part::Sequence(_) => Some(u16::MAX),
            _ => None,
        })
    }
}
