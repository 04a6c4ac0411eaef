//! What packets on the wire ask a Finch P or a Finch Q to do, read without the project's own link.
//!
//! The ids are those that the boards' own table has (`src/virtual_board/packets/answers.rs`); checksums are the `crc` crate's
//! and RFC 1146's. What is not known is said to be that.

use super::frames::Class;
use crc::{CRC_16_KERMIT, Crc};

/// What the packets in some bytes ask for: of a Finch P, or of a Finch Q, whose bytes are stuffed.
pub fn packet_classes(bytes: &[u8], stuffed: bool) -> Vec<Class> {
    if stuffed {
        let parts = bytes.split(|byte| *byte == 0).filter(|part| !part.is_empty());
        return parts.map(|part| stuffed_class(part).unwrap_or(Class::Unknown)).collect();
    }
    let (mut all, mut rest) = (Vec::new(), bytes);
    while !rest.is_empty() {
        let whole = match rest {
            [0x9D, 0x4B, length, id, ..] => rest.get(..usize::from(*length) + 6).map(|whole| (*id, whole)),
            _ => None,
        };
        let Some((id, whole)) = whole else {
            all.push(Class::Unknown);
            break;
        };
        let (body, sum) = whole[2..].split_at(whole.len() - 4);
        let right = Crc::<u16>::new(&CRC_16_KERMIT).checksum(body).to_le_bytes() == sum;
        let pulse = |bytes: &[u8]| u16::from_le_bytes([bytes[1], bytes[2]]);
        all.push(if right { class(id, &body[2..], pulse) } else { Class::Unknown });
        rest = &rest[whole.len()..];
    }
    all
}

fn stuffed_class(part: &[u8]) -> Option<Class> {
    let (mut body, mut at) = (Vec::new(), 0);
    while at < part.len() {
        let code = usize::from(part[at]);
        body.extend(part.get(at + 1..at + code)?);
        at += code;
        if code < 255 && at < part.len() {
            body.push(0);
        }
    }
    let (body, sum) = body.split_last_chunk::<2>()?;
    let (low, high) = body.iter().fold((0_u16, 0_u16), |(low, high), byte| {
        let low = (low + u16::from(*byte)) % 255;
        (low, (high + low) % 255)
    });
    let [0x05, id, _, payload @ ..] = body else { return None };
    let pulse = |bytes: &[u8]| u16::from_be_bytes([bytes[1], bytes[2]]);
    (high << 8 | low == u16::from_be_bytes(*sum)).then(|| class(*id, payload, pulse))
}

fn class(id: u8, payload: &[u8], pulse: impl Fn(&[u8]) -> u16) -> Class {
    match (id, payload.len()) {
        (0x01, 0) => Class::Identity,
        (0x02, 0) => Class::Store,
        (0x03, 0) => Class::Restart,
        (0x10..=0x15 | 0x20..=0x3F, 0) => Class::Ask,
        (0x18, 5) => Class::Run(pulse(payload)),
        (0x19, 0) => Class::Stop,
        (0x40..=0x5F, 1..) => Class::Write(format!("packet {}", id - 0x40), format!("{payload:02x?}")),
        _ => Class::Unknown,
    }
}
