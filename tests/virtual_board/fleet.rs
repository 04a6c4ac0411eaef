//! Spread craft stay within what is promised of them, and a world costs no more steps than it has events.

use super::station::Station;
use quadjig::measure::time::Time;
use quadjig::virtual_board::{World, WorldConfig};

fn highest(config: &WorldConfig) -> f64 {
    config.motors.iter().map(|motor| motor.start + motor.start_varies).fold(0.0, f64::max)
}

#[test]
fn spread_craft_differ_within_bounds() {
    let fleet: Vec<WorldConfig> = (0..500).map(WorldConfig::spread).collect();
    let tops: Vec<f64> = fleet.iter().map(highest).collect();
    assert!(tops.iter().all(|top| (1085.0..=1160.0).contains(top)));
    assert!(tops.iter().any(|top| *top < 1095.0) && tops.iter().any(|top| *top > 1150.0));
    for place in 0..4 {
        let worst = |config: &&WorldConfig| {
            let motor = config.motors[place];
            (motor.start + motor.start_varies - highest(config)).abs() < 1e-9
        };
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
    assert_eq!(world.truth()["motors"][2]["highest_start"], 1150.0);
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
