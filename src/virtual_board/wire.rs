//! The board's end of the wire: MAVLink frames in and out, numbered by the board.
//!
//! Reads versions 1 and 2 of the open MAVLink standard (dialect `common`), writes version 2. Bytes that make
//! no frame are skipped.

use mavlink::dialects::common::{
    COMMAND_LONG_DATA, MavMessage, PARAM_REQUEST_LIST_DATA, PARAM_REQUEST_READ_DATA, PARAM_SET_DATA,
};
use mavlink::{
    MAVLinkMessageRaw, MAVLinkV2MessageRaw, MavHeader, MavlinkReader, MavlinkVersion, MessageData, calculate_crc,
};
use std::collections::VecDeque;
use std::io::{self, Read};

/// The board's system and component numbers.
pub const SYSTEM: u8 = 1;
/// See [`SYSTEM`].
pub const COMPONENT: u8 = 1;

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
    pub out: Vec<u8>,
}

impl Wire {
    pub fn new() -> Self {
        Self { reader: MavlinkReader::new(Queue::default()), sequence: 0, out: Vec::new() }
    }

    /// Forgets what was half received, and numbers from 0 again.
    pub fn restart(&mut self) {
        self.reader = MavlinkReader::new(Queue::default());
        self.sequence = 0;
    }

    pub fn feed(&mut self, bytes: &[u8]) {
        self.reader.get_mut().0.extend(bytes);
    }

    /// The next frame for this board, if one is complete.
    pub fn next(&mut self) -> Option<(Sender, Incoming)> {
        loop {
            let raw = self.reader.read_any_raw_message::<MavMessage>().ok()?;
            if let Some(found) = understand(&raw) {
                return Some(found);
            }
        }
    }

    /// Sends one message.
    pub fn send<D: MessageData>(&mut self, data: &D) {
        let mut raw = MAVLinkV2MessageRaw::new();
        raw.serialize_message_data(self.header(), data);
        self.out.extend_from_slice(raw.raw_bytes());
    }

    /// Answers "unsupported" to a command whose number the dialect has no name for.
    pub fn refuse_unknown(&mut self, command: u16, to: Sender) {
        // COMMAND_ACK (id 77, CRC_EXTRA 143): command, result 3, progress, result_param2, target; MAVLink common.xml.
        let [low, high] = command.to_le_bytes();
        let payload = [low, high, 3, 0, 0, 0, 0, 0, to.system, to.component];
        let length = payload.iter().rposition(|byte| *byte != 0).map_or(1, |last| last + 1);
        let header = self.header();
        let mut frame = vec![0xFD, 0, 0, 0, header.sequence, SYSTEM, COMPONENT, 77, 0, 0];
        frame[1] = u8::try_from(length).unwrap_or(0);
        frame.extend_from_slice(&payload[..length]);
        let crc = calculate_crc(&frame[1..], 143);
        frame.extend_from_slice(&crc.to_le_bytes());
        self.out.extend_from_slice(&frame);
    }

    fn header(&mut self) -> MavHeader {
        let sequence = self.sequence;
        self.sequence = sequence.wrapping_add(1);
        MavHeader { system_id: u32::from(SYSTEM), component_id: COMPONENT, sequence }
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
