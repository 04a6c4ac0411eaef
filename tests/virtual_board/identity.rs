//! Who the board says it is, what it sends by itself, and that the same seed gives the same bytes.

use super::station::{Station, frame};
use mavlink::Message;
use mavlink::dialects::common::{
    MavCmd, MavMessage, MavModeFlag, MavProtocolCapability, MavResult, MavType, PARAM_REQUEST_LIST_DATA,
};
use quadjig::measure::time::Time;
use quadjig::virtual_board::{BoardKind, Encoding, World, WorldConfig};
use std::time::Duration;

fn version(station: &mut Station) -> mavlink::dialects::common::AUTOPILOT_VERSION_DATA {
    assert_eq!(station.ask(MavCmd::MAV_CMD_REQUEST_MESSAGE, &[148.0]), MavResult::MAV_RESULT_ACCEPTED);
    station
        .heard
        .iter()
        .find_map(|(_, message)| match message {
            MavMessage::AUTOPILOT_VERSION(version) => Some(version.clone()),
            _ => None,
        })
        .expect("a version")
}

#[test]
fn says_who_it_is() {
    let mut station = Station::new(WorldConfig { seed: 0xABCD_1234, ..WorldConfig::default() });
    let version = version(&mut station);
    assert_eq!(version.uid, 0x7669_7274_ABCD_1234);
    assert_eq!(version.flight_sw_version >> 8, 0x02_04_01);
    assert_eq!(&version.flight_custom_version, b"Finch\0\0\0");
    assert!(version.capabilities.contains(MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_BYTEWISE));
    assert!(!version.capabilities.contains(MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_C_CAST));

    let other = WorldConfig { board: BoardKind::FinchR, encoding: Encoding::Cast, ..WorldConfig::default() };
    let version = self::version(&mut Station::new(other));
    assert_eq!(&version.flight_custom_version, b"Finch R\0");
    assert!(version.capabilities.contains(MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_C_CAST));
}

#[test]
fn beats_once_a_second_disarmed() {
    let mut station = Station::new(WorldConfig::default());
    station.wait(10_050);
    let beats: Vec<_> = station
        .heard
        .iter()
        .filter_map(|(_, message)| match message {
            MavMessage::HEARTBEAT(beat) => Some(beat.clone()),
            _ => None,
        })
        .collect();
    assert_eq!(beats.len(), 11);
    assert!(beats.iter().all(|beat| beat.mavtype == MavType::MAV_TYPE_QUADROTOR));
    assert!(beats.iter().all(|beat| !beat.base_mode.contains(MavModeFlag::MAV_MODE_FLAG_SAFETY_ARMED)));
    assert_eq!(station.texts(), ["Finch 2.4.1 ready, craft 00000001"]);
}

#[test]
fn rates_are_raised_reported_and_put_back() {
    let mut station = Station::new(WorldConfig::default());
    let count = |station: &mut Station| {
        station.heard.clear();
        station.wait(2000);
        station.heard.iter().filter(|(_, message)| matches!(message, MavMessage::RC_CHANNELS(_))).count()
    };
    assert_eq!(count(&mut station), 10);
    let interval = MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL;
    assert_eq!(station.ask(interval, &[65.0, 20_000.0]), MavResult::MAV_RESULT_ACCEPTED);
    assert_eq!(count(&mut station), 100);
    assert_eq!(station.ask(MavCmd::MAV_CMD_REQUEST_MESSAGE, &[244.0, 65.0]), MavResult::MAV_RESULT_ACCEPTED);
    assert!(station.heard.iter().any(|(_, message)| {
        matches!(message, MavMessage::MESSAGE_INTERVAL(told) if told.interval_us == 20_000 && told.message_id == 65)
    }));
    assert_eq!(station.ask(interval, &[65.0, -1.0]), MavResult::MAV_RESULT_ACCEPTED);
    assert_eq!(count(&mut station), 0);
    assert_eq!(station.ask(interval, &[65.0, 0.0]), MavResult::MAV_RESULT_ACCEPTED);
    assert_eq!(count(&mut station), 10);
    // A heartbeat comes at 20 Hz at most, and a message that there is not is refused.
    assert_eq!(station.ask(interval, &[0.0, 1000.0]), MavResult::MAV_RESULT_ACCEPTED);
    station.wait(1000);
    let beats = station.heard.iter().filter(|(_, message)| matches!(message, MavMessage::HEARTBEAT(_))).count();
    assert_eq!(beats, 20);
    assert_eq!(station.ask(interval, &[33.0, 1000.0]), MavResult::MAV_RESULT_DENIED);
    assert_eq!(station.ask(MavCmd::MAV_CMD_NAV_TAKEOFF, &[]), MavResult::MAV_RESULT_UNSUPPORTED);
}

#[test]
fn same_seed_and_inputs_same_bytes() {
    let play = |seed, coarse: bool| {
        let mut world = World::new(WorldConfig { pack: WorldConfig::default().pack, ..WorldConfig::spread(seed) });
        let mut bytes = Vec::new();
        let mut moments = vec![
            (500, "battery in"),
            (900, "set ARM_CHANNEL 6"),
            (901, "set SPIN_AT_ZERO 1"),
            (902, "set IDLE_US 1170"),
            (1500, "flip B 2"),
            (4000, "flip B 0"),
            (5000, "restart"),
        ];
        moments.push((9000, "truth"));
        let list = MavMessage::PARAM_REQUEST_LIST(PARAM_REQUEST_LIST_DATA { target_system: 1, target_component: 1 });
        for (millisecond, line) in moments {
            let at = Time(millisecond * 1000);
            while !coarse && world.wake() < at {
                let wake = world.wake();
                world.advance(wake);
                bytes.extend(world.take_output());
            }
            world.line(at, line).unwrap();
            world.receive(at + Duration::from_millis(1), &frame(0, &list));
            bytes.extend(world.take_output());
        }
        bytes
    };
    let one = play(5, false);
    assert!(one.len() > 10_000);
    assert_eq!(one, play(5, false));
    assert_eq!(one, play(5, true), "how often one looks changes nothing");
    assert_ne!(one, play(6, false));
}

/// Frames made by pymavlink 2.4.50 from `common.xml`; a board must understand them.
#[test]
fn understands_frames_of_another_library() {
    let mut station = Station::new(WorldConfig::default());
    let bytes = |hex: &str| -> Vec<u8> {
        (0..hex.len()).step_by(2).map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap()).collect()
    };
    let mut hear = |hex: &str| {
        station.world.receive(Time(1000), &bytes(hex));
        station.listen();
        std::mem::take(&mut station.heard).into_iter().map(|(_, message)| message.message_name()).collect::<Vec<_>>()
    };
    hear("");
    // PARAM_SET "POLE_PAIRS" of another type than the board's: refused, answered with the current value.
    let set = "fd17000004ffbe170000070000000101504f4c455f504149525300000000000006ff8d";
    assert_eq!(hear(set), ["STATUSTEXT", "PARAM_VALUE"]);
    // COMMAND_LONG 400, all zero: disarm.
    let disarm = "fd20000008ffbe4c00000000000000000000000000000000000000000000000000000000000090010101db";
    assert_eq!(hear(&format!("{disarm}51")), ["COMMAND_ACK"]);
    // The same with a wrong CRC: nothing.
    assert!(hear(&format!("{disarm}52")).is_empty());
    // COMMAND_LONG 310 for an actuator: not this board's.
    let actuator = "fd20000006ffbe4c00009a99193e0000004000000000000000000000803f0000000000000000360101011510";
    assert_eq!(hear(actuator), ["COMMAND_ACK"]);
    // The same with a command number that the standard has not: COMMAND_ACK (77), "unsupported" (3), to its sender.
    let mut unknown = bytes(actuator);
    unknown[38..40].copy_from_slice(&60_000_u16.to_le_bytes());
    let end = unknown.len() - 2;
    let crc = mavlink::calculate_crc(&unknown[1..end], 152).to_le_bytes();
    unknown[end..].copy_from_slice(&crc);
    station.world.receive(Time(1000), &unknown);
    let answer = station.world.take_output();
    assert_eq!((answer[7], &answer[10..13], &answer[18..20]), (77, &[0x60, 0xEA, 3][..], &[255, 190][..]));
    let end = answer.len() - 2;
    assert_eq!(mavlink::calculate_crc(&answer[1..end], 143).to_le_bytes(), answer[end..]);
}
