//! Frames of the reference library for every kind of message that is made or read, held against ours both ways.
//!
//! `golden.jsonl` is what `tests/peers/golden.py` writes with PY; `tests/peers/` tests that it still does. Nothing
//! here needs PY itself.

use super::kit::{InteractiveSession, acknowledge, hex, name, value, version};
use mavlink::dialects::common::{
    MESSAGE_INTERVAL_DATA, MavCmd, MavMessage, MavParamType, MavProtocolCapability, MavResult,
};
use mavlink::{MAVLinkV2MessageRaw, MavHeader, MavlinkVersion, Message};
use quadjig::board::mavlink::decode;
use quadjig::board::signals::{Done, Identity, Link, LinkEvent, Request, Stream};
use quadjig::board::value::Number;
use serde_json::Value;
use std::time::Duration;

const GOLDEN: &str = include_str!("golden.jsonl");

fn rows() -> Vec<Value> {
    GOLDEN.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

/// The frames of one side.
fn from(side: &str) -> Vec<Value> {
    rows().into_iter().filter(|row| row["from"] == side).collect()
}

fn bytes(row: &Value) -> Vec<u8> {
    hex(row["hex"].as_str().unwrap())
}

fn what(row: &Value) -> String {
    format!("{}, {} {}", row["name"], row["what"], row["value"])
}

/// A whole number of a row's fields, as any type.
fn whole<T: TryFrom<i64>>(value: &Value) -> T {
    T::try_from(value.as_i64().unwrap()).ok().unwrap()
}

fn real(value: &Value) -> f32 {
    f32::from_bits(whole(&value["bits"]))
}

#[test]
fn headers_and_seeds_are_the_references() {
    for row in rows().iter().filter(|row| row["hex"].is_string()) {
        let bytes = bytes(row);
        let frame = decode(&bytes).unwrap_or_else(|| panic!("{} is no frame", what(row)));
        assert_eq!((frame.version, frame.id), (2, whole(&row["id"])), "{}", what(row));
        let sender: (u8, u8, u8) = (whole(&row["seq"]), whole(&row["system"]), whole(&row["component"]));
        assert_eq!((frame.sequence, frame.system, frame.component), sender, "{}", what(row));
        assert_eq!(MavMessage::extra_crc(frame.id), whole::<u8>(&row["extra"]), "{}", what(row));
    }
    // The whole dialect, as far as both know it: a frame of another seed would count as broken.
    let all = rows();
    let seeds = all.last().unwrap()["seeds"].as_object().unwrap();
    let mut compared = 0;
    for (id, seed) in seeds {
        let id = id.parse().unwrap();
        if MavMessage::default_message_from_id(id).is_some() {
            assert_eq!(MavMessage::extra_crc(id), whole::<u8>(seed), "message {id}");
            compared += 1;
        }
    }
    assert!(compared >= 200, "{compared} messages compared");
}

#[test]
fn messages_are_encoded_again_byte_for_byte() {
    for row in rows().iter().filter(|row| row["hex"].is_string()) {
        let bytes = bytes(row);
        let frame = decode(&bytes).unwrap();
        // What the dialect does not name is read by us field by field, but is no message of the message library.
        let Ok(message) = MavMessage::parse(MavlinkVersion::V2, frame.id, frame.payload) else {
            let unnamed = ["numbers of no enumeration", "of no standard"];
            assert!(unnamed.iter().any(|known| row["what"] == *known), "{}", what(row));
            continue;
        };
        let header =
            MavHeader { system_id: frame.system.into(), component_id: frame.component, sequence: frame.sequence };
        let mut raw = MAVLinkV2MessageRaw::new();
        raw.serialize_message(header, &message);
        assert_eq!(raw.raw_bytes(), bytes, "{}", what(row));
    }
}

/// What a frame of a board has to become, from the fields that the reference was given.
fn wanted(row: &Value) -> Vec<LinkEvent> {
    let f = &row["fields"];
    let some = |value: &Value, none: i64| value.as_i64().filter(|value| *value != none);
    let heard = match row["name"].as_str().unwrap() {
        "HEARTBEAT" => LinkEvent::Alive { vehicle: 1, armed: f["base_mode"].as_i64().unwrap() & 128 != 0 },
        "SYS_STATUS" => {
            // Bit 16: receiver (common.xml, MAV_SYS_STATUS_SENSOR_RC_RECEIVER).
            let receiver = |field: &str| f[field].as_i64().unwrap() & (1 << 16) != 0;
            LinkEvent::Power {
                millivolts: some(&f["voltage_battery"], 65535).map(|v| u16::try_from(v).unwrap()),
                centiamps: some(&f["current_battery"], -1).map(|v| i16::try_from(v).unwrap()),
                receiver: receiver("onboard_control_sensors_present")
                    .then(|| receiver("onboard_control_sensors_health")),
            }
        }
        "ATTITUDE" => LinkEvent::Attitude {
            roll: real(&f["roll"]),
            pitch: real(&f["pitch"]),
            yaw: real(&f["yaw"]),
            board_time: Some(whole(&f["time_boot_ms"])),
        },
        "SERVO_OUTPUT_RAW" if f["port"] == 0 => LinkEvent::Outputs {
            pulses: std::array::from_fn(|i| whole(&f[format!("servo{}_raw", i + 1)])),
            board_time: Some(whole::<u32>(&f["time_usec"]) / 1000),
        },
        "RC_CHANNELS" => {
            let count = whole(&f["chancount"]);
            let pulse = |i: usize| some(&f[format!("chan{}_raw", i + 1)], 65535).map(|v| u16::try_from(v).unwrap());
            let pulses = std::array::from_fn(|i| pulse(i).filter(|_| i < usize::from(count)));
            LinkEvent::Channels { count, pulses, board_time: Some(whole(&f["time_boot_ms"])) }
        }
        "BATTERY_STATUS" if f["id"] == 0 => {
            let cells = f["voltages"].as_array().unwrap().iter().filter_map(|v| some(v, 65535));
            LinkEvent::Power {
                millivolts: Some(u16::try_from(cells.sum::<i64>()).unwrap()),
                centiamps: some(&f["current_battery"], -1).map(|v| i16::try_from(v).unwrap()),
                receiver: None,
            }
        }
        "ESC_STATUS" => {
            let first = whole(&f["index"]);
            let rpm = std::array::from_fn(|i| whole(&f["rpm"][i]));
            // Without a count all four are taken.
            LinkEvent::Speeds { first, rpm, count: 4 }
        }
        "STATUSTEXT" if f["id"] == 0 => {
            LinkEvent::Text { severity: whole(&f["severity"]), text: f["text"].as_str().unwrap().to_owned() }
        }
        "AUTOPILOT_VERSION" => LinkEvent::Identity(identity(row["what"].as_str().unwrap())),
        // Nobody waits for it; it tells that the board spoke.
        "COMMAND_ACK" => LinkEvent::Spoke,
        // Chunks of a line, answers that nobody waits for, and what carries no signal: below, where they mean something.
        _ => return Vec::new(),
    };
    vec![heard]
}

fn identity(what: &str) -> Identity {
    match what {
        "short id" => Identity {
            id: "0123456789abcdef".to_owned(),
            firmware: "2.4.1".to_owned(),
            kind: "Wagtail".to_owned(),
            name: None,
        },
        // First 64 bits of the SHA-256 of the bytes 0 to 17, by another implementation.
        "long id" => Identity {
            id: "7a096cc12702bcfa".to_owned(),
            firmware: "10.0.0".to_owned(),
            kind: String::new(),
            name: None,
        },
        other => panic!("{other}"),
    }
}

#[test]
fn what_the_reference_sends_as_a_board_is_heard_as_it_was_meant() {
    for row in from("board").iter().filter(|row| row["value"].is_null()) {
        let mut desk = InteractiveSession::bound();
        // Long after the frame that it was bound by, which may have been this one.
        desk.now = desk.now + Duration::from_secs(1);
        desk.bytes(&bytes(row));
        // What tells nothing that is asked for tells that somebody spoke.
        let told = Some(wanted(row)).filter(|told| !told.is_empty()).unwrap_or_else(|| vec![LinkEvent::Spoke]);
        assert_eq!(desk.heard, told, "{}", what(row));
    }
}

#[test]
fn chunks_of_a_line_and_the_count_of_speed_controllers_go_on_from_frame_to_frame() {
    let all = from("board");
    let feed = |desk: &mut InteractiveSession, said: &str| {
        desk.bytes(&bytes(all.iter().find(|row| row["what"] == said).unwrap()));
    };
    let mut desk = InteractiveSession::bound();
    feed(&mut desk, "first chunk");
    assert_eq!(desk.heard, [LinkEvent::Spoke]);
    desk.heard.clear();
    feed(&mut desk, "last chunk");
    let text = format!("{}and the rest", "0123456789".repeat(5));
    assert_eq!(desk.heard, [LinkEvent::Text { severity: 2, text }]);

    let mut desk = InteractiveSession::bound();
    feed(&mut desk, "controllers");
    desk.heard.clear();
    feed(&mut desk, "speeds of the last two");
    assert_eq!(desk.heard, [LinkEvent::Speeds { first: 4, rpm: [900, 901, 7, 8], count: 2 }]);
}

fn capability(row: &Value) -> MavProtocolCapability {
    if row["cast"] == true {
        MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_C_CAST
    } else {
        MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_BYTEWISE
    }
}

fn number(row: &Value) -> Number {
    if row["fields"]["param_type"] == 9 {
        Number::Real(row["value"].as_f64().unwrap())
    } else {
        Number::Whole(row["value"].as_i64().unwrap())
    }
}

#[test]
fn settings_of_every_type_are_read_in_both_encodings() {
    let rows = from("board").into_iter().filter(|row| row["value"].is_number()).collect::<Vec<_>>();
    assert_eq!(rows.len(), 28);
    for row in rows {
        let mut desk = InteractiveSession::bound();
        desk.board(&version(1, capability(&row)));
        desk.heard.clear();
        desk.bytes(&bytes(&row));
        let heard = LinkEvent::Setting { name: name("SIXTEEN_LETTERS_"), value: number(&row), index: Some(299) };
        assert_eq!(desk.heard, [heard], "{}", what(&row));
    }
}

fn kind(number: &Value) -> MavParamType {
    let all = [
        MavParamType::MAV_PARAM_TYPE_UINT8,
        MavParamType::MAV_PARAM_TYPE_INT8,
        MavParamType::MAV_PARAM_TYPE_UINT16,
        MavParamType::MAV_PARAM_TYPE_INT16,
        MavParamType::MAV_PARAM_TYPE_UINT32,
        MavParamType::MAV_PARAM_TYPE_INT32,
        MavParamType::MAV_PARAM_TYPE_REAL32,
    ];
    all.into_iter().find(|kind| *kind as i64 == number.as_i64().unwrap()).unwrap()
}

#[test]
fn writes_of_every_type_are_the_references_bytes_in_both_encodings() {
    let rows: Vec<Value> = from("station").into_iter().filter(|row| row["value"].is_number()).collect();
    for cast in [false, true] {
        let rows: Vec<&Value> = rows.iter().filter(|row| row["cast"] == cast).collect();
        assert_eq!(rows.len(), 14);
        let mut desk = InteractiveSession::bound();
        desk.board(&version(1, capability(rows[0])));
        desk.board(&value("PROOF", if cast { 7_f32.to_bits() } else { 7 }, MavParamType::MAV_PARAM_TYPE_UINT8, 0, 9));
        for (ticket, row) in (0..).zip(rows) {
            let (name, kind) = (row["fields"]["param_id"].as_str().unwrap(), kind(&row["fields"]["param_type"]));
            desk.board(&value(name, 0, kind, 1, 9));
            desk.send(ticket, Request::WriteSetting(super::kit::name(name), number(row)));
            assert_eq!(std::mem::take(&mut desk.out), bytes(row), "{}", what(row));
            // The board answers with what was written.
            desk.board(&value(name, whole(&row["fields"]["param_value"]["bits"]), kind, 1, 9));
            assert_eq!(desk.done(ticket), Some(&Done::Ok), "{}", what(row));
        }
    }
}

#[test]
fn what_a_link_sends_in_a_session_is_the_references_bytes() {
    let rows: Vec<Value> = from("station").into_iter().filter(|row| row["value"].is_null()).collect();
    let (accept, mut sent) = (|command| acknowledge(command, MavResult::MAV_RESULT_ACCEPTED), Vec::new());
    let number = |desk: &mut InteractiveSession, place| {
        desk.board(&value("PROOF", 7, MavParamType::MAV_PARAM_TYPE_UINT8, place, 2));
    };
    let mut desk = InteractiveSession::bound();
    desk.send(0, Request::Heartbeat);
    desk.send(1, Request::Identify);
    desk.board(&version(1, MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_BYTEWISE));
    desk.send(2, Request::ListSettings);
    number(&mut desk, 0);
    desk.wait(404);
    number(&mut desk, 1);
    desk.send(3, Request::ReadSetting(name("SIXTEEN_LETTERS_")));
    desk.board(&value("SIXTEEN_LETTERS_", 1, MavParamType::MAV_PARAM_TYPE_UINT8, 1, 2));
    // Late answers of the standard's 512 are awaited before the next of its kind is asked.
    desk.send(4, Request::Stream(Stream::Channels, Some(50)));
    desk.board(&MavMessage::MESSAGE_INTERVAL(MESSAGE_INTERVAL_DATA { interval_us: 200_000, message_id: 65 }));
    desk.work();
    desk.board(&accept(MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL));
    desk.send(5, Request::Stream(Stream::Channels, None));
    desk.board(&accept(MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL));
    desk.send(6, Request::RunMotor { motor: 3, pulse: 1150, lease_ms: 750 });
    desk.board(&accept(MavCmd::MAV_CMD_DO_MOTOR_TEST));
    desk.send(7, Request::Store);
    desk.wait(1001);
    desk.board(&accept(MavCmd::MAV_CMD_PREFLIGHT_STORAGE));
    desk.send(8, Request::Restart);
    desk.board(&accept(MavCmd::MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN));
    sent.append(&mut desk.out);
    sent.extend(desk.link.stop_bytes(true).unwrap());

    let mut rest = &sent[..];
    for row in &rows {
        let wanted = bytes(row);
        let (ours, more) = rest.split_at_checked(wanted.len()).unwrap_or((rest, &[]));
        assert_eq!(ours, wanted, "{}", what(row));
        rest = more;
    }
    assert_eq!(rest, [0_u8; 0], "more was sent");
}
