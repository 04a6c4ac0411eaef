//! The board's end of the wire: MAVLink frames in and out, numbered by the board.
//!
//! Reads versions 1 and 2 of the open MAVLink standard (dialect `common`), writes version 2 unless told otherwise.
//! Bytes that make no frame are skipped.

use super::pace::{Pace, WireConfig};
use super::protocol_variants::{ProtocolConfig, ProtocolVariants};
use crate::measure::checksum;
use mavlink::dialects::common::{
    COMMAND_LONG_DATA, MavMessage, PARAM_REQUEST_LIST_DATA, PARAM_REQUEST_READ_DATA, PARAM_SET_DATA,
};
use mavlink::{MAV_STX, MAV_STX_V2, MAVLinkMessageRaw, MavlinkReader, MavlinkVersion, MessageData};
use std::collections::VecDeque;
use std::io::{self, Read};

/// The board's system and component numbers.
pub const SYSTEM: u8 = 1;
/// See [`SYSTEM`].
pub const COMPONENT: u8 = 1;

/// The most bytes in a payload (mavlink-devguide, guide/serialization.md).
const PAYLOAD: usize = 255;

/// Bytes that wait; an empty queue is not an end of input.
#[derive(Default)]
struct Queue(VecDeque<u8>);

impl Read for Queue {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.0.is_empty() { Err(io::ErrorKind::WouldBlock.into()) } else { self.0.read(into) }
    }
}

/// Who sent a frame.
#[derive(Debug, Clone, Copy)]
pub struct Sender {
    pub system: u8,
    pub component: u8,
}

/// What the board understands.
pub enum Incoming {
    Command(COMMAND_LONG_DATA),
    /// A command that the standard does not know, by its number.
    UnknownCommand(u16),
    List,
    Read(PARAM_REQUEST_READ_DATA),
    Set(PARAM_SET_DATA),
}

/// Codec with the numbering of one board.
pub struct Wire {
    reader: MavlinkReader<Queue>,
    sequence: u8,
    /// The last frame, so that its room is used again.
    frame: Vec<u8>,
    pub pace: Pace,
    speech: ProtocolVariants,
}

/// A copy goes on from here on its own. What was half received is not in it.
impl Clone for Wire {
    fn clone(&self) -> Self {
        Self {
            reader: MavlinkReader::new(Queue::default()),
            sequence: self.sequence,
            frame: Vec::new(),
            pace: self.pace.clone(),
            speech: self.speech.clone(),
        }
    }
}

impl Wire {
    pub fn new(config: WireConfig, speech: ProtocolConfig, seed: u64) -> Self {
        Self {
            reader: MavlinkReader::new(Queue::default()),
            sequence: 0,
            frame: Vec::new(),
            pace: Pace::new(config, seed),
            speech: ProtocolVariants::new(speech),
        }
    }

    /// Forgets what was half received, and numbers from 0 again.
    pub fn restart(&mut self) {
        self.reader = MavlinkReader::new(Queue::default());
        self.sequence = 0;
        self.pace.restart();
        self.speech.restart();
    }

    /// Takes the bytes that have come in; whether there were any.
    pub fn take_in(&mut self) -> bool {
        let bytes = self.pace.come();
        if bytes.is_empty() {
            return false;
        }
        self.reader.get_mut().0.extend(&bytes);
        true
    }

    /// The next frame for this board, if one is complete.
    pub fn next(&mut self) -> Option<(Sender, Incoming)> {
        loop {
            let raw = self.reader.read_any_raw_message::<MavMessage>().ok()?;
            if self.pace.loses() || !self.speech.takes(&raw) {
                continue;
            }
            if let Some(found) = understand(&raw) {
                return Some(found);
            }
        }
    }

    /// Sends one message.
    pub fn send<D: MessageData>(&mut self, data: &D) {
        let mut payload = [0; PAYLOAD];
        let length = data.ser(self.speech.version(), &mut payload);
        self.frame(D::ID, D::EXTRA_CRC, &payload[..length]);
    }

    /// Sends one message as somebody else.
    pub fn send_from<D: MessageData>(&mut self, from: Sender, sequence: u8, data: &D) {
        let mut payload = [0; PAYLOAD];
        let length = data.ser(self.speech.version(), &mut payload);
        self.frame_from(from, sequence, D::ID, D::EXTRA_CRC, &payload[..length]);
    }

    /// Answers "unsupported" to a command whose number the dialect has no name for.
    pub fn refuse_unknown(&mut self, command: u16, to: Sender) {
        // COMMAND_ACK (id 77, CRC_EXTRA 143): command, result 3, progress, result_param2, target; MAVLink common.xml.
        let [low, high] = command.to_le_bytes();
        let payload = [low, high, 3, 0, 0, 0, 0, 0, to.system, to.component];
        let length = match self.speech.version() {
            // Without what the second version added.
            MavlinkVersion::V1 => 3,
            MavlinkVersion::V2 => payload.iter().rposition(|byte| *byte != 0).map_or(1, |last| last + 1),
        };
        self.frame(77, 143, &payload[..length]);
    }

    fn frame(&mut self, id: u32, seed: u8, payload: &[u8]) {
        let from = Sender { system: SYSTEM, component: COMPONENT };
        if self.frame_from(from, self.sequence, id, seed, payload) {
            self.sequence = self.sequence.wrapping_add(1);
        }
    }

    /// Puts a payload, cut as its version wants it, into a frame; MAVLink developer guide, `guide/serialization`.
    /// Whether that version has room for the id, and the wire for the frame.
    fn frame_from(&mut self, from: Sender, sequence: u8, id: u32, seed: u8, payload: &[u8]) -> bool {
        let [low, middle, high, _] = id.to_le_bytes();
        let length = u8::try_from(payload.len()).unwrap_or(u8::MAX);
        let frame = &mut self.frame;
        frame.clear();
        let Sender { system, component } = from;
        match self.speech.version() {
            MavlinkVersion::V1 if id > u32::from(u8::MAX) => return false,
            MavlinkVersion::V1 => frame.extend_from_slice(&[MAV_STX, length, sequence, system, component, low]),
            MavlinkVersion::V2 => {
                let flags = u8::from(self.speech.signs());
                frame
                    .extend_from_slice(&[MAV_STX_V2, length, flags, 0, sequence, system, component, low, middle, high]);
            }
        }
        frame.extend_from_slice(payload);
        let sum = checksum::add(checksum::START, &frame[1..]);
        frame.extend_from_slice(&checksum::add(sum, &[seed]).to_le_bytes());
        if self.speech.version() == MavlinkVersion::V2 {
            self.speech.sign(frame);
        }
        self.pace.offer(frame)
    }
}

fn understand(raw: &MAVLinkMessageRaw) -> Option<(Sender, Incoming)> {
    let version = raw.version();
    let payload = raw.payload();
    let sender = Sender { system: u8::try_from(raw.system_id()).ok()?, component: raw.component_id() };
    let (target, incoming) = match raw.message_id() {
        COMMAND_LONG_DATA::ID => match parse::<COMMAND_LONG_DATA>(version, payload) {
            Some(data) => ((data.target_system, data.target_component), Incoming::Command(data)),
            None => unknown_command(payload),
        },
        PARAM_REQUEST_LIST_DATA::ID => {
            let data = parse::<PARAM_REQUEST_LIST_DATA>(version, payload)?;
            ((data.target_system, data.target_component), Incoming::List)
        }
        PARAM_REQUEST_READ_DATA::ID => {
            let data = parse::<PARAM_REQUEST_READ_DATA>(version, payload)?;
            ((data.target_system, data.target_component), Incoming::Read(data))
        }
        PARAM_SET_DATA::ID => {
            let data = parse::<PARAM_SET_DATA>(version, payload)?;
            ((data.target_system, data.target_component), Incoming::Set(data))
        }
        _ => return None,
    };
    let for_us = (target.0 == SYSTEM || target.0 == 0) && (target.1 == COMPONENT || target.1 == 0);
    for_us.then_some((sender, incoming))
}

fn parse<D: MessageData>(version: MavlinkVersion, payload: &[u8]) -> Option<D> {
    D::deser(version, payload).ok()
}

/// Places of the fields of `COMMAND_LONG` on the wire: seven floats, command, target system and component.
fn unknown_command(payload: &[u8]) -> ((u8, u8), Incoming) {
    let byte = |place: usize| payload.get(place).copied().unwrap_or(0);
    ((byte(30), byte(31)), Incoming::UnknownCommand(u16::from_le_bytes([byte(28), byte(29)])))
}
