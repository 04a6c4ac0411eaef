//! Settings on the wire: listing, reading, setting, refusing, storing and forgetting, in both encodings.

use super::station::Station;
use mavlink::dialects::common::{MavCmd, MavMessage, MavParamType, MavResult, PARAM_REQUEST_READ_DATA};
use quadjig::virtual_board::{BoardKind, Encoding, WorldConfig};

fn station(encoding: Encoding) -> Station {
    Station::new(WorldConfig { encoding, ..WorldConfig::default() })
}

#[test]
fn lists_every_setting_once() {
    for (board, encoding) in [(BoardKind::Finch, Encoding::Bytewise), (BoardKind::FinchR, Encoding::Cast)] {
        let mut station = Station::new(WorldConfig { board, encoding, ..WorldConfig::default() });
        let all = station.list();
        assert!(all.len() >= 80);
        for (index, value) in all.iter().enumerate() {
            assert_eq!(usize::from(value.param_index), index);
            assert_eq!(usize::from(value.param_count), all.len());
        }
        let rows = all.iter().filter(|value| value.param_id.to_str().unwrap().starts_with("ROW")).count();
        assert_eq!(rows, if board == BoardKind::FinchR { 32 } else { 0 });
    }
}

/// MAVLink parameter protocol: bytewise puts the integer's bytes in the float field, C cast converts it and is
/// exact to 24 bits only, so that 16777217 becomes 16777216.
#[test]
fn encodes_whole_numbers_both_ways() {
    let find = |station: &mut Station, name: &str| {
        station.list().into_iter().find(|value| value.param_id.to_str().unwrap() == name).unwrap().param_value
    };
    let mut bytewise = station(Encoding::Bytewise);
    assert_eq!(find(&mut bytewise, "IDLE_US").to_bits(), 1050);
    assert_eq!(find(&mut bytewise, "GYRO_OFF_Y").to_bits().cast_signed(), -7);
    assert_eq!(find(&mut bytewise, "ACCEL_OFF_Z").to_bits(), 16_777_217);
    assert_eq!(find(&mut bytewise, "VOLT_RATIO").to_bits(), 10.9_f32.to_bits());
    let mut cast = station(Encoding::Cast);
    assert_eq!(find(&mut cast, "IDLE_US").to_bits(), 1050.0_f32.to_bits());
    assert_eq!(find(&mut cast, "GYRO_OFF_Y").to_bits(), (-7.0_f32).to_bits());
    assert_eq!(find(&mut cast, "ACCEL_OFF_Z").to_bits(), 16_777_216.0_f32.to_bits());
}

#[test]
fn reads_one_by_name_and_by_index() {
    let mut station = station(Encoding::Bytewise);
    let mut read = |name: &str, param_index| {
        station.heard.clear();
        station.send(&MavMessage::PARAM_REQUEST_READ(PARAM_REQUEST_READ_DATA {
            param_index,
            target_system: 1,
            target_component: 1,
            param_id: name.into(),
        }));
        station.values()
    };
    let by_name = read("SPIN_AT_ZERO", -1);
    assert_eq!(by_name.len(), 1);
    let index = i16::try_from(by_name[0].param_index).unwrap();
    assert_eq!(read("", index), by_name);
    assert!(read("NO_SUCH", -1).is_empty());
    assert!(read("", 2000).is_empty());
}

#[test]
fn a_refused_write_is_answered_with_what_is() {
    let mut station = station(Encoding::Cast);
    let u16_type = MavParamType::MAV_PARAM_TYPE_UINT16;
    let value = station.set("IDLE_US", 1120.0, u16_type);
    assert_eq!(value.param_value.to_bits(), 1120.0_f32.to_bits());
    for (wrong, reason) in [
        (1260.0, "IDLE_US refused: takes 1000 to 1250"),
        (999.0, "IDLE_US refused: takes 1000 to 1250"),
        (1100.5, "IDLE_US refused: whole numbers only"),
        (f32::NAN, "IDLE_US refused: not a number"),
        (f32::INFINITY, "IDLE_US refused: not a number"),
    ] {
        let value = station.set("IDLE_US", wrong, u16_type);
        assert_eq!(value.param_value.to_bits(), 1120.0_f32.to_bits(), "{wrong}");
        assert_eq!(station.texts(), [reason]);
    }
    station.set("IDLE_US", 1130.0, MavParamType::MAV_PARAM_TYPE_INT32);
    assert_eq!(station.texts(), ["IDLE_US refused: wrong type"]);
    station.set("LOOP_HZ", 3000.0, u16_type);
    assert_eq!(station.texts(), ["LOOP_HZ refused: takes 1000, 2000, 4000, 8000"]);
}

#[test]
fn ends_of_a_band_come_to_steps_of_eight() {
    let mut station = station(Encoding::Cast);
    let value = station.set("ARM_FROM", 1755.0, MavParamType::MAV_PARAM_TYPE_UINT16);
    assert_eq!(value.param_value.to_bits(), 1754.0_f32.to_bits());
}

#[test]
fn forgets_on_restart_what_was_not_stored() {
    let mut station = station(Encoding::Cast);
    let u16_type = MavParamType::MAV_PARAM_TYPE_UINT16;
    let i8_type = MavParamType::MAV_PARAM_TYPE_INT8;
    station.set("IDLE_US", 1111.0, u16_type);
    assert_eq!(station.ask(MavCmd::MAV_CMD_PREFLIGHT_STORAGE, &[1.0]), MavResult::MAV_RESULT_ACCEPTED);
    station.set("ROTOR_TRIM", -3.0, i8_type);
    assert_eq!(station.truth("/settings/ROTOR_TRIM"), serde_json::json!({ "working": -3, "stored": 0 }));

    assert_eq!(station.ask(MavCmd::MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN, &[1.0]), MavResult::MAV_RESULT_ACCEPTED);
    assert!(station.world.link_present(), "the answer gets out first");
    station.wait(100);
    assert!(!station.world.link_present());
    station.heard.clear();
    station.wait(1000);
    assert!(station.heard.is_empty(), "a port that is gone says nothing");
    station.wait(200);
    assert!(station.world.link_present());
    assert!(station.texts().contains(&"Finch 2.4.1 ready, craft 00000001".to_owned()));
    assert_eq!(station.truth("/settings/IDLE_US/working"), 1111);
    assert_eq!(station.truth("/settings/ROTOR_TRIM/working"), 0);
}

#[test]
fn storage_reads_back_and_puts_factory_values_in_force() {
    let mut station = station(Encoding::Cast);
    station.set("IDLE_US", 1111.0, MavParamType::MAV_PARAM_TYPE_UINT16);
    assert_eq!(station.ask(MavCmd::MAV_CMD_PREFLIGHT_STORAGE, &[0.0]), MavResult::MAV_RESULT_ACCEPTED);
    assert_eq!(station.truth("/settings/IDLE_US/working"), 1050);
    station.line("set IDLE_US 1200");
    station.ask(MavCmd::MAV_CMD_PREFLIGHT_STORAGE, &[1.0]);
    assert_eq!(station.ask(MavCmd::MAV_CMD_PREFLIGHT_STORAGE, &[2.0]), MavResult::MAV_RESULT_ACCEPTED);
    assert_eq!(station.truth("/settings/IDLE_US"), serde_json::json!({ "working": 1050, "stored": 1200 }));
    assert_eq!(station.ask(MavCmd::MAV_CMD_PREFLIGHT_STORAGE, &[7.0]), MavResult::MAV_RESULT_DENIED);
}
