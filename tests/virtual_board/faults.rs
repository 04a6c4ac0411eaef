//! Bytes that are hit on the wire: what MAVLink's checksums hold off, and what a console's echo gives away.

use super::station::{Station, command, frame};
use super::typist::Typist;
use mavlink::dialects::common::{HEARTBEAT_DATA, MavCmd, MavMessage, MavParamType, PARAM_REQUEST_LIST_DATA};
use quadjig::virtual_board::{ByteFaults, WorldConfig};

const FAULTS: ByteFaults = ByteFaults { dropped: 0.003, doubled: 0.003, corrupted: 0.003 };

/// MAVLink frames carry a checksum (mavlink.io, guide/serialization): what is hit is lost, and nothing is made up.
#[test]
fn a_hit_frame_is_lost_and_the_rest_is_heard() {
    let mut station = Station::new(WorldConfig { hits_out: FAULTS, hits_in: FAULTS, ..WorldConfig::default() });
    station.wait(20_000);
    let channels: Vec<u16> = station
        .heard
        .iter()
        .filter_map(|(_, message)| match message {
            MavMessage::RC_CHANNELS(told) => Some(told.chan6_raw),
            _ => None,
        })
        .collect();
    // 101 frames of 54 bytes, each byte hit in 9 of 1000: about 61 of 100 come through.
    assert!((40..90).contains(&channels.len()), "{}", channels.len());
    assert!(channels.iter().all(|pulse| (990..1010).contains(pulse)), "{channels:?}");
    for tries in 0..60_u8 {
        station.heard.clear();
        let wanted = 1100 + u16::from(tries);
        let message = mavlink::dialects::common::PARAM_SET_DATA {
            param_value: f32::from_bits(u32::from(wanted)),
            target_system: 1,
            target_component: 1,
            param_id: "IDLE_US".into(),
            param_type: MavParamType::MAV_PARAM_TYPE_UINT16,
        };
        station.send(&MavMessage::PARAM_SET(message));
        // What waits behind a cut frame may come through with the next one.
        let has = station.truth("/settings/IDLE_US/working").as_u64().unwrap();
        assert!(has == 1050 || (1100..=u64::from(wanted)).contains(&has), "{has}");
    }
}

/// A console has no checksum: what the board understood is done, and only the echo and the answer tell.
#[test]
fn a_consoles_echo_tells_what_the_board_understood() {
    let hits_in = ByteFaults { dropped: 0.005, doubled: 0.005, corrupted: 0.01 };
    let mut typist = Typist::with(WorldConfig { hits_in, ..WorldConfig::default() });
    let before = typist.truth("/settings");
    let mut shown = String::new();
    for number in 0..400 {
        shown += &typist.types(format!("\u{3}put {} into IDLE_US\r", 1000 + number % 250));
    }
    let lines: Vec<&str> = shown.split("\r\n").collect();
    let (mut otherwise, mut wanted, mut last) = (0, 0, 1050);
    for pair in lines.windows(2) {
        let Some(line) = pair[0].strip_prefix("finch> ") else { continue };
        let words: Vec<&str> = line.split(' ').filter(|word| !word.is_empty()).collect();
        let value = if let ["put", value, "into", "IDLE_US"] = words[..] { Some(value) } else { None };
        match (value, pair[1].strip_suffix(" for IDLE_US")) {
            (Some(value), Some(taken)) => {
                assert_eq!(value, taken, "the echo and the answer agree");
                last = taken.parse().unwrap();
                wanted += 1;
            }
            (_, Some(_)) => panic!("{pair:?}: taken without an echo that says so"),
            (_, None) => otherwise += u32::from(pair[1].starts_with("no: ")),
        }
    }
    // A line has 25 bytes, each hit in 2 of 100: about 60 of 100 lines come through whole.
    assert!((160..340).contains(&wanted) && otherwise > 40, "{wanted} taken, {otherwise} refused");
    let after = typist.truth("/settings");
    assert_eq!(after["IDLE_US"]["working"], last);
    for (name, value) in before.as_object().unwrap().iter().filter(|(name, _)| *name != "IDLE_US") {
        assert_eq!(*value, after[name], "{name}");
    }
}

/// Whoever tries MAVLink on a board with a console types rubbish at it, which it takes for wrong words.
#[test]
fn mavlink_at_a_console_changes_nothing() {
    let mut typist = Typist::plain();
    typist.bind_arm();
    typist.line("battery in");
    let before = typist.truth("/settings");
    let list = PARAM_REQUEST_LIST_DATA { target_system: 1, target_component: 1 };
    for sequence in 0..=255 {
        for message in [
            MavMessage::HEARTBEAT(HEARTBEAT_DATA::default()),
            MavMessage::PARAM_REQUEST_LIST(list.clone()),
            command(MavCmd::MAV_CMD_COMPONENT_ARM_DISARM, [1.0; 7]),
            command(MavCmd::MAV_CMD_DO_MOTOR_TEST, [1.0, 1.0, 1150.0, 1.0, 0.0, 0.0, 0.0]),
        ] {
            typist.types(frame(sequence, &message));
        }
    }
    assert_eq!(typist.truth("/settings"), before);
    assert_eq!((typist.truth("/armed"), typist.world.outputs()), (false.into(), &[1000; 4][..]));
    typist.types("\u{3}");
    assert_eq!(typist.ask("armed"), "armed: no");
}
