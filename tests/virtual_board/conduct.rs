//! Boards that depart from what a board should be: each departure shows on the wire or in the truth, and only it.

use super::station::{Station, command};
use super::typist::Typist;
use mavlink::MessageData;
use mavlink::dialects::common::{
    AUTOPILOT_VERSION_DATA, HEARTBEAT_DATA, MavCmd, MavMessage, MavParamType, MavResult, MavSysStatusSensor,
    PARAM_REQUEST_READ_DATA, PARAM_SET_DATA,
};
use quadjig::virtual_board::{Conduct, Deed, GivenId, WorldConfig};
use std::time::Duration;

const ARM: MavCmd = MavCmd::MAV_CMD_COMPONENT_ARM_DISARM;
const STORE: MavCmd = MavCmd::MAV_CMD_PREFLIGHT_STORAGE;
const RESTART: MavCmd = MavCmd::MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN;
const RUN: MavCmd = MavCmd::MAV_CMD_DO_MOTOR_TEST;

fn with(conduct: Conduct) -> Station {
    Station::new(WorldConfig { conduct, ..WorldConfig::default() })
}

/// Sets the idle; the value in the answer, if any came within the time.
fn set_idle(station: &mut Station, value: u8, wait: u64) -> Option<u32> {
    station.heard.clear();
    station.send(&MavMessage::PARAM_SET(PARAM_SET_DATA {
        param_value: f32::from_bits(1000 + u32::from(value)),
        target_system: 1,
        target_component: 1,
        param_id: "IDLE_US".into(),
        param_type: MavParamType::MAV_PARAM_TYPE_UINT16,
    }));
    station.wait(wait);
    station.values().first().map(|value| value.param_value.to_bits())
}

fn read_idle(station: &mut Station) -> u32 {
    station.heard.clear();
    station.send(&MavMessage::PARAM_REQUEST_READ(PARAM_REQUEST_READ_DATA {
        param_index: -1,
        target_system: 1,
        target_component: 1,
        param_id: "IDLE_US".into(),
    }));
    station.values()[0].param_value.to_bits()
}

/// The answer to a command within 20 ms; `None`: silence.
fn said(station: &mut Station, what: MavCmd, parameters: &[f32]) -> Option<MavResult> {
    let mut all = [0.0; 7];
    all[..parameters.len()].copy_from_slice(parameters);
    station.heard.clear();
    station.send(&command(what, all));
    station.wait(20);
    station.heard.iter().find_map(|(_, message)| match message {
        MavMessage::COMMAND_ACK(ack) if ack.command == what => Some(ack.result),
        _ => None,
    })
}

#[test]
fn a_write_is_done_or_not_whatever_its_answer() {
    for (deed, answered, at_once, later) in [
        (Deed::Done, Some(1090), 1090, 1090),
        (Deed::Hollow, Some(1090), 1050, 1050),
        (Deed::Late(Duration::from_millis(300)), Some(1090), 1050, 1090),
        (Deed::Silent, None, 1090, 1090),
    ] {
        let mut station = with(Conduct { writes: deed, ..Conduct::default() });
        assert_eq!(set_idle(&mut station, 90, 0), answered, "{deed:?}");
        assert_eq!(read_idle(&mut station), at_once, "{deed:?}");
        station.wait(299);
        assert_eq!(read_idle(&mut station), at_once, "{deed:?}");
        station.wait(2);
        assert_eq!(read_idle(&mut station), later, "{deed:?}");
    }
}

#[test]
fn storing_and_restarting_are_done_or_not_whatever_their_answer() {
    let accepted = Some(MavResult::MAV_RESULT_ACCEPTED);
    for (deed, answer, stored, starts) in [
        (Deed::Done, accepted, 1090, 2),
        (Deed::Hollow, accepted, 1050, 1),
        (Deed::Silent, None, 1090, 2),
        (Deed::Late(Duration::from_millis(500)), accepted, 1090, 2),
    ] {
        let mut station = with(Conduct { stores: deed, ..Conduct::default() });
        set_idle(&mut station, 90, 0);
        assert_eq!(said(&mut station, STORE, &[1.0]), answer, "{deed:?}");
        station.wait(600);
        assert_eq!(station.truth("/settings/IDLE_US/stored"), stored, "{deed:?}");
        let mut station = with(Conduct { restarts: deed, ..Conduct::default() });
        assert_eq!(said(&mut station, RESTART, &[1.0]), answer, "{deed:?}");
        station.wait(2000);
        assert_eq!(station.truth("/board/starts"), starts, "{deed:?}");
    }
}

#[test]
fn a_disarm_is_done_late_hollow_silent_or_not_heard() {
    let accepted = Some(MavResult::MAV_RESULT_ACCEPTED);
    let late = Deed::Late(Duration::from_millis(300));
    for (disarms, swallows, answer, at_once, later) in [
        (Deed::Done, 0, accepted, false, false),
        (Deed::Hollow, 0, accepted, true, true),
        (late, 0, accepted, true, false),
        (Deed::Silent, 0, None, false, false),
        (Deed::Done, 1, None, true, true),
    ] {
        let mut station = with(Conduct { disarms, swallows, ..Conduct::default() });
        station.bind_arm();
        station.wait(100);
        station.line("flip B 2");
        station.wait(100);
        assert!(station.world.armed());
        assert_eq!(said(&mut station, ARM, &[0.0]), answer, "{disarms:?}");
        assert_eq!(station.world.armed(), at_once, "{disarms:?}");
        station.wait(400);
        assert_eq!(station.world.armed(), later, "{disarms:?}");
        if swallows > 0 {
            assert_eq!(said(&mut station, ARM, &[0.0]), accepted, "the second is heard");
            assert!(!station.world.armed());
        }
    }
}

#[test]
fn a_hollow_motor_run_moves_nothing_and_usb_moves_what_it_feeds() {
    let run = [1.0, 1.0, 1200.0, 1.0];
    for (runs, feeds, battery, answer, turns) in [
        (Deed::Done, false, true, MavResult::MAV_RESULT_ACCEPTED, true),
        (Deed::Hollow, false, true, MavResult::MAV_RESULT_ACCEPTED, false),
        (Deed::Done, false, false, MavResult::MAV_RESULT_TEMPORARILY_REJECTED, false),
        (Deed::Done, true, false, MavResult::MAV_RESULT_ACCEPTED, true),
    ] {
        let mut station = with(Conduct { runs, usb_feeds_motors: feeds, ..Conduct::default() });
        if battery {
            station.line("battery in");
        }
        assert_eq!(said(&mut station, RUN, &run), Some(answer));
        station.wait(500);
        assert_eq!(station.world.speeds()[0] > 1000.0, turns, "{runs:?}, feeds {feeds}");
        assert!(battery || station.world.pack_volts() < 0.01, "the sensor does not see what USB gives");
    }
}

#[test]
fn without_a_sensor_voltage_and_current_are_the_standards_unknown() {
    // MAVLink common.xml, SYS_STATUS and BATTERY_STATUS: UINT16_MAX and −1 where not sent.
    for (sensor, unknown) in [(true, false), (false, true)] {
        let mut station = with(Conduct { voltage_sensor: sensor, ..Conduct::default() });
        station.line("battery in");
        station.heard.clear();
        station.wait(1500);
        let mut seen = 0;
        for (_, message) in &station.heard {
            match message {
                MavMessage::SYS_STATUS(status) => {
                    seen += 1;
                    assert_eq!((status.voltage_battery == u16::MAX, status.current_battery == -1), (unknown, unknown));
                    let told = status
                        .onboard_control_sensors_present
                        .contains(MavSysStatusSensor::MAV_SYS_STATUS_SENSOR_BATTERY);
                    assert_eq!(told, sensor);
                }
                MavMessage::BATTERY_STATUS(battery) => {
                    seen += 1;
                    assert_eq!((battery.voltages[0] == u16::MAX, battery.current_battery == -1), (unknown, unknown));
                }
                _ => {}
            }
        }
        assert!(seen >= 4);
    }
    let mut typist = Typist::with(WorldConfig {
        conduct: Conduct { voltage_sensor: false, ..Conduct::default() },
        ..WorldConfig::default()
    });
    assert_eq!(typist.ask("pack"), "no: no voltage sensor");
}

#[test]
fn a_slow_flag_comes_once_a_second_however_often_it_is_asked_for() {
    for (flag_every, least, most) in [(50, 38, 42), (1000, 1, 3)] {
        let mut station = with(Conduct { flag_every: Duration::from_millis(flag_every), ..Conduct::default() });
        let interval = [f32::from(u8::try_from(HEARTBEAT_DATA::ID).unwrap()), 50_000.0];
        assert_eq!(
            station.ask(MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL, &interval),
            MavResult::MAV_RESULT_ACCEPTED,
            "it does not say that it cannot"
        );
        station.heard.clear();
        station.wait(2000);
        let beats = station.heard.iter().filter(|(_, message)| matches!(message, MavMessage::HEARTBEAT(_))).count();
        assert!((least..=most).contains(&beats), "{beats}");
    }
}

#[test]
fn a_clock_runs_at_its_rate() {
    for (rate, after_100_s) in [(1.0, 100_000.0), (0.98, 98_000.0), (1.0001, 100_010.0)] {
        let mut station = with(Conduct { clock_rate: rate, ..Conduct::default() });
        station.wait(100_000);
        let told = station.heard.iter().rev().find_map(|(at, message)| match message {
            MavMessage::ATTITUDE(attitude) => Some((*at, f64::from(attitude.time_boot_ms))),
            _ => None,
        });
        let (at, clock) = told.unwrap();
        #[expect(clippy::cast_precision_loss, reason = "100 s in µs")]
        let wanted = at.0 as f64 / 1000.0 / 100_000.0 * after_100_s;
        assert!((clock - wanted).abs() <= 1.0, "{clock} ms, {wanted} expected");
    }
}

#[test]
fn who_it_is_is_told_with_zeros_refused_or_not_answered() {
    let ask = [f32::from(u8::try_from(AUTOPILOT_VERSION_DATA::ID).unwrap())];
    for (id, answer, uid) in [
        (GivenId::Own, Some(MavResult::MAV_RESULT_ACCEPTED), Some(0x7669_7274_0000_0001)),
        (GivenId::Zero, Some(MavResult::MAV_RESULT_ACCEPTED), Some(0)),
        (GivenId::Refused, Some(MavResult::MAV_RESULT_DENIED), None),
        (GivenId::Silent, None, None),
    ] {
        let mut station = with(Conduct { id, ..Conduct::default() });
        assert_eq!(said(&mut station, MavCmd::MAV_CMD_REQUEST_MESSAGE, &ask), answer, "{id:?}");
        let told = station.heard.iter().find_map(|(_, message)| match message {
            MavMessage::AUTOPILOT_VERSION(version) => Some(version.uid),
            _ => None,
        });
        assert_eq!(told, uid, "{id:?}");
        let conduct = Conduct { id, ..Conduct::default() };
        let mut typist = Typist::with(WorldConfig { conduct, ..WorldConfig::default() });
        let console = match id {
            GivenId::Own => "7669727400000001, Finch C, 2.4.1",
            GivenId::Zero => "0000000000000000, Finch C, 2.4.1",
            GivenId::Refused => "no: unknown word",
            GivenId::Silent => "",
        };
        assert_eq!(typist.ask("who"), console);
    }
}

#[test]
fn a_console_acknowledges_as_hollowly() {
    let hollow = Conduct {
        writes: Deed::Hollow,
        stores: Deed::Hollow,
        restarts: Deed::Hollow,
        disarms: Deed::Hollow,
        ..Conduct::default()
    };
    let mut typist = Typist::with(WorldConfig { conduct: hollow, ..WorldConfig::default() });
    assert_eq!(typist.ask("put 1090 into IDLE_US"), "1090 for IDLE_US");
    assert_eq!(typist.ask("show IDLE_US"), "1050 for IDLE_US");
    typist.line("set IDLE_US 1091");
    assert_eq!(typist.ask("keep"), "kept");
    assert_eq!(typist.truth("/settings/IDLE_US/stored"), 1050);
    assert_eq!(typist.ask("again"), "going down");
    typist.wait(2000);
    assert_eq!(typist.truth("/board/starts"), 1);
    typist.bind_arm();
    typist.line("flip B 2");
    typist.wait(100);
    assert!(typist.ask("rest").starts_with("resting"));
    assert_eq!(typist.truth("/armed"), true);
}

#[test]
fn world_lines_change_the_conduct_of_a_board_that_runs() {
    let mut station = with(Conduct::default());
    for (line, answer) in [
        ("sensor off", "the voltage sensor is off"),
        ("speeds off", "motor speeds are off"),
        ("flag slow", "the armed flag comes once a second"),
        ("clock 0.98", "the board's clock runs at 0.98"),
        ("deed write hollow", "each write is acknowledged and not done"),
        ("deed store 300", "each store is acknowledged and done 300 ms later"),
        ("deed restart silent", "each restart is done and not acknowledged"),
        ("deed disarm done", "each disarm is done and acknowledged"),
        ("deed run hollow", "each run is acknowledged and not done"),
        ("id zero", "the board's id is zero"),
        ("switch change", "the arm switch arms by its change"),
        ("rearms on", "arming again by itself is on"),
        ("feed usb", "the motors are fed by usb too"),
        ("lease ignored", "the time of a motor run is ignored"),
        ("swallow 3", "the board does not hear the next 3 stops"),
    ] {
        assert_eq!(station.line(line), answer);
    }
    let now = station.world.config();
    assert_eq!(
        now.conduct,
        Conduct {
            voltage_sensor: false,
            flag_every: Duration::from_secs(1),
            clock_rate: 0.98,
            writes: Deed::Hollow,
            stores: Deed::Late(Duration::from_millis(300)),
            restarts: Deed::Silent,
            runs: Deed::Hollow,
            runs_end: false,
            swallows: 3,
            id: GivenId::Zero,
            usb_feeds_motors: true,
            ..Conduct::default()
        }
    );
    assert!(!now.speed_telemetry && now.rearms);
    let help = station.line("help");
    for verb in ["sensor", "speeds", "flag", "clock", "deed", "id", "switch", "rearms", "feed", "lease", "swallow"] {
        assert!(help.lines().any(|line| line.starts_with(verb)), "{verb}");
    }
    let now = station.now;
    for (line, error) in [
        ("deed write", "say it as: deed write|store|restart|disarm|run done|hollow|silent|MS"),
        ("deed arm hollow", "`arm` is no deed; there are: write, store, restart, disarm, run"),
        ("clock 3", "a clock's rate goes from 0.5 to 2, not 3"),
        ("id none", "`none` is no id; there are: own, zero, refused, silent"),
        ("swallow many", "`many` is not a number; say it as: swallow COUNT"),
    ] {
        assert_eq!(station.world.line(now, line).unwrap_err().to_string(), error);
    }
}

#[test]
fn a_switch_that_arms_by_its_change_is_blind_to_its_level() {
    let mut station = with(Conduct::default());
    station.bind_arm();
    station.line("switch change");
    station.line("stick throttle 1200");
    station.wait(100);
    station.line("flip B 2");
    station.wait(100);
    station.line("stick throttle 1000");
    station.line("flip B 0");
    station.wait(100);
    assert!(!station.world.armed());
    station.line("flip B 2");
    station.wait(100);
    assert!(station.world.armed());
    station.line("rearms on");
    assert_eq!(station.ask(ARM, &[0.0]), MavResult::MAV_RESULT_ACCEPTED);
    station.line("switch level");
    station.wait(1000);
    assert!(station.world.armed(), "it arms again by itself");
}
