//! Power: battery in and out, sag, the sensor, USB, restarts.

use super::station::Station;
use mavlink::dialects::common::{MavCmd, MavMessage};
use quadjig::virtual_board::WorldConfig;

fn told_volts(station: &mut Station) -> f64 {
    station.heard.clear();
    station.wait(600);
    let millivolts = station.heard.iter().rev().find_map(|(_, message)| match message {
        MavMessage::SYS_STATUS(status) => Some(status.voltage_battery),
        _ => None,
    });
    f64::from(millivolts.expect("a status")) / 1000.0
}

#[test]
fn the_sensor_shows_volts_by_the_ratio_set_in_it() {
    let mut station = Station::new(WorldConfig::default());
    assert!(told_volts(&mut station) < 0.1);
    station.line("battery in");
    let really = station.world.pack_volts();
    // The divider is 11.05, the factory's ratio 10.9.
    let shown = told_volts(&mut station);
    assert!((shown - really * 10.9 / 11.05).abs() < 0.03, "{shown} for {really}");
    station.line("set VOLT_RATIO 11.05");
    assert!((told_volts(&mut station) - really).abs() < 0.03);
}

#[test]
fn no_fault_is_told_that_there_is_not() {
    let mut station = Station::new(WorldConfig::default());
    station.wait(1500);
    for (_, message) in &station.heard {
        match message {
            MavMessage::BATTERY_STATUS(told) => assert!(told.fault_bitmask.is_empty()),
            MavMessage::SYS_STATUS(told) => {
                assert!(told.onboard_control_sensors_present_extended.is_empty());
                assert_eq!(told.onboard_control_sensors_health, told.onboard_control_sensors_present);
            }
            _ => {}
        }
    }
    assert!(station.heard.iter().any(|(_, message)| matches!(message, MavMessage::BATTERY_STATUS(_))));
}

#[test]
fn the_pack_sags_under_load_and_empties() {
    let mut station = Station::new(WorldConfig::default());
    station.bind_arm();
    station.line("set IDLE_US 1200");
    station.line("battery in");
    station.wait(500);
    let rested = station.world.pack_volts();
    station.line("flip B 2");
    station.wait(2000);
    let loaded = station.world.pack_volts();
    let amperes = station.truth("/battery/amperes").as_f64().unwrap();
    assert!((1.0..6.0).contains(&amperes), "{amperes} A");
    let open = station.truth("/battery/volts_without_load").as_f64().unwrap();
    assert!((open - loaded - amperes * 0.080).abs() < 0.002, "volts fall by amperes × resistance");
    assert!(loaded < rested - 0.05);
    station.wait(60_000);
    station.line("flip B 0");
    station.wait(3000);
    let after = station.world.pack_volts();
    assert!(after < rested - 0.01 && after > rested - 0.2, "{rested} V, then {after} V");
}

#[test]
fn battery_out_stops_every_motor() {
    let mut station = Station::new(WorldConfig::default());
    station.bind_arm();
    station.line("set IDLE_US 1200");
    station.line("battery in");
    station.wait(500);
    station.line("flip B 2");
    station.wait(1000);
    assert!(station.world.speeds().iter().all(|speed| *speed > 10_000.0));
    station.line("battery out");
    assert!(station.world.armed(), "USB still feeds the board");
    station.wait(1500);
    assert!(station.world.speeds().iter().all(|speed| *speed < 1.0));
    assert!(station.world.pack_volts().abs() < f64::EPSILON);
    assert!(station.world.link_present());
}

#[test]
fn usb_out_takes_the_link_and_with_no_battery_the_board() {
    let mut station = Station::new(WorldConfig::default());
    station.line("battery in");
    station.line("set IDLE_US 1123");
    station.line("usb out");
    assert!(!station.world.link_present());
    station.heard.clear();
    station.wait(1000);
    assert!(station.heard.is_empty());
    station.line("usb in");
    assert!(station.world.link_present(), "the board never went");
    assert_eq!(station.truth("/settings/IDLE_US/working"), 1123);
    station.line("battery out");
    station.line("usb out");
    assert_eq!(station.truth("/board/up"), false);
    assert_eq!(station.world.wake(), quadjig::measure::time::Time::NEVER);
    station.line("usb in");
    assert!(!station.world.link_present());
    station.wait(1300);
    assert!(station.world.link_present());
    assert_eq!(station.truth("/settings/IDLE_US/working"), 1050);
    assert_eq!(station.truth("/board/starts"), 2);
}

#[test]
fn no_restart_while_armed() {
    let mut station = Station::new(WorldConfig::default());
    station.bind_arm();
    station.wait(100);
    station.line("flip B 2");
    station.wait(100);
    assert!(station.world.armed());
    for (command, parameter) in
        [(MavCmd::MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN, 1.0), (MavCmd::MAV_CMD_PREFLIGHT_STORAGE, 1.0)]
    {
        let result = station.ask(command, &[parameter]);
        assert_eq!(result, mavlink::dialects::common::MavResult::MAV_RESULT_TEMPORARILY_REJECTED);
    }
    station.wait(500);
    assert!(station.world.link_present());
}

#[test]
fn propellers_show_in_a_shorter_coast() {
    let coast = |props: bool| {
        let mut station = Station::new(WorldConfig::default());
        station.line("battery in");
        station.line(if props { "props on" } else { "props off" });
        station.ask(MavCmd::MAV_CMD_DO_MOTOR_TEST, &[1.0, 1.0, 1200.0, 1.0]);
        station.wait(1000);
        let mut milliseconds = 0;
        while station.world.speeds()[0] > 100.0 {
            station.wait(10);
            milliseconds += 10;
        }
        milliseconds
    };
    assert!(coast(true) * 2 < coast(false));
}
