//! What the tests of the link share: frames from a board's side, and a link with its clock.

use mavlink::dialects::common::{
    AUTOPILOT_VERSION_DATA, COMMAND_ACK_DATA, HEARTBEAT_DATA, MavAutopilot, MavCmd, MavMessage, MavModeFlag,
    MavParamType, MavProtocolCapability, MavResult, MavState, MavType, PARAM_VALUE_DATA,
};
use mavlink::types::CharArray;
use mavlink::{MAVLinkV2MessageRaw, MavHeader, MavlinkVersion, Message};
use quadjig::board::mavlink::{FrameClass, MavlinkLink, classify, decode, frames};
use quadjig::board::signals::{Done, Link, LinkEvent, Request, Ticket};
use quadjig::board::value::SettingName;
use quadjig::measure::time::Time;
use std::time::Duration;

/// Bytes from hex.
pub fn hex(text: &str) -> Vec<u8> {
    (0..text.len()).step_by(2).map(|i| u8::from_str_radix(&text[i..i + 2], 16).unwrap()).collect()
}

/// A message as a version 2 frame.
pub fn frame(from: (u8, u8), sequence: u8, message: &MavMessage) -> Vec<u8> {
    let header = MavHeader { system_id: from.0.into(), component_id: from.1, sequence };
    let mut raw = MAVLinkV2MessageRaw::new();
    raw.serialize_message(header, message);
    raw.raw_bytes().to_vec()
}

/// A frame of any id and payload, with the checksum that `extra` gives.
pub fn raw_frame(from: (u8, u8), sequence: u8, id: u32, payload: &[u8], extra: u8) -> Vec<u8> {
    let id = id.to_le_bytes();
    let length = u8::try_from(payload.len()).unwrap();
    let mut bytes = vec![0xFD, length, 0, 0, sequence, from.0, from.1, id[0], id[1], id[2]];
    bytes.extend_from_slice(payload);
    let check = mavlink::calculate_crc(&bytes[1..], extra);
    bytes.extend_from_slice(&check.to_le_bytes());
    bytes
}

pub fn heartbeat(armed: bool) -> MavMessage {
    MavMessage::HEARTBEAT(HEARTBEAT_DATA {
        custom_mode: 0,
        mavtype: MavType::MAV_TYPE_QUADROTOR,
        autopilot: MavAutopilot::MAV_AUTOPILOT_GENERIC,
        base_mode: if armed { MavModeFlag::MAV_MODE_FLAG_SAFETY_ARMED } else { MavModeFlag::empty() },
        system_status: MavState::MAV_STATE_STANDBY,
        mavlink_version: 3,
    })
}

pub fn acknowledge(command: MavCmd, result: MavResult) -> MavMessage {
    MavMessage::COMMAND_ACK(COMMAND_ACK_DATA {
        command,
        result,
        progress: 0,
        result_param2: 0,
        target_system: 255,
        target_component: 25,
    })
}

pub fn value(name: &str, bits: u32, kind: MavParamType, index: u16, count: u16) -> MavMessage {
    MavMessage::PARAM_VALUE(PARAM_VALUE_DATA {
        param_value: f32::from_bits(bits),
        param_count: count,
        param_index: index,
        param_id: CharArray::from(name),
        param_type: kind,
    })
}

pub fn version(uid: u64, capabilities: MavProtocolCapability) -> MavMessage {
    MavMessage::AUTOPILOT_VERSION(AUTOPILOT_VERSION_DATA {
        capabilities,
        uid,
        flight_sw_version: 0x0204_01FF,
        middleware_sw_version: 0,
        os_sw_version: 0,
        board_version: 0,
        vendor_id: 0,
        product_id: 0,
        flight_custom_version: *b"Finch R\0",
        middleware_custom_version: [0; 8],
        os_custom_version: [0; 8],
        uid2: [0; 18],
    })
}

pub fn name(text: &str) -> SettingName {
    SettingName::new(text).unwrap()
}

/// A link and a clock; what it heard and sent is kept.
pub struct InteractiveSession {
    pub link: MavlinkLink,
    pub now: Time,
    pub heard: Vec<LinkEvent>,
    pub out: Vec<u8>,
    sequence: u8,
}

impl InteractiveSession {
    /// A link that nothing was heard on.
    pub fn new() -> Self {
        let link = MavlinkLink::new(None);
        Self { link, now: Time(1_000_000), heard: Vec::new(), out: Vec::new(), sequence: 0 }
    }

    /// A link bound to 1/1.
    pub fn bound() -> Self {
        let mut desk = Self::new();
        desk.board(&heartbeat(false));
        desk.heard.clear();
        desk
    }

    /// Bound, with all that a write needs: the encoding said and proved, `NUMBER` (8 bits) and `WIDE` (32 bits) read.
    pub fn writable(capabilities: MavProtocolCapability, seven: u32) -> Self {
        let mut desk = Self::bound();
        desk.board(&version(1, capabilities));
        desk.board(&value("NUMBER", seven, MavParamType::MAV_PARAM_TYPE_UINT8, 0, 2));
        desk.board(&value("WIDE", 0, MavParamType::MAV_PARAM_TYPE_INT32, 1, 2));
        desk.heard.clear();
        desk
    }

    /// Bytes from the wire.
    pub fn bytes(&mut self, bytes: &[u8]) {
        self.link.receive(self.now, bytes, &mut self.heard);
    }

    /// A message from the board.
    pub fn board(&mut self, message: &MavMessage) {
        let bytes = frame((1, 1), self.sequence, message);
        self.sequence = self.sequence.wrapping_add(1);
        self.bytes(&bytes);
    }

    /// One of this id that is not in the library, its payload given.
    pub fn raw_board(&mut self, id: u32, payload: &[u8], extra: u8) {
        let bytes = raw_frame((1, 1), self.sequence, id, payload, extra);
        self.sequence = self.sequence.wrapping_add(1);
        self.bytes(&bytes);
    }

    pub fn send(&mut self, ticket: u32, request: Request) {
        self.link.send(self.now, Ticket(ticket), request, &mut self.out);
    }

    pub fn work(&mut self) {
        self.link.work(self.now, &mut self.out, &mut self.heard);
    }

    /// Lets time pass, in steps of a millisecond, with work where the link wants it.
    pub fn wait(&mut self, milliseconds: u64) {
        for _ in 0..milliseconds {
            if self.link.wake() <= self.now {
                self.work();
            }
            self.now = self.now + Duration::from_millis(1);
        }
        if self.link.wake() <= self.now {
            self.work();
        }
    }

    /// The messages sent since the last call, each let out by the gate.
    pub fn sent(&mut self) -> Vec<MavMessage> {
        let out = std::mem::take(&mut self.out);
        let split = frames(&out);
        assert_eq!(split.iter().map(|f| f.len()).sum::<usize>(), out.len(), "something between the frames");
        split.iter().map(|bytes| message(bytes)).collect()
    }

    /// Classes of the frames sent since the last call.
    pub fn classes(&mut self) -> Vec<FrameClass> {
        let out = std::mem::take(&mut self.out);
        frames(&out).into_iter().map(|frame| classify(frame).expect("classified")).collect()
    }

    /// How a request ended, if it did.
    pub fn done(&self, ticket: u32) -> Option<&Done> {
        self.heard.iter().find_map(|heard| match heard {
            LinkEvent::Done { ticket: Ticket(t), result } if *t == ticket => Some(result),
            _ => None,
        })
    }

    /// The reason of a refusal.
    pub fn refusal(&self, ticket: u32) -> &str {
        match self.done(ticket) {
            Some(Done::Refused(reason)) => reason,
            other => panic!("not refused: {other:?}"),
        }
    }
}

/// The message of one whole frame.
pub fn message(bytes: &[u8]) -> MavMessage {
    let frame = decode(bytes).expect("a whole frame");
    let version = if frame.version == 1 { MavlinkVersion::V1 } else { MavlinkVersion::V2 };
    MavMessage::parse(version, frame.id, frame.payload).expect("a message of the dialect")
}

/// Command and confirmation of the commands among messages.
pub fn commands(messages: &[MavMessage]) -> Vec<(MavCmd, u8)> {
    messages
        .iter()
        .filter_map(|m| match m {
            MavMessage::COMMAND_LONG(c) => Some((c.command, c.confirmation)),
            _ => None,
        })
        .collect()
}
