//! Every recipe of the stand runs through with a willing operator: else tests of what goes wrong prove nothing.

use super::stand::{ARM_ONLY, CUT, IDLE, SIGNAL, START, Stand};

#[track_caller]
fn runs(recipe: &str, turns: bool) {
    let played = Stand::new(recipe).play();
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    played.log.every_frame_is_known();
    if turns {
        played.log.motors_turned();
        assert!(played.log.highest() <= 1250, "{} us", played.log.highest());
    } else {
        played.log.nothing_turned();
    }
}

#[test]
fn starts_by_switch() {
    runs(START, true);
}

#[test]
fn cuts() {
    runs(CUT, true);
}

#[test]
fn the_arm_switch_with_the_battery_out() {
    let played = Stand::new(ARM_ONLY).play();
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    assert!(played.log.fastest() < 1.0, "{}", played.log.tail());
}

#[test]
fn one_motor_at_a_time_by_command() {
    runs(SIGNAL, true);
}

#[test]
fn a_search() {
    runs(IDLE, true);
}
