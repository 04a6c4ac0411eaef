//! Messages of the board as signals.

use super::golden::{BAD, GOLDEN, VERSION_1};
use super::kit::{InteractiveSession, frame, hex, raw_frame, version};
use mavlink::dialects::common::{
    ATTITUDE_DATA, BATTERY_STATUS_DATA, MavBatteryChargeState, MavBatteryFault, MavBatteryFunction, MavBatteryMode,
    MavBatteryType, MavMessage, MavProtocolCapability, MavSysStatusSensor, MavSysStatusSensorExtended,
    SERVO_OUTPUT_RAW_DATA, SYS_STATUS_DATA,
};
use quadjig::board::signals::{Done, Identity, Link, LinkEvent, Request};

fn golden(name: &str) -> Vec<u8> {
    hex(GOLDEN.iter().find(|(n, _)| *n == name).unwrap().1)
}

#[test]
fn a_heartbeat_is_a_sign_of_life_and_tells_the_armed_flag() {
    for (text, version) in [(GOLDEN[0].1, 2), (VERSION_1, 1)] {
        let mut desk = InteractiveSession::new();
        desk.bytes(&hex(text));
        assert_eq!(desk.heard, [LinkEvent::Alive { vehicle: 1, armed: false }], "version {version}");
    }
    // Bit 128 of base_mode (minimal.xml, MAV_MODE_FLAG_SAFETY_ARMED).
    let mut desk = InteractiveSession::new();
    desk.bytes(&raw_frame((1, 1), 0, 0, &[0, 0, 0, 0, 2, 0, 128 | 64, 4, 3], 50));
    assert_eq!(desk.heard, [LinkEvent::Alive { vehicle: 1, armed: true }]);
}

#[test]
fn a_bad_checksum_is_no_sign_of_life() {
    let mut desk = InteractiveSession::new();
    desk.bytes(&hex(BAD));
    assert!(desk.heard.is_empty());
    assert_eq!(desk.link.bound(), None);
}

#[test]
fn unknown_values_of_a_heartbeats_enums_do_not_hide_the_armed_flag() {
    // Type 250, autopilot 99, status 77: in no dialect.
    let mut desk = InteractiveSession::new();
    desk.bytes(&raw_frame((1, 1), 0, 0, &[0, 0, 0, 0, 250, 99, 128, 77, 3], 50));
    assert_eq!(desk.heard, [LinkEvent::Alive { vehicle: 1, armed: true }]);
}

#[test]
fn channels_come_with_the_boards_clock_and_unused_ones_are_left_out() {
    let mut desk = InteractiveSession::bound();
    desk.bytes(&golden("RC_CHANNELS"));
    let mut pulses = [None; 18];
    for (pulse, us) in pulses.iter_mut().zip([1500, 1500, 988, 1500, 2012, 1000, 2000, 1750]) {
        *pulse = Some(us);
    }
    assert_eq!(desk.heard, [LinkEvent::Channels { count: 8, pulses, board_time: Some(123_456) }]);
}

#[test]
fn speeds_are_signed() {
    let mut desk = InteractiveSession::bound();
    desk.bytes(&golden("ESC_STATUS"));
    assert_eq!(desk.heard, [LinkEvent::Speeds { first: 0, rpm: [1200, -1200, 0, 3500], count: 4 }]);
}

#[test]
fn the_number_of_speed_controllers_bounds_the_speeds() {
    let mut desk = InteractiveSession::bound();
    // ESC_INFO, 46 bytes: count is byte 43 (CM field order, largest type first).
    let mut info = [0; 46];
    info[43] = 6;
    desk.bytes(&raw_frame((1, 1), 1, 290, &info, 251));
    let mut status = [0; 57];
    status[8..12].copy_from_slice(&900_i32.to_le_bytes());
    for (first, count) in [(0, 4), (4, 2)] {
        status[56] = first;
        desk.heard.clear();
        desk.bytes(&raw_frame((1, 1), 2, 291, &status, 10));
        assert_eq!(desk.heard, [LinkEvent::Speeds { first, rpm: [900, 0, 0, 0], count }]);
    }
    desk.heard.clear();
    status[56] = 8;
    desk.bytes(&raw_frame((1, 1), 2, 291, &status, 10));
    assert_eq!(desk.heard, [LinkEvent::Spoke], "speeds of controllers that are not there");
}

fn attitude(roll: f32) -> MavMessage {
    MavMessage::ATTITUDE(ATTITUDE_DATA {
        time_boot_ms: 77,
        roll,
        pitch: -0.25,
        yaw: 3.0,
        rollspeed: 0.0,
        pitchspeed: 0.0,
        yawspeed: 0.0,
    })
}

#[test]
fn an_attitude_that_is_not_finite_is_refused() {
    let mut desk = InteractiveSession::bound();
    desk.board(&attitude(0.5));
    assert_eq!(desk.heard, [LinkEvent::Attitude { roll: 0.5, pitch: -0.25, yaw: 3.0, board_time: Some(77) }]);
    desk.heard.clear();
    desk.board(&attitude(f32::NAN));
    desk.board(&attitude(f32::INFINITY));
    assert_eq!(desk.heard, [LinkEvent::Spoke, LinkEvent::Spoke]);
}

fn outputs(time_usec: u32, port: u8) -> MavMessage {
    MavMessage::SERVO_OUTPUT_RAW(SERVO_OUTPUT_RAW_DATA {
        time_usec,
        servo1_raw: 1001,
        servo2_raw: 1002,
        servo3_raw: 1003,
        servo4_raw: 1004,
        servo5_raw: 0,
        servo6_raw: 0,
        servo7_raw: 0,
        servo8_raw: 1008,
        port,
        servo9_raw: 0,
        servo10_raw: 0,
        servo11_raw: 0,
        servo12_raw: 0,
        servo13_raw: 0,
        servo14_raw: 0,
        servo15_raw: 0,
        servo16_raw: 0,
    })
}

#[test]
fn outputs_keep_a_clock_that_does_not_run_over_with_the_microseconds() {
    let mut desk = InteractiveSession::bound();
    let pulses = [1001, 1002, 1003, 1004, 0, 0, 0, 1008];
    for (time, milliseconds) in [(4_294_967_000, 4_294_967), (704, 4_294_968), (1_000_704, 4_295_968)] {
        desk.heard.clear();
        desk.board(&outputs(time, 0));
        assert_eq!(desk.heard, [LinkEvent::Outputs { pulses, board_time: Some(milliseconds) }]);
    }
    // A restart begins anew.
    desk.heard.clear();
    desk.board(&outputs(900_000_000, 0));
    desk.board(&outputs(5_000, 0));
    assert!(matches!(desk.heard[1], LinkEvent::Outputs { board_time: Some(5), .. }));
    // The other group of outputs is not the motors'.
    desk.heard.clear();
    desk.board(&outputs(6_000, 1));
    assert_eq!(desk.heard, [LinkEvent::Spoke]);
}

fn status(voltage: u16, current: i16, present: bool, healthy: bool) -> MavMessage {
    let receiver = MavSysStatusSensor::MAV_SYS_STATUS_SENSOR_RC_RECEIVER;
    let set = |on| if on { receiver } else { MavSysStatusSensor::empty() };
    MavMessage::SYS_STATUS(SYS_STATUS_DATA {
        onboard_control_sensors_present: set(present),
        onboard_control_sensors_enabled: set(present),
        onboard_control_sensors_health: set(healthy),
        load: 0,
        voltage_battery: voltage,
        current_battery: current,
        drop_rate_comm: 0,
        errors_comm: 0,
        errors_count1: 0,
        errors_count2: 0,
        errors_count3: 0,
        errors_count4: 0,
        battery_remaining: -1,
        onboard_control_sensors_present_extended: MavSysStatusSensorExtended::empty(),
        onboard_control_sensors_enabled_extended: MavSysStatusSensorExtended::empty(),
        onboard_control_sensors_health_extended: MavSysStatusSensorExtended::empty(),
    })
}

#[test]
fn power_tells_what_is_measured_and_no_more() {
    let mut desk = InteractiveSession::bound();
    desk.board(&status(16_800, 250, true, true));
    desk.board(&status(u16::MAX, -1, true, false));
    desk.board(&status(0, 0, false, false));
    assert_eq!(
        desk.heard,
        [
            LinkEvent::Power { millivolts: Some(16_800), centiamps: Some(250), receiver: Some(true) },
            LinkEvent::Power { millivolts: None, centiamps: None, receiver: Some(false) },
            LinkEvent::Power { millivolts: Some(0), centiamps: Some(0), receiver: None },
        ]
    );
}

fn battery(voltages: [u16; 10]) -> MavMessage {
    MavMessage::BATTERY_STATUS(BATTERY_STATUS_DATA {
        current_consumed: -1,
        energy_consumed: -1,
        temperature: i16::MAX,
        voltages,
        current_battery: 120,
        id: 0,
        battery_function: MavBatteryFunction::MAV_BATTERY_FUNCTION_ALL,
        mavtype: MavBatteryType::MAV_BATTERY_TYPE_LIPO,
        battery_remaining: -1,
        time_remaining: 0,
        charge_state: MavBatteryChargeState::MAV_BATTERY_CHARGE_STATE_UNDEFINED,
        voltages_ext: [0; 4],
        mode: MavBatteryMode::MAV_BATTERY_MODE_UNKNOWN,
        fault_bitmask: MavBatteryFault::empty(),
    })
}

#[test]
fn the_cells_of_a_pack_are_added_where_the_status_has_no_voltage() {
    let mut desk = InteractiveSession::bound();
    let none = u16::MAX;
    let pack = battery([4100, 4110, 4120, none, none, none, none, none, none, none]);
    desk.board(&pack);
    assert_eq!(desk.heard, [LinkEvent::Power { millivolts: Some(12_330), centiamps: Some(120), receiver: None }]);
    desk.heard.clear();
    desk.board(&battery([none; 10]));
    assert_eq!(desk.heard, [LinkEvent::Power { millivolts: None, centiamps: Some(120), receiver: None }]);
    desk.board(&status(12_300, 100, true, true));
    desk.heard.clear();
    desk.board(&pack);
    assert_eq!(desk.heard, [LinkEvent::Spoke], "two voltages of one pack");
}

#[test]
fn a_pack_told_by_its_cells_is_not_lost_between_the_statuses() {
    let mut desk = InteractiveSession::bound();
    let none = u16::MAX;
    let whole = [LinkEvent::Power { millivolts: Some(8200), centiamps: Some(120), receiver: Some(true) }];
    let bare = [LinkEvent::Power { millivolts: None, centiamps: None, receiver: Some(true) }];
    let status = status(none, -1, true, true);
    desk.board(&status);
    assert_eq!(desk.heard, bare);
    for message in [battery([4100, 4100, none, none, none, none, none, none, none, none]), status.clone()] {
        desk.heard.clear();
        desk.board(&message);
        assert_eq!(desk.heard, whole);
    }
    // What is old, or from before a gap, is not told as new.
    desk.wait(1600);
    desk.heard.clear();
    desk.board(&status);
    assert_eq!(desk.heard, bare);
    desk.board(&battery([4100, 4100, none, none, none, none, none, none, none, none]));
    desk.link.reset();
    desk.heard.clear();
    desk.board(&status);
    assert_eq!(desk.heard, bare);
}

#[test]
fn the_identity_answers_the_question() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::Identify);
    let asked = super::kit::commands(&desk.sent());
    assert_eq!(asked, [(mavlink::dialects::common::MavCmd::MAV_CMD_REQUEST_MESSAGE, 0)]);
    let mut bytes = frame((1, 1), 9, &version(0x7669_7274_00AB_CDEF, MavProtocolCapability::empty()));
    desk.bytes(&bytes);
    let identity = Identity {
        id: "7669727400abcdef".to_owned(),
        firmware: "2.4.1".to_owned(),
        kind: "Finch R".to_owned(),
        name: None,
    };
    assert!(identity.is_virtual());
    assert_eq!(desk.heard, [LinkEvent::Identity(identity)]);
    desk.wait(1);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    // Capability bits that the dialect does not know, and a custom version that is no text.
    desk.heard.clear();
    bytes[10 + 7] |= 0x80;
    bytes[10 + 36] = 0x01;
    let end = bytes.len() - 2;
    let check = mavlink::calculate_crc(&bytes[1..end], 178);
    bytes[end..].copy_from_slice(&check.to_le_bytes());
    desk.bytes(&bytes);
    assert!(matches!(&desk.heard[..], [LinkEvent::Identity(Identity { kind, .. })] if kind.is_empty()));
}
