//! What bytes on the wire ask a board to do, read without the project's own link.
//!
//! Sources: MAVLink developer guide, `guide/serialization` (layout, checksum, trailing zeros) and `common.xml` (numbers
//! and field offsets, which go by size); for the console the Finch C's own help. What is not known is said to be that.

use std::ops::Range;

/// What one frame or line asks for.
#[derive(Debug, Clone, PartialEq)]
pub enum Class {
    /// Disarm, or a console's `rest`.
    Stop,
    /// Disarm whatever stands against it.
    ForcedStop,
    /// Arm.
    Arm,
    /// Run one motor at this pulse, µs.
    Run(u16),
    /// Write a setting: its name, and the value as it stands on the wire.
    Write(String, String),
    /// Store.
    Store,
    /// Restart.
    Restart,
    /// Ask for a stream, or put one back.
    Streams,
    /// Ask who it is.
    Identity,
    /// Ask for anything else.
    Ask,
    /// Our own sign of life.
    Heartbeat,
    /// An end of line, a break or a page's space, which ask for nothing.
    Blank,
    /// Anything else.
    Unknown,
}

impl Class {
    /// Whether it stops, in either way.
    pub fn stops(&self) -> bool {
        matches!(self, Self::Stop | Self::ForcedStop)
    }

    /// Whether it can change a board or drive a motor.
    pub fn acts(&self) -> bool {
        matches!(
            self,
            Self::Arm | Self::Run(_) | Self::Write(..) | Self::Store | Self::Restart | Self::Unknown | Self::ForcedStop
        ) || *self == Self::Stop
    }
}

const HEARTBEAT: u32 = 0;
const PARAM_READ: u32 = 20;
const PARAM_LIST: u32 = 21;
const PARAM_VALUE: u32 = 22;
const PARAM_SET: u32 = 23;
const COMMAND: u32 = 76;
const ACK: u32 = 77;

/// Checksum seeds of the messages above (`common.xml`).
fn seed(id: u32) -> Option<u8> {
    Some(match id {
        HEARTBEAT => 50,
        PARAM_READ => 214,
        PARAM_LIST => 159,
        PARAM_VALUE => 220,
        PARAM_SET => 168,
        COMMAND => 152,
        ACK => 143,
        _ => return None,
    })
}

/// X.25 checksum, a bit at a time.
fn checksum(bytes: &[u8], seed: u8) -> u16 {
    let mut sum = 0xFFFF_u16;
    for byte in bytes.iter().copied().chain([seed]) {
        sum ^= u16::from(byte);
        for _ in 0..8 {
            sum = if sum & 1 == 1 { sum >> 1 ^ 0x8408 } else { sum >> 1 };
        }
    }
    sum
}

struct Frame<'b> {
    id: u32,
    payload: Vec<u8>,
    range: Range<usize>,
    bytes: &'b [u8],
    head: usize,
}

/// One frame at the beginning of some bytes.
fn frame(bytes: &[u8]) -> Option<Frame<'_>> {
    let length = usize::from(*bytes.get(1)?);
    let (head, id, signed) = match bytes[0] {
        0xFD => {
            let id = bytes.get(7..10)?;
            (10, u32::from_le_bytes([id[0], id[1], id[2], 0]), bytes.get(2)? & 1 == 1)
        }
        0xFE => (6, u32::from(*bytes.get(5)?), false),
        _ => return None,
    };
    let end = head + length + 2 + if signed { 13 } else { 0 };
    let bytes = bytes.get(..end)?;
    // The longest of those that are read here has 36 bytes; what was cut off at the end is zeros.
    let mut payload = bytes[head..head + length].to_vec();
    payload.resize(payload.len().max(36), 0);
    Some(Frame { id, payload, range: 0..end, bytes, head: head + length })
}

impl Frame<'_> {
    fn whole(&self) -> bool {
        let sum = u16::from_le_bytes([self.bytes[self.head], self.bytes[self.head + 1]]);
        seed(self.id).is_none_or(|seed| checksum(&self.bytes[1..self.head], seed) == sum)
    }

    fn real(&self, at: usize) -> f32 {
        f32::from_le_bytes(self.payload[at..at + 4].try_into().unwrap())
    }

    fn whole_number(&self, at: usize) -> u16 {
        u16::from_le_bytes([self.payload[at], self.payload[at + 1]])
    }

    fn name(&self, at: usize) -> String {
        let bytes = self.payload[at..at + 16].iter().copied().take_while(|byte| *byte != 0).collect();
        String::from_utf8(bytes).unwrap_or_default()
    }
}

/// Where each frame of some bytes lies; what makes none stands by itself, to the next that does.
pub fn split(bytes: &[u8]) -> Vec<Range<usize>> {
    let mut parts: Vec<Range<usize>> = Vec::new();
    let (mut at, mut loose) = (0, None);
    while at < bytes.len() {
        if let Some(frame) = frame(&bytes[at..]).filter(Frame::whole) {
            if let Some(from) = loose.take() {
                parts.push(from..at);
            }
            parts.push(at..at + frame.range.end);
            at += frame.range.end;
        } else {
            loose.get_or_insert(at);
            at += 1;
        }
    }
    parts.extend(loose.map(|from| from..bytes.len()));
    parts
}

/// The first frame of bytes that still come in, and up to where it goes; `None`: it is not whole yet.
pub fn first(bytes: &[u8]) -> Option<(Class, usize)> {
    let begins = bytes.iter().position(|byte| matches!(byte, 0xFD | 0xFE))?;
    let found = frame(&bytes[begins..])?;
    Some((class(&bytes[begins..]), begins + found.range.end))
}

/// What the frames of some bytes ask for.
pub fn mavlink_classes(bytes: &[u8]) -> Vec<Class> {
    split(bytes).into_iter().map(|range| class(&bytes[range])).collect()
}

/// Whether bytes are one forced disarm and nothing else.
pub fn is_forced_stop(bytes: &[u8]) -> bool {
    mavlink_classes(bytes) == [Class::ForcedStop]
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a pulse")]
fn class(bytes: &[u8]) -> Class {
    let Some(frame) = frame(bytes).filter(Frame::whole) else { return Class::Unknown };
    match frame.id {
        HEARTBEAT => Class::Heartbeat,
        PARAM_READ | PARAM_LIST => Class::Ask,
        PARAM_SET => {
            let value = u32::from_le_bytes(frame.payload[..4].try_into().unwrap());
            Class::Write(frame.name(6), value.to_string())
        }
        // COMMAND_LONG: seven reals, then the command's number.
        COMMAND => match (frame.whole_number(28), frame.real(0), frame.real(4)) {
            (400, 0.0, 21196.0) => Class::ForcedStop,
            (400, 0.0, _) => Class::Stop,
            (400, _, _) => Class::Arm,
            (209, _, _) => Class::Run(frame.real(8) as u16),
            (245, _, _) => Class::Store,
            (246, _, _) => Class::Restart,
            (511, _, _) => Class::Streams,
            (512, 148.0, _) => Class::Identity,
            (510 | 512, _, _) => Class::Ask,
            _ => Class::Unknown,
        },
        _ => Class::Unknown,
    }
}

/// What the lines in some bytes ask a Finch C for; a line that has no end yet is not read.
pub fn line_classes(bytes: &[u8]) -> Vec<Class> {
    let text = String::from_utf8_lossy(bytes);
    text.split_inclusive(['\r', '\n', '\u{3}'])
        .map(|line| {
            let words: Vec<&str> = line.trim_matches(['\r', '\n', '\u{3}', ' ']).split_ascii_whitespace().collect();
            match words[..] {
                [] => Class::Blank,
                ["rest"] => Class::Stop,
                ["put", value, "into", name] => Class::Write(name.to_owned(), value.to_owned()),
                ["keep"] => Class::Store,
                ["again"] => Class::Restart,
                ["spin", _, pulse, _] => Class::Run(pulse.parse().unwrap_or(u16::MAX)),
                ["who"] => Class::Identity,
                ["show" | "list" | "armed" | "channels" | "outputs" | "tilt" | "pack" | "speeds" | "leave", ..] => {
                    Class::Ask
                }
                _ => Class::Unknown,
            }
        })
        .collect()
}

/// What a board said, as far as it matters here.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Heard {
    /// Its armed flag.
    Flag(bool),
    /// A setting and the value as it stands on the wire.
    Value(String, u32),
    /// It accepted a command, or did not.
    Answer(u16, bool),
    /// Anything else.
    Other,
}

/// What the frames of some bytes from a board say.
pub fn heard(bytes: &[u8]) -> Vec<Heard> {
    let one = |range: Range<usize>| {
        let Some(frame) = frame(&bytes[range]).filter(Frame::whole) else { return Heard::Other };
        match frame.id {
            // HEARTBEAT: custom mode, type, autopilot, base mode; its highest bit is "armed".
            HEARTBEAT => Heard::Flag(frame.payload[6] & 0x80 != 0),
            PARAM_VALUE => Heard::Value(frame.name(8), u32::from_le_bytes(frame.payload[..4].try_into().unwrap())),
            ACK => Heard::Answer(frame.whole_number(0), frame.payload[2] == 0),
            _ => Heard::Other,
        }
    };
    split(bytes).into_iter().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use mavlink::dialects::common::{COMMAND_LONG_DATA, MavCmd, MavMessage, MavParamType, PARAM_SET_DATA};
    use mavlink::{MavHeader, MavlinkVersion, write_versioned_msg};

    fn bytes(version: MavlinkVersion, message: &MavMessage) -> Vec<u8> {
        let mut bytes = Vec::new();
        write_versioned_msg(&mut bytes, version, MavHeader { system_id: 255, component_id: 190, sequence: 3 }, message)
            .unwrap();
        bytes
    }

    fn command(command: MavCmd, param1: f32, param2: f32, param3: f32) -> MavMessage {
        let data = COMMAND_LONG_DATA { param1, param2, param3, command, target_system: 1, ..Default::default() };
        MavMessage::COMMAND_LONG(data)
    }

    /// Against the message crate, in both versions, with loose bytes between.
    #[test]
    fn frames_of_the_message_crate_are_read_for_what_they_are() {
        let write = MavMessage::PARAM_SET(PARAM_SET_DATA {
            param_value: f32::from_bits(1090),
            target_system: 1,
            target_component: 1,
            param_id: "IDLE_US".into(),
            param_type: MavParamType::MAV_PARAM_TYPE_UINT16,
        });
        let arm = MavCmd::MAV_CMD_COMPONENT_ARM_DISARM;
        for version in [MavlinkVersion::V1, MavlinkVersion::V2] {
            let mut all = Vec::new();
            let mut wanted = Vec::new();
            for (message, class) in [
                (command(arm, 0.0, 0.0, 0.0), Class::Stop),
                (command(arm, 0.0, 21196.0, 0.0), Class::ForcedStop),
                (command(arm, 1.0, 0.0, 0.0), Class::Arm),
                (command(MavCmd::MAV_CMD_DO_MOTOR_TEST, 1.0, 1.0, 1150.0), Class::Run(1150)),
                (command(MavCmd::MAV_CMD_PREFLIGHT_STORAGE, 1.0, 0.0, 0.0), Class::Store),
                (command(MavCmd::MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN, 1.0, 0.0, 0.0), Class::Restart),
                (command(MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL, 65.0, 50_000.0, 0.0), Class::Streams),
                (command(MavCmd::MAV_CMD_REQUEST_MESSAGE, 148.0, 0.0, 0.0), Class::Identity),
                (write.clone(), Class::Write("IDLE_US".to_owned(), "1090".to_owned())),
                (MavMessage::HEARTBEAT(mavlink::dialects::common::HEARTBEAT_DATA::default()), Class::Heartbeat),
            ] {
                all.extend(bytes(version, &message));
                wanted.push(class);
            }
            assert_eq!(mavlink_classes(&all), wanted);
            all.extend(b"loose");
            wanted.push(Class::Unknown);
            assert_eq!(mavlink_classes(&all), wanted);
            // A bit turned anywhere makes it no frame at all.
            let mut hit = bytes(version, &write);
            let middle = hit.len() / 2;
            hit[middle] ^= 4;
            assert!(mavlink_classes(&hit).iter().all(|class| *class == Class::Unknown));
        }
    }

    #[test]
    fn lines_of_the_console_are_read_for_what_they_are() {
        assert_eq!(
            line_classes(b"\x03rest\rput 5 into X\rwho\r\rspin 1 1100 500\rfly\r"),
            [
                Class::Blank,
                Class::Stop,
                Class::Write("X".to_owned(), "5".to_owned()),
                Class::Identity,
                Class::Blank,
                Class::Run(1100),
                Class::Unknown
            ]
        );
    }
}
