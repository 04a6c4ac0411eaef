//! Spread craft stay within what is promised of them, and a world costs no more steps than it has events.

use super::station::Station;
use quadjig::measure::time::Time;
use quadjig::virtual_board::{MotorConfig, World, WorldConfig};

/// What starts a motor 999 times in 1,000: logit(0.999) of the logistic distribution, where logit(0.975) is its spread.
fn sure(motor: &MotorConfig) -> f64 {
    motor.start + motor.start_varies * (0.999_f64 / 0.001).ln() / (0.975_f64 / 0.025).ln()
}

fn highest(config: &WorldConfig) -> f64 {
    config.motors.iter().map(sure).fold(0.0, f64::max)
}

#[test]
fn spread_craft_differ_within_bounds() {
    let fleet: Vec<WorldConfig> = (0..500).map(WorldConfig::spread).collect();
    let tops: Vec<f64> = fleet.iter().map(highest).collect();
    assert!(tops.iter().all(|top| (1084.99..=1160.01).contains(top)));
    assert!(tops.iter().any(|top| *top < 1095.0) && tops.iter().any(|top| *top > 1150.0));
    for place in 0..4 {
        let worst = |config: &&WorldConfig| (sure(&config.motors[place]) - highest(config)).abs() < 1e-9;
        assert!(fleet.iter().filter(worst).count() > 60, "any corner can be the late one");
    }
    for config in &fleet {
        assert!(config.motors.iter().all(|motor| motor.keep < motor.start - motor.start_varies));
        assert!((7.5..=8.36).contains(&config.pack.volts));
        assert_eq!(*config, WorldConfig::spread(config.seed));
    }
}

#[test]
fn a_late_motor_is_late() {
    let config = WorldConfig::default().late(2, 1150.0);
    assert!((highest(&config) - 1150.0).abs() < 1e-9);
    let world = World::new(config);
    let truth = |world: &World| world.truth()["motors"][2]["highest_start"].as_f64().unwrap();
    let usual = truth(&world);
    assert!((usual - 1150.0).abs() < 1.0, "{usual}: with a pack at 3.95 V a cell, as this one is");
    // Fuller, emptier: the duty that is needed goes as one over the volts.
    for volts in [7.0, 8.4] {
        let mut config = WorldConfig::default().late(2, 1150.0);
        config.pack.volts = volts;
        let needed = truth(&World::new(config));
        assert!((needed - 1000.0 - 150.0 * 7.9 / volts).abs() < 1.0, "{volts} V: {needed}");
    }
}

#[test]
fn steps_are_events() {
    let mut station = Station::new(WorldConfig::default());
    let mut steps = 0;
    while station.now < Time(10_000_000) {
        station.now = station.world.wake();
        station.world.advance(station.now);
        steps += 1;
    }
    // 50 receiver frames a second and the messages of the usual rates, nothing else.
    assert!(steps <= 10 * (50 + 25), "{steps}");
}

#[test]
fn a_world_may_live_on_another_thread() {
    let world = World::new(WorldConfig::default());
    let armed = std::thread::spawn(move || world.armed()).join().unwrap();
    assert!(!armed);
}
