//! MAVLink as the judge of the fault world reads it: framing of both versions, and the few fields that it needs.
//!
//! Shares nothing with the program's own link, nor with the message crate; checked against the frames of the reference
//! library in `tests/board/mavlink/golden.jsonl`. Sources: MAVLink developer guide, `guide/serialization` (layout,
//! checksum, trailing zeros), and `common.xml` (numbers, seeds and field offsets). Must not be here: what is right.

use crc::{CRC_16_MCRF4XX, Crc, Table};
use std::ops::Range;

/// What a frame asks a board for, or tells of one.
#[derive(Debug, Clone, PartialEq)]
pub enum Means {
    /// A sign of life: its armed flag, and whether it comes from a vehicle (no ground station).
    Alive {
        armed: bool,
        vehicle: bool,
    },
    /// Arm (1) or disarm (0), forced or not.
    Arm {
        on: bool,
        forced: bool,
    },
    /// Run one motor, from 1, at this pulse, µs, for so many ms.
    Run {
        motor: u8,
        pulse: u16,
        ms: u32,
    },
    /// Write a setting: name and the value's own bits.
    Write(String, u32),
    /// Store, or (any other first parameter) throw settings away.
    Store(bool),
    Restart,
    /// Requests: streams, messages, settings.
    Asks,
    /// Ends what is open on a console.
    Clears,
    /// A setting told: name and the value's own bits.
    Value(String, u32),
    /// An answer to a command: its number and result.
    Answer(u16, u8),
    /// Who the board is.
    Who(u64),
    /// The commanded pulses of the first four outputs, µs.
    Outputs([u16; 4]),
    /// Another message of this number.
    Other(u32),
}

impl Means {
    /// Whether it could change a craft or drive a motor, or stop one.
    pub fn acts(&self) -> bool {
        !matches!(self, Self::Alive { .. } | Self::Asks | Self::Clears)
    }

    /// Whether it disarms.
    pub fn stops(&self) -> bool {
        matches!(self, Self::Arm { on: false, .. })
    }
}

/// One whole frame, its checksum seen to be right.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    pub sequence: u8,
    pub system: u8,
    pub component: u8,
    pub id: u32,
    /// Of commands: how often it was sent before.
    pub repeat: u8,
    pub means: Means,
    /// What it says without number and checksum: the same for each sending of the same.
    pub payload: Vec<u8>,
}

impl Frame {
    /// The board's own time that came with its outputs, µs.
    pub fn clock(&self) -> Option<u32> {
        matches!(self.means, Means::Outputs(_)).then(|| bits(&self.payload, 0))
    }
}

/// Message number, seed of its checksum, longest payload (`common.xml`, extensions included).
const KNOWN: [(u32, u8, usize); 13] = [
    (0, 50, 9),
    (1, 124, 43),
    (20, 214, 20),
    (21, 159, 2),
    (22, 220, 25),
    (23, 168, 23),
    (30, 39, 28),
    (36, 222, 37),
    (65, 118, 42),
    (66, 148, 6),
    (76, 152, 33),
    (77, 143, 10),
    (148, 178, 78),
];

/// By table of sixteen bytes at once, which is none of the program's.
static CHECKSUM: Crc<u16, Table<16>> = Crc::<u16, Table<16>>::new(&CRC_16_MCRF4XX);

/// How long the frame is that begins here, by its head alone.
fn length(bytes: &[u8]) -> Option<usize> {
    let payload = usize::from(*bytes.get(1)?);
    match bytes[0] {
        0xFE => Some(payload + 8),
        0xFD => Some(payload + 12 + if bytes.get(2)? & 1 == 1 { 13 } else { 0 }),
        _ => None,
    }
}

/// The frame at the beginning of some bytes, and how long it is. A message that is not known is taken on its length.
fn first(bytes: &[u8]) -> Option<(Frame, usize)> {
    let length = length(bytes)?;
    let bytes = bytes.get(..length)?;
    let (head, id) = match bytes[0] {
        0xFE => (6, u32::from(bytes[5])),
        _ => (10, u32::from_le_bytes([bytes[7], bytes[8], bytes[9], 0])),
    };
    let from = if head == 6 { 2 } else { 4 };
    let end = head + usize::from(bytes[1]);
    let known = KNOWN.iter().find(|(known, ..)| *known == id);
    if let Some((_, seed, _)) = known {
        let mut sum = CHECKSUM.digest();
        sum.update(&bytes[1..end]);
        sum.update(&[*seed]);
        if sum.finalize().to_le_bytes() != bytes[end..end + 2] {
            return None;
        }
    }
    let mut payload = bytes[head..end].to_vec();
    payload.resize(payload.len().max(known.map_or(0, |(.., most)| *most)), 0);
    let (sequence, system, component) = (bytes[from], bytes[from + 1], bytes[from + 2]);
    let repeat = if id == 76 { payload[32] } else { 0 };
    let means = means(id, &payload);
    Some((Frame { sequence, system, component, id, repeat, means, payload }, length))
}

fn number(payload: &[u8], at: usize) -> u16 {
    u16::from_le_bytes([payload[at], payload[at + 1]])
}

fn bits(payload: &[u8], at: usize) -> u32 {
    u32::from_le_bytes([payload[at], payload[at + 1], payload[at + 2], payload[at + 3]])
}

fn text(payload: &[u8], at: usize) -> String {
    String::from_utf8_lossy(&payload[at..at + 16]).trim_end_matches('\0').to_owned()
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "pulses, milliseconds and motor numbers")]
fn means(id: u32, payload: &[u8]) -> Means {
    let real = |place: usize| f32::from_bits(bits(payload, place * 4));
    let is = |place: usize, number: f32| real(place).to_bits() == number.to_bits();
    match id {
        // custom_mode, type, autopilot, base_mode: its highest bit is "armed"; autopilot 8 is none.
        0 => Means::Alive { armed: payload[6] & 0x80 != 0, vehicle: payload[5] != 8 },
        20 | 21 => Means::Asks,
        22 => Means::Value(text(payload, 8), bits(payload, 0)),
        23 => Means::Write(text(payload, 6), bits(payload, 0)),
        36 => Means::Outputs([4, 6, 8, 10].map(|at| number(payload, at))),
        // Seven reals, then the command's number.
        76 => match number(payload, 28) {
            400 => Means::Arm { on: !is(0, 0.0), forced: is(1, 21196.0) },
            209 => Means::Run { motor: real(0) as u8, pulse: real(2) as u16, ms: (real(3) * 1000.0) as u32 },
            245 => Means::Store(is(0, 1.0)),
            246 => Means::Restart,
            510..=512 => Means::Asks,
            other => Means::Other(u32::from(other)),
        },
        77 => Means::Answer(number(payload, 0), payload[2]),
        148 => Means::Who(u64::from(bits(payload, 8)) | u64::from(bits(payload, 12)) << 32),
        other => Means::Other(other),
    }
}

/// Where each whole frame of some bytes lies, with what it is; what makes none lies between as `None`.
pub fn split(bytes: &[u8]) -> Vec<(Range<usize>, Option<Frame>)> {
    let (mut parts, mut at, mut loose) = (Vec::new(), 0, None);
    while at < bytes.len() {
        if let Some((frame, length)) = first(&bytes[at..]) {
            parts.extend(loose.take().map(|from: usize| (from..at, None)));
            parts.push((at..at + length, Some(frame)));
            at += length;
        } else {
            loose.get_or_insert(at);
            at += 1;
        }
    }
    parts.extend(loose.map(|from| (from..bytes.len(), None)));
    parts
}

/// Only the frames.
pub fn frames(bytes: &[u8]) -> impl Iterator<Item = Frame> {
    split(bytes).into_iter().filter_map(|(_, frame)| frame)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::docs::text as file;
    use serde_json::Value;

    fn bytes(hex: &str) -> Vec<u8> {
        let pair = |at: usize| u8::from_str_radix(&hex[at..at + 2], 16).unwrap();
        (0..hex.len()).step_by(2).map(pair).collect()
    }

    fn bits_of(fields: &Value, name: &str) -> u32 {
        u32::try_from(fields[name]["bits"].as_u64().unwrap()).unwrap()
    }

    fn real(fields: &Value, name: &str) -> f32 {
        f32::from_bits(bits_of(fields, name))
    }

    fn is(fields: &Value, name: &str, number: f32) -> bool {
        bits_of(fields, name) == number.to_bits()
    }

    /// What the reference library put into a frame, as far as the judge reads it.
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "as read")]
    fn wanted(id: u32, fields: &Value) -> Option<Means> {
        let whole = |name: &str| fields[name].as_u64().unwrap();
        Some(match id {
            0 => Means::Alive { armed: whole("base_mode") & 128 != 0, vehicle: whole("autopilot") != 8 },
            20 | 21 => Means::Asks,
            22 => Means::Value(fields["param_id"].as_str()?.to_owned(), bits_of(fields, "param_value")),
            23 => Means::Write(fields["param_id"].as_str()?.to_owned(), bits_of(fields, "param_value")),
            36 => Means::Outputs([1, 2, 3, 4].map(|at| whole(&format!("servo{at}_raw")) as u16)),
            76 => match whole("command") {
                400 => Means::Arm { on: !is(fields, "param1", 0.0), forced: is(fields, "param2", 21196.0) },
                209 => Means::Run {
                    motor: real(fields, "param1") as u8,
                    pulse: real(fields, "param3") as u16,
                    ms: (real(fields, "param4") * 1000.0) as u32,
                },
                245 => Means::Store(is(fields, "param1", 1.0)),
                246 => Means::Restart,
                510..=512 => Means::Asks,
                _ => return None,
            },
            77 => Means::Answer(whole("command") as u16, whole("result") as u8),
            148 => Means::Who(whole("uid")),
            _ => return None,
        })
    }

    /// Against the frames of the reference library, each alone and between loose bytes; with a bit turned it is none.
    #[test]
    fn frames_of_the_reference_library_are_read_as_they_were_written() {
        let mut read = std::collections::BTreeSet::new();
        for line in file("tests/board/mavlink/golden.jsonl").lines() {
            let golden: Value = serde_json::from_str(line).unwrap();
            let (Some(hex), Some(id)) = (golden["hex"].as_str(), golden["id"].as_u64()) else { continue };
            let id = u32::try_from(id).unwrap();
            let Some(wanted) = wanted(id, &golden["fields"]) else { continue };
            let frame = bytes(hex);
            let loose = [b"loose".to_vec(), frame.clone(), vec![0x20]].concat();
            let found = frames(&loose).collect::<Vec<_>>();
            assert_eq!(found.len(), 1, "{line}");
            let told = (u64::from(found[0].sequence), u64::from(found[0].system), u64::from(found[0].component));
            let number = |name: &str| golden[name].as_u64().unwrap();
            assert_eq!(told, (number("seq"), number("system"), number("component")), "{line}");
            assert_eq!((found[0].id, &found[0].means), (id, &wanted), "{line}");
            let mut hit = frame;
            let last = hit.len() - if hit[0] == 0xFD && hit[2] & 1 == 1 { 16 } else { 3 };
            hit[last] ^= 4;
            assert_eq!(frames(&hit).filter(|frame| frame.id == id).count(), 0, "{line}");
            read.insert(id);
        }
        assert!(read.is_superset(&[0, 22, 23, 36, 76, 77, 148].into()), "only {read:?}");
    }
}
