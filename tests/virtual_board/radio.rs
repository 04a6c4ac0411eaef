//! What the receiver channels say: rests, jitter, sticks, mixes, reversed switches, missing frames.

use super::station::Station;
use mavlink::dialects::common::{MavCmd, MavMessage};
use quadjig::virtual_board::{Mix, SwitchConfig, WorldConfig};

/// One channel's pulses over a time, from channel 1.
fn hear(station: &mut Station, channel: usize, milliseconds: u64) -> Vec<u16> {
    station.heard.clear();
    station.wait(milliseconds);
    station
        .heard
        .iter()
        .filter_map(|(_, message)| match message {
            MavMessage::RC_CHANNELS(told) => Some(
                [told.chan1_raw, told.chan2_raw, told.chan3_raw, told.chan4_raw, told.chan5_raw, told.chan6_raw]
                    .into_iter()
                    .chain([told.chan7_raw, told.chan8_raw, told.chan9_raw])
                    .nth(channel - 1)
                    .unwrap(),
            ),
            _ => None,
        })
        .collect()
}

fn fast(config: WorldConfig) -> Station {
    let mut station = Station::new(config);
    station.ask(MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL, &[65.0, 20_000.0]);
    station.wait(100);
    station
}

fn all_near(pulses: &[u16], pulse: u16, within: u16) -> bool {
    !pulses.is_empty() && pulses.iter().all(|heard| heard.abs_diff(pulse) <= within)
}

#[test]
fn switches_rest_near_their_pulses_and_shake_a_little() {
    let mut station = fast(WorldConfig::default());
    for (position, rest) in [(0, 1000), (1, 1500), (2, 2000)] {
        station.line(&format!("flip B {position}"));
        station.wait(60);
        let pulses = hear(&mut station, 6, 2000);
        assert_eq!(pulses.len(), 100);
        assert!(all_near(&pulses, rest, 4), "{pulses:?}");
        assert!(pulses.iter().any(|pulse| *pulse != pulses[0]), "no radio stands quite still");
    }
    assert!(all_near(&hear(&mut station, 5, 500), 1500, 4), "the unused channel");
}

#[test]
fn sticks_go_where_they_are_put_within_their_ends() {
    let mut station = fast(WorldConfig::default());
    assert!(all_near(&hear(&mut station, 3, 500), 988, 4), "the throttle rests low");
    assert_eq!(station.line("stick throttle 1500"), "stick throttle is at 1500 us");
    station.wait(60);
    assert!(all_near(&hear(&mut station, 3, 500), 1500, 4));
    assert_eq!(station.line("stick roll 100 %"), "stick roll is at 2012 us");
    assert_eq!(station.line("stick roll -100%"), "stick roll is at 988 us");
    assert_eq!(station.line("stick roll 850"), "stick roll is at 988 us");
    station.line("stick roll 0%");
    station.wait(60);
    station.line("wiggle roll");
    let pulses = hear(&mut station, 1, 1600);
    assert!(*pulses.iter().max().unwrap() > 1800 && *pulses.iter().min().unwrap() < 1200);
    station.wait(60);
    assert!(all_near(&hear(&mut station, 1, 500), 1501, 4), "and back to where it was");
}

#[test]
fn mixes_and_reversed_channels_are_what_they_were_set_to() {
    let mut config = WorldConfig::default();
    config.radio.mixes = vec![Mix { from: 6, to: 7, share: 0.5 }];
    config.radio.switches[1].rests = vec![1500.0, 1500.0];
    config.radio.switches.push(SwitchConfig {
        name: "E".into(),
        channel: 9,
        rests: vec![2000.0, 1000.0],
        position: 0,
        springs: false,
    });
    let mut station = fast(config);
    assert!(all_near(&hear(&mut station, 7, 500), 1250, 4));
    assert!(all_near(&hear(&mut station, 9, 500), 2000, 4));
    station.line("flip B 2");
    station.line("flip e 1");
    station.wait(60);
    assert!(all_near(&hear(&mut station, 7, 500), 1750, 4));
    assert!(all_near(&hear(&mut station, 9, 500), 1000, 4));
}

#[test]
fn missing_frames_are_bridged_not_flagged() {
    let mut config = WorldConfig::default();
    config.receiver.missing = 0.1;
    let mut station = fast(config);
    let pulses = hear(&mut station, 6, 20_000);
    assert_eq!(pulses.len(), 1000);
    assert!(all_near(&pulses, 1000, 4));
}

#[test]
fn another_port_or_protocol_hears_nothing() {
    let mut station = fast(WorldConfig::default());
    station.line("set RX_PORT 3");
    assert_eq!(station.truth("/receiver/heard"), true, "a port takes a restart");
    station.ask(MavCmd::MAV_CMD_PREFLIGHT_STORAGE, &[1.0]);
    station.line("restart");
    station.wait(2000);
    assert_eq!(station.truth("/receiver/heard"), false);
}
