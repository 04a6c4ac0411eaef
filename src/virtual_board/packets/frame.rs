//! The two framings of the boards that speak in packets, as the board makes and finds them.
//!
//! Finch P: `9D 4B`, length of the payload (u8), id (u8), payload, CRC-16/KERMIT over length, id and payload, lowest byte
//! first. Finch Q: between zeros, stuffed after COBS: id (u16), the question's number (u8), payload, Fletcher-16 over all of
//! it, highest byte first. Bytes that make no packet are skipped; no more than one packet's are kept.

use super::speech::Came;
use crc::{CRC_16_KERMIT, Crc};

const START: [u8; 2] = [0x9D, 0x4B];
const KERMIT: Crc<u16> = Crc::<u16>::new(&CRC_16_KERMIT);
/// High byte of every id of the Finch Q.
const FAMILY: u8 = 0x05;
/// Longest payload that the Finch P takes: a length above it is none.
const MOST: usize = 128;
/// Longest packet of the Finch Q on the wire.
const LONGEST: usize = 320;

/// The board's end of the wire.
#[derive(Debug, Clone)]
pub struct Packets {
    /// Whether bytes are stuffed and the highest comes first: the Finch Q.
    pub stuffed: bool,
    open: Vec<u8>,
}

impl Packets {
    pub fn new(stuffed: bool) -> Self {
        Self { stuffed, open: Vec::new() }
    }

    /// Forgets what was half received.
    pub fn forget(&mut self) {
        self.open.clear();
    }

    /// Takes bytes that came in.
    pub fn take(&mut self, bytes: &[u8]) {
        self.open.extend_from_slice(bytes);
    }

    /// The next packet, if one is complete.
    pub fn find(&mut self) -> Option<Came> {
        if self.stuffed { self.unstuffed() } else { self.measured() }
    }

    fn measured(&mut self) -> Option<Came> {
        loop {
            let at = self.open.windows(2).position(|two| two == START);
            let keep = at.unwrap_or(self.open.len().saturating_sub(1));
            self.open.drain(..keep);
            at?;
            let length = usize::from(*self.open.get(2)?);
            if length > MOST {
                self.open.drain(..1);
                continue;
            }
            let whole = self.open.get(..length + 6)?;
            let (body, sum) = whole[2..].split_at(length + 2);
            if KERMIT.checksum(body).to_le_bytes() == sum {
                let came = Came { id: body[1].into(), number: 0, payload: body[2..].to_vec() };
                self.open.drain(..length + 6);
                return Some(came);
            }
            self.open.drain(..1);
        }
    }

    fn unstuffed(&mut self) -> Option<Came> {
        loop {
            let Some(end) = self.open.iter().position(|byte| *byte == 0) else {
                if self.open.len() > LONGEST {
                    self.open.clear();
                }
                return None;
            };
            let stuffed: Vec<u8> = self.open.drain(..=end).take(end).collect();
            let Ok(body) = cobs::decode_vec(&stuffed) else { continue };
            let Some((body, sum)) = body.split_last_chunk::<2>() else { continue };
            if let [FAMILY, id, number, payload @ ..] = body
                && fletcher(body).to_be_bytes() == *sum
            {
                return Some(Came { id: (*id).into(), number: (*number).into(), payload: payload.to_vec() });
            }
        }
    }

    /// The bytes of a packet.
    pub fn bytes(&self, id: u8, number: u8, payload: &[u8]) -> Vec<u8> {
        if self.stuffed {
            let mut body = [&[FAMILY, id, number], payload].concat();
            body.extend(fletcher(&body).to_be_bytes());
            let mut bytes = cobs::encode_vec(&body);
            bytes.push(0);
            return bytes;
        }
        let length = u8::try_from(payload.len()).unwrap_or(u8::MAX);
        let body = [&[length, id], payload].concat();
        [&START[..], &body, &KERMIT.checksum(&body).to_le_bytes()].concat()
    }

    /// Bytes that begin as a packet does and come to no end.
    pub fn without_end(&self, id: u8) -> Vec<u8> {
        let begins: &[u8] = if self.stuffed { &[0x7F, FAMILY, id] } else { &[0x9D, 0x4B, 0xFF, id] };
        [begins, &[0x55; 200]].concat()
    }

    /// A whole number of some bytes, in this board's order.
    pub fn number(&self, value: i64, size: usize) -> Vec<u8> {
        let mut bytes = value.to_le_bytes()[..size].to_vec();
        if self.stuffed {
            bytes.reverse();
        }
        bytes
    }

    /// What such bytes hold, without a sign.
    pub fn whole(&self, bytes: &[u8]) -> u64 {
        let add = |sum: u64, byte: &u8| sum << 8 | u64::from(*byte);
        if self.stuffed { bytes.iter().fold(0, add) } else { bytes.iter().rev().fold(0, add) }
    }
}

/// RFC 1146, 2.1: two sums modulo 255.
fn fletcher(bytes: &[u8]) -> u16 {
    let (mut low, mut high) = (0_u16, 0_u16);
    for byte in bytes {
        low = (low + u16::from(*byte)) % 255;
        high = (high + low) % 255;
    }
    high << 8 | low
}
