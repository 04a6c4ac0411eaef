//! Motors: starting, keeping on, response and speed; tests by command; the stabiliser; the signal.

use super::station::Station;
use mavlink::dialects::common::{MavCmd, MavMessage, MavResult};
use quadjig::measure::signal_timing::MotorSignal;
use quadjig::virtual_board::{StabiliserConfig, WorldConfig, no_load_rpm};

const TEST: MavCmd = MavCmd::MAV_CMD_DO_MOTOR_TEST;

/// A pack without inner resistance, so that volts stay what they are.
fn stiff(mut config: WorldConfig) -> WorldConfig {
    config.pack.plugged = true;
    config.pack.milliohms = 0.0;
    config.pack.capacity = 1e9;
    config
}

fn run(station: &mut Station, motor: f32, pulse: f32, seconds: f32) -> MavResult {
    station.ask(TEST, &[motor, 1.0, pulse, seconds])
}

#[expect(clippy::cast_possible_truncation, reason = "the wire carries single precision")]
fn single(value: f64) -> f32 {
    value as f32
}

/// First-order lag: speed(t) = target · (1 − e^(−t/τ)); and coasting, target · e^(−t/τ).
#[test]
fn speed_follows_the_analytic_response() {
    let mut config = stiff(WorldConfig::default());
    config.motors[0].spin_up = 0.1;
    config.motors[0].coast = 0.25;
    let kv = config.motors[0].kv;
    let mut station = Station::new(config);
    assert_eq!(run(&mut station, 1.0, 1500.0, 2.0), MavResult::MAV_RESULT_ACCEPTED);
    let target = kv * 7.9 * 0.5;
    for milliseconds in [50_u32, 100, 150, 300] {
        let before = station.now.0;
        station.wait(u64::from(milliseconds) - before / 1000);
        let expected = target * (1.0 - (-f64::from(milliseconds) / 100.0).exp());
        let speed = station.world.speeds()[0];
        assert!((speed - expected).abs() < 1e-6 * target, "{milliseconds} ms: {speed} for {expected}");
    }
    station.wait(1700);
    let top = station.world.speeds()[0];
    assert!((top - target).abs() < 1e-4 * target);
    station.wait(250);
    let expected = target * (-1.0_f64).exp();
    let speed = station.world.speeds()[0];
    assert!((speed - expected).abs() < 1e-4 * target, "coasting: {speed} for {expected}");
}

/// Motor constant × volts: 920 rpm/V × 16.8 V = 15456 rpm.
#[test]
fn full_pulse_gives_the_no_load_speed() {
    let mut config = stiff(WorldConfig::default());
    config.pack.cells = 4;
    config.pack.volts = 16.8;
    config.motors[1].kv = 920.0;
    let mut station = Station::new(config);
    run(&mut station, 2.0, 2000.0, 3.0);
    station.wait(2500);
    let speed = station.world.speeds()[1];
    assert!((speed - 15_456.0).abs() < 0.5, "{speed}");
    assert!((no_load_rpm(920.0, 16.8, 2000.0) - 15_456.0).abs() < 1e-9);
}

#[test]
fn one_motor_runs_by_command_and_stops_by_itself() {
    let mut station = Station::new(stiff(WorldConfig::default()));
    assert_eq!(run(&mut station, 3.0, 1150.0, 1.0), MavResult::MAV_RESULT_ACCEPTED);
    station.wait(500);
    assert_eq!(station.world.outputs(), [1000, 1000, 1150, 1000]);
    let speeds = station.world.speeds();
    assert!(speeds[2] > 10_000.0 && speeds[0] < 1.0 && speeds[1] < 1.0 && speeds[3] < 1.0, "{speeds:?}");
    // Sent again, it goes on from then.
    run(&mut station, 3.0, 1150.0, 1.0);
    station.wait(800);
    assert_eq!(station.world.outputs()[2], 1150);
    station.wait(250);
    assert_eq!(station.world.outputs()[2], 1000);
    station.wait(3000);
    assert!(station.world.speeds()[2] < 1.0);
    // A disarm ends it at once.
    run(&mut station, 1.0, 1150.0, 3.0);
    station.wait(200);
    station.ask(MavCmd::MAV_CMD_COMPONENT_ARM_DISARM, &[0.0]);
    assert_eq!(station.world.outputs(), [1000; 4]);
}

#[test]
fn a_motor_test_is_refused_with_a_reason() {
    let mut station = Station::new(stiff(WorldConfig::default()));
    let mut refused = |parameters: &[f32]| {
        let result = station.ask(TEST, parameters);
        assert_ne!(result, MavResult::MAV_RESULT_ACCEPTED);
        station.texts().join("; ")
    };
    assert_eq!(refused(&[5.0, 1.0, 1100.0, 1.0]), "Motor test refused: motors are 1 to 4");
    assert_eq!(refused(&[1.0, 0.0, 10.0, 1.0]), "Motor test refused: one motor by pulse only");
    assert_eq!(refused(&[1.0, 1.0, 1100.0, 1.0, 4.0]), "Motor test refused: one motor by pulse only");
    assert_eq!(refused(&[1.0, 1.0, 2100.0, 1.0]), "Motor test refused: takes 1000 to 2000 us");
    assert_eq!(refused(&[1.0, 1.0, f32::NAN, 1.0]), "Motor test refused: takes 1000 to 2000 us");
    for timeout in [0.0, -1.0, 3.1, f32::NAN] {
        assert_eq!(refused(&[1.0, 1.0, 1100.0, timeout]), "Motor test refused: takes up to 3 s");
    }
    station.line("battery out");
    let result = run(&mut station, 1.0, 1100.0, 1.0);
    assert_eq!(result, MavResult::MAV_RESULT_TEMPORARILY_REJECTED);
    assert_eq!(station.texts(), ["Motor test refused: battery is out"]);
}

#[test]
fn starts_above_the_threshold_keeps_on_below_and_cogs_between() {
    let config = stiff(WorldConfig::default());
    let (start, varies, keep) = (config.motors[0].start, config.motors[0].start_varies, config.motors[0].keep);
    let mut station = Station::new(config);
    let state = |station: &Station| station.truth("/motors/0/state").as_str().unwrap().to_owned();
    run(&mut station, 1.0, single(start - 2.0 * varies), 1.0);
    station.wait(100);
    assert_eq!(state(&station), "hesitating");
    let samples: Vec<f64> = (0..80)
        .map(|_| {
            station.wait(10);
            station.world.speeds()[0]
        })
        .collect();
    let most = samples.iter().copied().fold(0.0, f64::max);
    assert!(most > 0.0, "it twitches");
    assert!(samples.iter().any(|speed| *speed < 0.3 * most), "but does not turn evenly");
    station.wait(3000);
    run(&mut station, 1.0, single(start + 2.0 * varies), 1.0);
    station.wait(100);
    assert_eq!(state(&station), "turning");
    run(&mut station, 1.0, single(keep + 1.0), 1.0);
    station.wait(100);
    assert_eq!(state(&station), "turning");
    run(&mut station, 1.0, single(keep - 1.0), 1.0);
    station.wait(100);
    assert_eq!(state(&station), "still");
}

#[test]
fn starts_differ_and_the_sure_pulse_is_nearly_always_enough() {
    let config = stiff(WorldConfig::default());
    let middle = config.motors[0].start;
    let mut station = Station::new(config);
    let sure = station.truth("/motors/0/highest_start").as_f64().unwrap();
    let mut share = |pulse: f64, starts: u32| {
        let mut started = 0;
        for _ in 0..starts {
            run(&mut station, 1.0, single(pulse), 0.3);
            station.wait(250);
            started += u32::from(station.truth("/motors/0/state") == "turning");
            station.wait(2500);
        }
        started
    };
    let in_the_middle = share(middle, 60);
    assert!((12..=48).contains(&in_the_middle), "{in_the_middle} of 60 in the middle");
    assert_eq!(share(sure.ceil(), 30), 30);
    // Tails have no end: far below it starts now and then.
    let far_below = share(middle - 5.0, 400);
    assert!((8..60).contains(&far_below), "{far_below} of 400");
}

fn armed(config: WorldConfig) -> Station {
    let mut station = Station::new(config);
    station.bind_arm();
    station.line("set IDLE_US 1150");
    station.wait(200);
    station.line("flip B 2");
    station.wait(60);
    assert!(station.world.armed());
    station
}

#[test]
fn armed_motors_spin_at_idle_or_rest_as_set() {
    let mut station = armed(stiff(WorldConfig::default()));
    station.wait(1000);
    let outputs = station.world.outputs();
    assert!(outputs.iter().all(|pulse| (1150..=1156).contains(pulse)), "{outputs:?}");
    assert!(station.world.speeds().iter().all(|speed| *speed > 12_000.0));
    station.line("set SPIN_AT_ZERO 0");
    assert_eq!(station.world.outputs(), [1000; 4]);
    station.line("stick throttle 1500");
    station.wait(60);
    // Half throttle: half way from idle to 2000.
    assert!(station.world.outputs().iter().all(|pulse| (1560..=1590).contains(pulse)));
    station.line("flip B 0");
    station.wait(60);
    assert_eq!(station.world.outputs(), [1000; 4]);
}

#[test]
fn a_tilt_drives_the_motors_apart_while_self_level_is_on() {
    let mut station = armed(stiff(WorldConfig::default()));
    station.line("tilt 5 0");
    station.wait(100);
    let outputs = station.world.outputs();
    assert!(outputs[1] >= 1175 && outputs[2] >= 1175, "right side is pushed up: {outputs:?}");
    assert_eq!((outputs[0], outputs[3]), (1150, 1150), "idle is the lowest");
    station.line("set SELFLVL_CHANNEL 8");
    station.line("set SELFLVL_FROM 1800");
    station.line("set SELFLVL_TO 2146");
    station.wait(100);
    assert!(station.world.outputs().iter().all(|pulse| *pulse < 1156), "its switch is off");
    station.line("flip D 2");
    station.wait(100);
    assert!(station.world.outputs()[1] >= 1175, "its switch is on");
}

#[test]
fn the_stabiliser_winds_up_slowly() {
    let stabiliser = StabiliserConfig { per_degree: 6.0, wind_up: [0.0, 0.0, 2.0], most: 30.0 };
    let mut station = armed(WorldConfig { stabiliser, attitude: [0.0; 3], ..stiff(WorldConfig::default()) });
    station.wait(5000);
    // Idle is the lower bound, so that only the diagonal that is pushed up shows.
    let outputs = station.world.outputs();
    assert_eq!((outputs[0], outputs[1]), (outputs[2], outputs[3]), "{outputs:?}");
    assert_eq!(outputs.iter().copied().max(), Some(1160));
    assert_eq!(outputs.iter().copied().min(), Some(1150));
    station.wait(60_000);
    assert_eq!(station.world.outputs().iter().copied().max(), Some(1180), "never beyond its limit");
}

/// About roll the right side, or the left, about pitch the rear, or the nose; together the corner that both push.
#[test]
fn the_stabiliser_winds_up_about_each_axis() {
    let cases = [
        ("5 0 0", vec![1150, 1175, 1175, 1150]),
        ("-5 0 0", vec![1175, 1150, 1150, 1175]),
        ("0 5 0", vec![1150, 1150, 1175, 1175]),
        ("2 3 0", vec![1150, 1150, 1175, 1155]),
        ("0 0 5", vec![1175, 1150, 1175, 1150]),
        ("0 0 0", vec![1150; 4]),
    ];
    for (rates, wanted) in cases {
        let config = WorldConfig { attitude: [0.0; 3], ..stiff(WorldConfig::default()) };
        let mut station = Station::new(config);
        station.line(&format!("windup {rates}"));
        station.bind_arm();
        station.line("set IDLE_US 1150");
        station.wait(200);
        station.line("flip B 2");
        station.wait(5060);
        let near = station.world.outputs().iter().zip(&wanted).all(|(found, wanted)| found.abs_diff(*wanted) <= 1);
        assert!(near, "windup {rates}: {:?}", station.world.outputs());
    }
}

#[test]
fn speed_controllers_stay_with_the_signal_that_they_woke_to() {
    let mut station = Station::new(WorldConfig {
        accepts: vec![MotorSignal::Pwm, MotorSignal::Dshot300],
        ..stiff(WorldConfig::default())
    });
    let turns = |station: &mut Station| {
        run(station, 1.0, 1200.0, 0.5);
        station.wait(300);
        let turning = station.truth("/motors/0/state") == "turning";
        station.wait(3000);
        turning
    };
    let change = |station: &mut Station, signal: u8| {
        station.line(&format!("set MOTOR_SIGNAL {signal}"));
        station.ask(MavCmd::MAV_CMD_PREFLIGHT_STORAGE, &[1.0]);
        station.ask(MavCmd::MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN, &[1.0]);
        station.wait(1500);
    };
    let power_cycle = |station: &mut Station| {
        station.line("battery out");
        station.wait(2000);
        station.line("battery in");
        station.wait(500);
    };
    assert!(turns(&mut station));
    station.line("set MOTOR_SIGNAL 3");
    assert!(turns(&mut station), "in force after a restart only");
    change(&mut station, 3);
    assert_eq!(station.truth("/speed_controllers/chosen"), "pwm");
    assert!(!turns(&mut station), "they still listen for the old signal");
    power_cycle(&mut station);
    assert_eq!(station.truth("/speed_controllers/chosen"), "dshot300");
    assert!(turns(&mut station));
    change(&mut station, 1);
    power_cycle(&mut station);
    assert!(!turns(&mut station), "oneshot125 is not accepted");
}

#[test]
fn speeds_are_told_by_output_unless_switched_off() {
    let wiring = vec![3, 1, 2, 0];
    let mut station = Station::new(WorldConfig { wiring, ..stiff(WorldConfig::default()) });
    run(&mut station, 1.0, 1200.0, 2.0);
    station.heard.clear();
    station.wait(1500);
    let told: Vec<[i32; 4]> = station
        .heard
        .iter()
        .filter_map(|(_, message)| match message {
            MavMessage::ESC_STATUS(status) => Some(status.rpm),
            _ => None,
        })
        .collect();
    assert!(told.len() >= 7);
    let last = told.last().unwrap();
    let really = station.world.speeds()[3];
    assert!((f64::from(last[0]) - really).abs() < 0.04 * really, "{last:?} for {really}");
    assert_eq!(last[1..], [0, 0, 0]);
    assert!(station.world.speeds()[0] < 1.0);
    station.line("set SPEED_TELEM 0");
    station.heard.clear();
    station.wait(1500);
    assert!(!station.heard.iter().any(|(_, message)| matches!(message, MavMessage::ESC_STATUS(_))));
}

/// The corner and the direction of what turns when the board runs a motor of its own numbering.
fn turning(station: &mut Station, motor: f32) -> (String, bool) {
    station.world.look();
    run(station, motor, 1200.0, 1.0);
    station.wait(1600);
    let seen = station.world.look();
    let [(corner, clockwise)] = seen[..] else { panic!("{seen:?}") };
    (corner.to_owned(), clockwise)
}

/// Plugs, wires and settings move the same motors: after an exchange by plugs the exchange by setting brings each number
/// back to its corner.
#[test]
fn plugs_wires_and_settings_decide_which_motor_a_number_is() {
    let mut station = Station::new(stiff(WorldConfig::default()));
    assert_eq!(turning(&mut station, 1.0), ("front left".to_owned(), true));
    assert_eq!(station.line("plug 1 rear right"), "output 1 drives the rear right motor");
    station.line("swap rear right");
    assert_eq!(turning(&mut station, 1.0), ("rear right".to_owned(), false));
    assert_eq!(turning(&mut station, 3.0), ("front left".to_owned(), true));
    for line in ["set MOTOR1_OUT 3", "set MOTOR3_OUT 1", "set OUT1_REVERSED 1"] {
        station.line(line);
    }
    assert_eq!(turning(&mut station, 1.0), ("rear right".to_owned(), false), "in force after a restart only");
    station.world.line(station.world.now(), "truth").unwrap();
}
