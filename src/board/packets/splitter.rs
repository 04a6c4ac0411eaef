//! Finds packets in a stream, wherever it is cut.
//!
//! Promises: bounded memory and time however long a packet claims to be; after whatever noise, the next whole packet is
//! found; bytes that were no packet are searched again for one. Must not be here: what a packet means.

use super::framing::{Delimiting, FrameFault, Framing, Packet};
use super::slip;

/// What was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Found {
    /// A packet, and the bytes that it took.
    Packet(Packet, usize),
    /// Bytes that looked like the beginning of one.
    Fault(FrameFault),
    /// Bytes that belong to no packet, as they came.
    Skipped(Vec<u8>),
}

/// See the module.
#[derive(Debug, Clone)]
pub struct Splitter {
    framing: Framing,
    open: Vec<u8>,
    /// Of a stuffed packet: it is too long already, and what follows is thrown away up to its end.
    too_long: bool,
}

impl Splitter {
    /// Of a framing.
    #[must_use]
    pub fn new(framing: Framing) -> Self {
        Self { framing, open: Vec::new(), too_long: false }
    }

    /// Forgets what was half received.
    pub fn clear(&mut self) {
        self.open.clear();
        self.too_long = false;
    }

    /// How many bytes wait for the rest of their packet.
    #[must_use]
    pub fn waiting(&self) -> usize {
        self.open.len()
    }

    /// Takes bytes from the wire.
    pub fn feed(&mut self, bytes: &[u8], found: &mut Vec<Found>) {
        match self.framing.way.clone() {
            Delimiting::Length { heard, .. } => {
                // In pieces, so that what waits is never more than one packet and a piece.
                for piece in bytes.chunks(256) {
                    self.open.extend_from_slice(piece);
                    self.by_length(&heard, found);
                }
            }
            Delimiting::Cobs => self.by_marks(bytes, 0, |stuffed| cobs::decode_vec(stuffed).ok(), found),
            Delimiting::Slip => self.by_marks(bytes, slip::END, slip::unstuff, found),
        }
    }

    /// The rest of what was begun does not come. Where a length said how much of it there is, what stands behind its
    /// beginning is looked through; a mark ends it by itself.
    pub fn give_up(&mut self, found: &mut Vec<Found>) {
        if self.open.is_empty() {
            return;
        }
        found.push(Found::Fault(FrameFault::TooLong));
        if let Delimiting::Length { heard, .. } = self.framing.way.clone() {
            found.push(Found::Skipped(vec![self.open.remove(0)]));
            self.by_length(&heard, found);
        }
    }

    fn by_length(&mut self, start: &[u8], found: &mut Vec<Found>) {
        let (before, after) = self.framing.around();
        // Up to here everything that came was told.
        let mut told = 0;
        let mut at = 0;
        loop {
            let rest = &self.open[at..];
            // The first place at which a start stands, or could stand once more has come.
            let Some(skip) = (0..rest.len()).find(|from| {
                let here = &rest[*from..];
                here.starts_with(start) || start.starts_with(here)
            }) else {
                at = self.open.len();
                break;
            };
            at += skip;
            let rest = &rest[skip..];
            let Some(head) = rest.get(start.len()..start.len() + before) else { break };
            let Some(payload) = self.framing.payload_by(head) else {
                found.push(Found::Fault(FrameFault::Length));
                at += 1;
                continue;
            };
            let whole = start.len() + before + payload + after;
            let Some(packet) = rest.get(start.len()..whole) else { break };
            match self.framing.decode(start, packet) {
                Ok(packet) => {
                    if told < at {
                        found.push(Found::Skipped(self.open[told..at].to_vec()));
                    }
                    found.push(Found::Packet(packet, whole));
                    at += whole;
                    told = at;
                }
                Err(fault) => {
                    found.push(Found::Fault(fault));
                    at += 1;
                }
            }
        }
        if told < at {
            found.push(Found::Skipped(self.open[told..at].to_vec()));
        }
        self.open.drain(..at);
    }

    fn by_marks(&mut self, bytes: &[u8], mark: u8, unstuff: impl Fn(&[u8]) -> Option<Vec<u8>>, found: &mut Vec<Found>) {
        let (before, after) = self.framing.around();
        // Stuffed, a packet at most doubles.
        let most = 2 * (before + self.framing.most + after) + 2;
        for byte in bytes {
            if *byte != mark {
                if self.open.len() < most {
                    self.open.push(*byte);
                } else if !std::mem::replace(&mut self.too_long, true) {
                    found.push(Found::Fault(FrameFault::TooLong));
                }
                continue;
            }
            let stuffed = std::mem::take(&mut self.open);
            if std::mem::take(&mut self.too_long) {
                found.push(Found::Skipped(stuffed));
                continue;
            }
            if stuffed.is_empty() {
                continue;
            }
            match unstuff(&stuffed).ok_or(FrameFault::Stuffing).and_then(|body| self.framing.decode(&[], &body)) {
                Ok(packet) => found.push(Found::Packet(packet, stuffed.len() + 1)),
                Err(fault) => found.extend([Found::Fault(fault), Found::Skipped(stuffed)]),
            }
        }
    }
}
