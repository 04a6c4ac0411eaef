//! Arming by switch and by command, refusals with their reasons, link loss, and the end of everything.

use super::station::Station;
use mavlink::dialects::common::{MavCmd, MavMessage, MavModeFlag, MavResult};
use quadjig::virtual_board::{ArmBy, OnLoss, WorldConfig};

const ARM: MavCmd = MavCmd::MAV_CMD_COMPONENT_ARM_DISARM;

fn bound(config: WorldConfig) -> Station {
    let mut station = Station::new(config);
    station.bind_arm();
    station.wait(100);
    station.heard.clear();
    station
}

#[test]
fn arms_inside_the_band_only() {
    let mut station = bound(WorldConfig::default());
    for (position, armed) in [(1, false), (2, true), (1, false), (0, false), (2, true)] {
        station.line(&format!("flip B {position}"));
        station.wait(60);
        assert_eq!(station.world.armed(), armed, "position {position}");
    }
    assert_eq!(station.texts(), ["Armed", "Disarmed", "Armed"]);
    station.wait(1000);
    assert!(station.heard.iter().any(|(_, message)| {
        matches!(message, MavMessage::HEARTBEAT(beat)
            if beat.base_mode.contains(MavModeFlag::MAV_MODE_FLAG_SAFETY_ARMED))
    }));
}

#[test]
fn refuses_with_the_throttle_up_until_switched_anew() {
    let mut station = bound(WorldConfig::default());
    station.line("stick throttle 1200");
    station.wait(60);
    station.line("flip B 2");
    station.wait(60);
    assert!(!station.world.armed());
    let texts = station.texts();
    assert!(texts.iter().any(|text| text.starts_with("Arm refused: throttle at 1")), "{texts:?}");
    station.line("stick throttle 1000");
    station.wait(500);
    assert!(!station.world.armed(), "lowering the throttle must not arm by itself");
    station.line("flip B 0");
    station.wait(60);
    station.line("flip B 2");
    station.wait(60);
    assert!(station.world.armed());
}

#[test]
fn refuses_at_start_with_the_switch_on() {
    let mut station = bound(WorldConfig::default());
    station.ask(MavCmd::MAV_CMD_PREFLIGHT_STORAGE, &[1.0]);
    station.line("radio off");
    station.wait(300);
    station.line("flip B 2");
    station.line("restart");
    station.wait(2000);
    station.line("radio on");
    station.wait(1000);
    assert!(!station.world.armed());
    assert!(station.texts().contains(&"Arm refused: arm switch is already on".to_owned()), "{:?}", station.texts());
}

#[test]
fn moving_the_band_over_the_switch_arms() {
    let mut station = bound(WorldConfig::default());
    station.line("set ARM_FROM 850");
    station.wait(60);
    assert!(station.world.armed());
}

#[test]
fn by_level_a_command_arms_only_with_the_switch_on() {
    let mut station = bound(WorldConfig::default());
    assert_eq!(station.ask(ARM, &[1.0]), MavResult::MAV_RESULT_TEMPORARILY_REJECTED);
    assert_eq!(station.texts(), ["Arm refused: arm switch is off"]);
    station.line("flip B 2");
    station.wait(60);
    assert_eq!(station.ask(ARM, &[0.0]), MavResult::MAV_RESULT_ACCEPTED);
    station.wait(2000);
    assert!(!station.world.armed(), "the switch must be moved first");
    assert_eq!(station.ask(ARM, &[1.0]), MavResult::MAV_RESULT_ACCEPTED);
    assert!(station.world.armed());
    station.line("flip B 0");
    station.wait(60);
    assert!(!station.world.armed());
}

#[test]
fn without_a_switch_a_command_arms_and_only_that() {
    let mut station = Station::new(WorldConfig::default());
    station.line("set ARM_CHANNEL 0");
    station.wait(100);
    assert_eq!(station.ask(ARM, &[1.0]), MavResult::MAV_RESULT_ACCEPTED);
    station.wait(500);
    assert!(station.world.armed(), "nothing but its own command disarms it");
    // A switch that is bound meanwhile, and off, does.
    station.line("set ARM_CHANNEL 6");
    station.wait(60);
    assert!(!station.world.armed());
    station.line("set ARM_CHANNEL 0");
    assert_eq!(station.ask(ARM, &[1.0]), MavResult::MAV_RESULT_ACCEPTED);
    assert_eq!(station.ask(ARM, &[0.0]), MavResult::MAV_RESULT_ACCEPTED);
    assert!(!station.world.armed());
}

#[test]
fn by_change_resting_outside_stops_nothing() {
    let mut station = bound(WorldConfig { arm_by: ArmBy::Change, ..WorldConfig::default() });
    assert_eq!(station.ask(ARM, &[1.0]), MavResult::MAV_RESULT_ACCEPTED);
    station.wait(500);
    assert!(station.world.armed(), "position 0 by itself stops nothing");
    station.line("flip B 2");
    station.wait(60);
    station.line("flip B 0");
    station.wait(60);
    assert!(!station.world.armed());
}

#[test]
fn a_board_that_rearms_does_so_while_the_switch_is_on() {
    let mut station = bound(WorldConfig { rearms: true, ..WorldConfig::default() });
    station.line("flip B 2");
    station.wait(60);
    station.ask(ARM, &[0.0, 21196.0]);
    station.wait(400);
    assert!(!station.world.armed());
    station.wait(400);
    assert!(station.world.armed());
}

#[test]
fn link_loss_cuts_after_the_wait_and_does_not_start_again() {
    let mut station = bound(WorldConfig::default());
    station.line("set LOSS_ACTION 1");
    station.line("set LOSS_WAIT_MS 500");
    station.line("flip B 2");
    station.wait(100);
    assert_eq!(station.ask(MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL, &[65.0, 10_000.0]), MavResult::MAV_RESULT_ACCEPTED);
    station.line("radio off");
    // Noticed after 100 ms of silence, cut 500 ms later; frames come every 20 ms.
    station.wait(560);
    assert!(station.world.armed());
    station.wait(100);
    assert!(!station.world.armed());
    assert!(station.texts().contains(&"Receiver lost: motors cut".to_owned()));
    assert!(
        station
            .heard
            .iter()
            .any(|(_, message)| { matches!(message, MavMessage::RC_CHANNELS(channels) if channels.chancount == 0) })
    );
    station.line("radio on");
    station.wait(1500);
    assert!(!station.world.armed());
    assert_eq!(station.truth("/receiver/heard"), true);
}

#[test]
fn a_receiver_that_holds_never_tells() {
    let mut config = WorldConfig::default();
    config.receiver.on_loss = OnLoss::Hold;
    let mut station = bound(config);
    station.line("set LOSS_ACTION 1");
    station.line("flip B 2");
    station.wait(100);
    station.line("radio off");
    station.wait(5000);
    assert!(station.world.armed());
    let mut config = WorldConfig::default();
    config.receiver.on_loss = OnLoss::Fixed(vec![None, None, Some(988), None, None, Some(1000)]);
    let mut station = bound(config);
    station.line("flip B 2");
    station.wait(100);
    station.line("radio off");
    station.wait(300);
    assert!(!station.world.armed(), "the fixed pulse lies outside the band");
}
