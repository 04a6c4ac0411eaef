//! Speeds that are not told as they are, and an attitude past the vertical.

use super::station::Station;
use mavlink::dialects::common::{MavCmd, MavMessage};
use quadjig::measure::time::Time;
use quadjig::virtual_board::{BoardKind, World, WorldConfig};

/// Motor 1 by command for 2.5 s, after a world line; of its settled second every reading, and its true speed.
fn told(line: &str) -> (Vec<f64>, f64) {
    let mut config = WorldConfig::default();
    config.pack.plugged = true;
    let mut station = Station::new(config);
    station.line(line);
    station.ask(MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL, &[291.0, 20_000.0]);
    station.ask(MavCmd::MAV_CMD_DO_MOTOR_TEST, &[1.0, 1.0, 1200.0, 2.5]);
    station.wait(1000);
    station.heard.clear();
    station.wait(1000);
    let readings = station.heard.iter().filter_map(|(_, message)| match message {
        MavMessage::ESC_STATUS(status) => Some(f64::from(status.rpm[0])),
        _ => None,
    });
    (readings.collect(), station.world.speeds()[0])
}

fn share(of: &[f64], what: impl Fn(f64) -> bool) -> f64 {
    let count = |n: usize| f64::from(u32::try_from(n).unwrap());
    count(of.iter().filter(|rpm| what(**rpm)).count()) / count(of.len())
}

#[test]
fn each_way_to_falsify_does_what_it_says() {
    let (honest, truth) = told("falsify lies 0");
    assert!(honest.len() >= 45 && share(&honest, |rpm| (rpm - truth).abs() < 0.03 * truth) > 0.99, "{honest:?}");
    let (dropped, _) = told("falsify dropped 50%");
    assert!((10..40).contains(&dropped.len()), "{} of {}", dropped.len(), honest.len());
    let (zeros, _) = told("falsify zeros 30");
    assert!((0.1..0.5).contains(&share(&zeros, |rpm| rpm.abs() < 1.0)), "{zeros:?}");
    let (lies, truth) = told("falsify lies 100");
    assert!(share(&lies, |rpm| (rpm - truth).abs() > 0.1 * truth) > 0.7, "{lies:?}");
    assert!(lies.iter().all(|rpm| *rpm < 2.1 * truth));
    let (frozen, _) = told("freeze front left 4321");
    assert!(frozen.iter().all(|rpm| (rpm - 4321.0).abs() < f64::EPSILON), "{frozen:?}");
}

/// A board that is asked for its speeds has none under way that could be lost: refused, and the others do what they say.
#[test]
fn what_is_asked_for_cannot_be_dropped() {
    for kind in [BoardKind::FinchC, BoardKind::FinchP, BoardKind::FinchQ] {
        let mut world = World::new(WorldConfig { board: kind, ..WorldConfig::default() });
        let said = world.line(Time(0), "falsify dropped 50").map_err(|error| error.to_string());
        let why = "this board is asked for its speeds and tells none by itself, so none can be dropped; there are: zeros, lies";
        assert_eq!(said, Err(why.to_owned()));
        assert!(world.line(Time(0), "falsify zeros 50").is_ok() && world.line(Time(0), "falsify lies 50").is_ok());
    }
}

/// At rest nothing of it turns: a craft that stands still is told so.
#[test]
fn a_frozen_reading_ends_with_the_run() {
    let mut config = WorldConfig::default();
    config.pack.plugged = true;
    let mut station = Station::new(config);
    station.line("freeze front left 4321");
    station.ask(MavCmd::MAV_CMD_DO_MOTOR_TEST, &[1.0, 1.0, 1200.0, 1.0]);
    station.wait(4000);
    station.heard.clear();
    station.wait(1000);
    let still = station.heard.iter().all(|(_, message)| !matches!(message, MavMessage::ESC_STATUS(s) if s.rpm[0] != 0));
    assert!(still);
}

/// ATTITUDE of `common.xml`: all angles within half a turn; a nose past the vertical is a craft turned over.
#[test]
fn angles_wrap_as_the_standard_has_them() {
    let mut station = Station::new(WorldConfig::default());
    for (line, roll, pitch) in [
        ("tilt 180 0", 180.0_f32, 0.0_f32),
        ("tilt -179 0", -179.0, 0.0),
        ("tilt 0 100", 180.0, 80.0),
        ("tilt 0 -120", 180.0, -60.0),
        ("tilt 10 170", -170.0, 10.0),
    ] {
        station.line(line);
        station.wait(300);
        station.heard.clear();
        station.wait(2000);
        let angles: Vec<_> = station
            .heard
            .iter()
            .filter_map(|(_, message)| match message {
                MavMessage::ATTITUDE(told) => Some((told.roll.to_degrees(), told.pitch.to_degrees())),
                _ => None,
            })
            .collect();
        assert!(angles.len() >= 5, "{line}");
        for (told, nose) in angles {
            let apart = (told - roll).abs();
            assert!(apart.min(360.0 - apart) < 0.5 && (nose - pitch).abs() < 0.5, "{line}: {told} {nose}");
            assert!(told.abs() <= 180.0 && nose.abs() <= 90.5, "{line}");
        }
    }
}
