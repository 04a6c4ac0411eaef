//! What comes over a wire, as lines: packets by a sheet's framing, or the bytes themselves, each with its time.
//!
//! Promises: every byte that came is shown or counted; what came from a board passes the gate. Must not be here: opening
//! a port, sending anything.

use super::fields::{self, raw};
use super::gate;
use crate::board::packets::PacketSheet;
use crate::board::packets::misfit::misfit;
use crate::board::packets::reads::reads;
use crate::board::packets::splitter::{Found, Splitter};
use crate::measure::time::Time;
use std::time::Duration;

/// Bytes that come so soon after others belong to them, where no framing tells.
const TOGETHER: Duration = Duration::from_millis(20);
/// Bytes on one line.
const ROW: usize = 16;
/// So many bytes are kept to tell what would fit, where no packet does.
const KEPT: usize = 8192;

/// See the module.
pub struct Listening {
    began: Time,
    by: Option<(PacketSheet, Splitter)>,
    /// Bytes that are still to be shown, and when the first of them came.
    open: Vec<u8>,
    first: Time,
    last: Time,
    bytes: u64,
    packets: u64,
    skipped: u64,
    /// Whether each field is shown.
    fields: bool,
    kept: Vec<u8>,
}

impl Listening {
    /// From a moment on; with a sheet of packets, by its framing, and with what each of its fields reads if asked to.
    #[must_use]
    pub fn new(began: Time, packets: Option<&PacketSheet>, fields: bool) -> Self {
        let by = packets.map(|packets| (packets.clone(), Splitter::new(packets.framing.clone())));
        Self {
            began,
            by,
            open: Vec::new(),
            first: began,
            last: began,
            bytes: 0,
            packets: 0,
            skipped: 0,
            fields,
            kept: Vec::new(),
        }
    }

    /// Takes bytes; the lines that are whole now.
    pub fn take(&mut self, now: Time, bytes: &[u8]) -> String {
        self.bytes += bytes.len() as u64;
        let Some((sheet, splitter)) = &mut self.by else {
            let mut text = String::new();
            if !self.open.is_empty() && now.since(self.last) > TOGETHER {
                text = self.rest();
            }
            if self.open.is_empty() {
                self.first = now;
            }
            self.last = now;
            self.open.extend_from_slice(bytes);
            while self.open.len() >= ROW {
                let row: Vec<u8> = self.open.drain(..ROW).collect();
                text.push_str(&line(self.began, self.first, &raw(&row)));
                self.first = now;
            }
            return text;
        };
        self.kept.extend(bytes.iter().take(KEPT.saturating_sub(self.kept.len())));
        let mut found = Vec::new();
        splitter.feed(bytes, &mut found);
        self.last = now;
        let mut text = String::new();
        for found in found {
            let mut under = Vec::new();
            let words = match found {
                Found::Packet(packet, _) => {
                    self.packets += 1;
                    let name =
                        named(sheet, packet.id, &packet.payload).unwrap_or_else(|| "not in the sheet".to_owned());
                    let number = if sheet.framing.sequences().is_some() {
                        format!(" number {}", packet.sequence)
                    } else {
                        String::new()
                    };
                    let payload = raw(&packet.payload);
                    if self.fields {
                        under = reads(sheet, packet.id, &packet.payload);
                    }
                    format!("{:#06x}{number} {name}, {} bytes: {payload}", packet.id, packet.payload.len())
                }
                Found::Fault(fault) => format!("no packet: {fault}"),
                Found::Skipped(bytes) => {
                    self.skipped += bytes.len() as u64;
                    format!("in no packet, {} bytes: {}", bytes.len(), raw(&bytes))
                }
            };
            text.push_str(&line(self.began, now, &words));
            for read in &under {
                text.push_str(&fields::table(read, |_| String::new()));
            }
        }
        text
    }

    /// Whether something waits to be shown, and until when more may belong to it.
    #[must_use]
    pub fn due(&self) -> Time {
        if self.by.is_none() && !self.open.is_empty() { self.last + TOGETHER } else { Time::NEVER }
    }

    /// What waits to be shown.
    pub fn rest(&mut self) -> String {
        let rest = std::mem::take(&mut self.open);
        if rest.is_empty() { String::new() } else { line(self.began, self.first, &raw(&rest)) }
    }

    /// Why none of it is the sheet's, where that can be told.
    #[must_use]
    pub fn misfit(&self) -> Option<String> {
        let framing = &self.by.as_ref()?.0.framing;
        Some(misfit(framing, &self.kept)?.words(framing))
    }

    /// What came in all.
    #[must_use]
    pub fn summary(&self) -> String {
        let Self { bytes, packets, skipped, .. } = self;
        match &self.by {
            Some((_, splitter)) => {
                format!(
                    "{bytes} bytes came, {packets} packets in them; {skipped} are in no packet, {} wait for the rest of one",
                    splitter.waiting()
                )
            }
            None => format!("{bytes} bytes came"),
        }
    }
}

/// Seconds since the beginning, and words.
fn line(began: Time, at: Time, words: &str) -> String {
    format!("{:>9.3} s  {}\n", at.since(began).as_secs_f64(), gate::line(words))
}

/// Where a packet stands in the sheet.
fn named(sheet: &PacketSheet, id: u16, payload: &[u8]) -> Option<String> {
    for (need, exchange) in &sheet.exchanges {
        if exchange.answer.as_ref().is_some_and(|shape| shape.is(id, payload)) {
            return Some(format!("answer of [packets.{}]", need.key()));
        }
        if exchange.ask.as_ref().is_some_and(|ask| ask.id == id) {
            return Some(format!("question of [packets.{}]", need.key()));
        }
    }
    for packet in &sheet.settings {
        let table = format!("[packets.settings.{}]", packet.key);
        if packet.answer.is(id, payload) {
            return Some(format!("answer of {table}"));
        }
        if packet.ask.id == id {
            return Some(format!("question of {table}"));
        }
        if packet.write == Some(id) {
            return Some(format!("write of {table}"));
        }
        if packet.written.as_ref().is_some_and(|shape| shape.id == id) {
            return Some(format!("answer to the write of {table}"));
        }
    }
    let unasked = [("refusal", &sheet.refusal), ("note", &sheet.note), ("banner", &sheet.banner)];
    let found = unasked.into_iter().find(|(_, shape)| shape.as_ref().is_some_and(|shape| shape.is(id, payload)));
    found.map(|(key, _)| format!("[packets.{key}]"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::board::packets::framing::Packet;
    use crate::board::shipped;

    #[test]
    fn packets_are_named_by_the_sheet_and_bytes_are_shown_without_one() {
        let sheet = shipped::sheet("finch-p").unwrap().unwrap();
        let packets = sheet.packets().unwrap();
        let send = |id, payload: &[u8]| packets.framing.encode(&Packet { id, sequence: 0, payload: payload.to_vec() });
        let mut listening = Listening::new(Time(1_000_000), Some(packets), false);
        let bytes = [send(0x10, &[]), send(0x90, &[0x81]), send(0x77, b"hi"), send(0xFE, b"Armed")].concat();
        // Cut in the middle of a packet.
        let mut text = listening.take(Time(1_250_000), &bytes[..9]);
        text += &listening.take(Time(1_500_000), &bytes[9..]);
        assert_eq!(
            text,
            "    0.250 s  0x0010 question of [packets.armed], 0 bytes: -\n\
             \x20   0.500 s  0x0090 answer of [packets.armed], 1 bytes: 81  .\n\
             \x20   0.500 s  0x0077 not in the sheet, 2 bytes: 68 69  hi\n\
             \x20   0.500 s  0x00fe [packets.note], 5 bytes: 41 72 6d 65 64  Armed\n"
        );
        let mut damaged = send(0x90, &[0]);
        damaged[4] ^= 1;
        assert_eq!(
            listening.take(Time(2_000_000), &damaged),
            "    1.000 s  no packet: a packet whose checksum is wrong\n\
             \x20   1.000 s  in no packet, 7 bytes: 9d 4b 01 90 01 81 43  .K....C\n"
        );

        let mut listening = Listening::new(Time(0), None, false);
        assert_eq!(listening.take(Time(1000), b"\x1b[31m"), "");
        assert_eq!(listening.take(Time(2000), b"ab"), "");
        assert_eq!(listening.due(), Time(22_000));
        assert_eq!(listening.take(Time(60_000), b"c"), "    0.001 s  1b 5b 33 31 6d 61 62  .[31mab\n");
        assert_eq!(listening.rest(), "    0.060 s  63  c\n");
        assert_eq!(listening.summary(), "8 bytes came");
    }
}
