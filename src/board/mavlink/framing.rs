//! Bytes of a wire into whole MAVLink frames, version 1 and 2.
//!
//! Junk is skipped, a half frame is kept for the next bytes, a wrong checksum is refused and the search goes on
//! behind its first byte. A frame with an unknown id is carried past in one piece. Knows nothing of what frames mean.
//! Source of the layout: MAVLink developer guide, `guide/serialization`.

use super::signing::Seal;
use crate::measure::checksum;
use crate::measure::time::Time;
use mavlink::dialects::common::MavMessage;
use mavlink::{MAV_STX, MAV_STX_V2, MavlinkVersion, Message};
use std::collections::BTreeSet;
use std::time::Duration;

/// How long a half frame holds up what follows it. A frame of full length takes 49 ms at 57,600 baud; what is
/// older was cut off, or began with a byte that only looked like a marker.
pub const HALF_FRAME_WAIT: Duration = Duration::from_millis(300);

/// Bytes of a signature, carried here but not judged.
const SIGNATURE: usize = 13;
/// The one bit of the incompatibility flags that is understood: a signature follows.
const SIGNED: u8 = 1;

/// One whole frame whose checksum was right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Frame<'a> {
    /// 1 or 2.
    pub version: u8,
    /// Sequence number of its sender.
    pub sequence: u8,
    /// System that sent it.
    pub system: u8,
    /// Component that sent it.
    pub component: u8,
    /// Message id.
    pub id: u32,
    /// Payload as it came: version 2 cuts trailing zeros.
    pub payload: &'a [u8],
    /// The signature under it, if there is one.
    pub(super) seal: Option<Seal<'a>>,
}

impl Frame<'_> {
    /// Whether a signature was under it; whose, is not judged here.
    #[must_use]
    pub fn signed(&self) -> bool {
        self.seal.is_some()
    }
}

/// What a look at the bytes behind a marker gives.
enum Look {
    /// More bytes are needed to tell.
    Short,
    /// No frame begins here.
    No,
    /// A frame of this many bytes.
    Whole(usize),
    /// What may be a frame of this many bytes, with an id that is not in the dialect.
    Foreign(usize),
}

/// Where the parts of a frame are, told by its first three bytes.
struct Layout {
    header: usize,
    length: usize,
}

fn layout(bytes: &[u8]) -> Option<Layout> {
    let payload = usize::from(*bytes.get(1)?);
    if *bytes.first()? == MAV_STX {
        return Some(Layout { header: 6, length: 6 + payload + 2 });
    }
    let signature = if bytes.get(2)? & SIGNED == 0 { 0 } else { SIGNATURE };
    Some(Layout { header: 10, length: 10 + payload + 2 + signature })
}

/// The byte that a message's definition adds to its checksum; `None` if the dialect does not know the id.
pub(super) fn seed(id: u32) -> Option<u8> {
    let seed = MavMessage::extra_crc(id);
    (seed != 0 || MavMessage::default_message_from_id(id).is_some()).then_some(seed)
}

fn id_of(bytes: &[u8]) -> u32 {
    match bytes {
        [MAV_STX, _, _, _, _, id, ..] => u32::from(*id),
        [_, _, _, _, _, _, _, low, middle, high, ..] => u32::from_le_bytes([*low, *middle, *high, 0]),
        _ => 0,
    }
}

fn look(bytes: &[u8]) -> Look {
    let (Some(&marker), Some(layout)) = (bytes.first(), layout(bytes)) else { return Look::Short };
    // An unknown incompatibility bit: the rest of the frame can't be understood (developer guide).
    if marker == MAV_STX_V2 && bytes[2] & !SIGNED != 0 {
        return Look::No;
    }
    if bytes.len() < layout.length {
        return Look::Short;
    }
    let Some(seed) = seed(id_of(bytes)) else { return Look::Foreign(layout.length) };
    let end = layout.header + usize::from(bytes[1]);
    let told = u16::from_le_bytes([bytes[end], bytes[end + 1]]);
    if told == checksum::add(checksum::add(checksum::START, &bytes[1..end]), &[seed]) {
        Look::Whole(layout.length)
    } else {
        Look::No
    }
}

/// Takes a whole frame apart; `None` unless the bytes are exactly one frame with a right checksum.
#[must_use]
pub fn decode(bytes: &[u8]) -> Option<Frame<'_>> {
    let &marker = bytes.first()?;
    if marker != MAV_STX && marker != MAV_STX_V2 {
        return None;
    }
    match look(bytes) {
        Look::Whole(length) if length == bytes.len() => Some(apart(bytes)),
        _ => None,
    }
}

/// Takes apart what [`look`] has found to be a whole frame, to its last byte.
fn apart(bytes: &[u8]) -> Frame<'_> {
    let (version, from, header) = if bytes[0] == MAV_STX { (1, 2, 6) } else { (2, 4, 10) };
    Frame {
        version,
        sequence: bytes[from],
        system: bytes[from + 1],
        component: bytes[from + 2],
        id: id_of(bytes),
        payload: &bytes[header..header + usize::from(bytes[1])],
        seal: seal(bytes),
    }
}

/// The signature under a whole frame.
fn seal(frame: &[u8]) -> Option<Seal<'_>> {
    (frame[0] == MAV_STX_V2 && frame[2] & SIGNED != 0).then(|| Seal::of(frame))
}

/// Puts a payload, cut as its version wants it, into a frame.
pub(super) fn whole(version: MavlinkVersion, from: [u8; 3], (id, seed): (u32, u8), payload: &[u8]) -> Vec<u8> {
    let length = u8::try_from(payload.len()).unwrap_or(u8::MAX);
    let [sequence, system, component] = from;
    let [low, middle, high, _] = id.to_le_bytes();
    // Room for a signature, too.
    let mut frame = Vec::with_capacity(10 + payload.len() + 2 + SIGNATURE);
    match version {
        MavlinkVersion::V1 => frame.extend([MAV_STX, length, sequence, system, component, low]),
        MavlinkVersion::V2 => {
            frame.extend([MAV_STX_V2, length, 0, 0, sequence, system, component, low, middle, high]);
        }
    }
    frame.extend(payload);
    let sum = checksum::add(checksum::add(checksum::START, &frame[1..]), &[seed]);
    frame.extend(sum.to_le_bytes());
    frame
}

/// The whole frames in some bytes, in order; whatever else is between them is left out.
#[must_use]
pub fn frames(bytes: &[u8]) -> Vec<&[u8]> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(skip) = bytes[at..].iter().position(|b| matches!(*b, MAV_STX | MAV_STX_V2)) {
        at += skip;
        if let Look::Whole(length) = look(&bytes[at..]) {
            found.push(&bytes[at..at + length]);
            at += length;
        } else {
            at += 1;
        }
    }
    found
}

/// What comes out of the wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Piece<'a> {
    /// A frame of the dialect.
    Known(Frame<'a>),
    /// A frame that can't be checked or understood, from a sender that was heard before.
    Foreign { system: u8, component: u8, sequence: u8, seal: Option<Seal<'a>> },
}

/// Finds frames in bytes that come in pieces of any size.
#[derive(Debug, Default)]
pub(super) struct Deframer {
    buffer: Vec<u8>,
    /// Since when the candidate at the front has been waiting for its rest.
    since: Option<Time>,
    senders: BTreeSet<(u8, u8)>,
    /// The last of them.
    last: Option<(u8, u8)>,
}

impl Deframer {
    /// Takes bytes and hands out what they complete. Keeps at most one frame and a byte.
    pub(super) fn feed(&mut self, now: Time, bytes: &[u8], mut take: impl FnMut(Piece)) {
        let mut at = 0;
        let old = self.since.is_some_and(|since| now.since(since) > HALF_FRAME_WAIT);
        // A whole frame of an unknown id may wait for its follower as long as it likes.
        if old && matches!(look(&self.buffer), Look::Short) {
            at = 1;
            self.since = None;
        }
        self.buffer.extend_from_slice(bytes);
        let begun = at;
        while let Some(skip) = self.buffer[at..].iter().position(|b| matches!(*b, MAV_STX | MAV_STX_V2)) {
            at += skip;
            match self.step(at, &mut take) {
                Some(taken) => at += taken,
                None => break,
            }
        }
        let waits = self.buffer[at..].first().is_some_and(|b| matches!(*b, MAV_STX | MAV_STX_V2));
        if !waits {
            self.buffer.clear();
            self.since = None;
            return;
        }
        if at > begun || self.since.is_none() {
            self.since = Some(now);
        }
        self.buffer.drain(..at);
    }

    /// One look at a marker: how many bytes are done with, `None` if more are needed.
    fn step(&mut self, at: usize, take: &mut impl FnMut(Piece)) -> Option<usize> {
        let rest = &self.buffer[at..];
        match look(rest) {
            Look::Short => None,
            Look::No => Some(1),
            Look::Whole(length) => {
                let frame = apart(&rest[..length]);
                let sender = (frame.system, frame.component);
                if self.last.replace(sender) != Some(sender) {
                    self.senders.insert(sender);
                }
                take(Piece::Known(frame));
                Some(length)
            }
            Look::Foreign(length) => {
                let from = if rest[0] == MAV_STX { 2 } else { 4 };
                let (sequence, system, component) = (rest[from], rest[from + 1], rest[from + 2]);
                // Its checksum can't be judged without the dialect's seed. It is taken for a frame if its sender is
                // known and another frame follows right behind; else its inside is searched like junk.
                if !self.senders.contains(&(system, component)) {
                    return Some(1);
                }
                match rest.get(length)? {
                    &(MAV_STX | MAV_STX_V2) => {
                        let seal = seal(&rest[..length]);
                        take(Piece::Foreign { system, component, sequence, seal });
                        Some(length)
                    }
                    _ => Some(1),
                }
            }
        }
    }

    /// Throws away what was half received.
    pub(super) fn clear(&mut self) {
        self.buffer.clear();
        self.since = None;
    }
}
