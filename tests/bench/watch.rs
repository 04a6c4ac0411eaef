//! The watch by itself: each of its guards, at its limit and past it, on signals made by hand.

use crate::interlock::room::{IDLING, RESTING, Room, START, Signals, heard, step};
use quadjig::board::signals::LinkEvent;
use quadjig::interlock::Breaks;
use quadjig::language::units::Pulse;
use quadjig::seam::ui::{About, MotorStep, MotorTest, Motors};
use std::time::Duration;

fn turning(motors: Motors) -> Room {
    Room::turning(&step(motors), Breaks::default())
}

fn started() -> Room {
    let mut room = turning(Motors::All);
    assert_eq!(room.judged(RESTING, 0, 500), Ok(()));
    assert_eq!(room.judged(IDLING, 500, 1500), Ok(()));
    room
}

#[track_caller]
fn stops(signals: Signals, why: &str) {
    let mut room = started();
    let reason = room.judged(signals, 1500, 1540).unwrap_err();
    assert!(reason.contains(why), "{reason}");
}

#[track_caller]
fn goes_on(signals: Signals) {
    let mut room = started();
    assert_eq!(room.judged(signals, 1500, 2000), Ok(()));
}

fn outputs(index: usize, pulse: u16) -> Signals {
    let mut signals = IDLING;
    signals.outputs[index] = pulse;
    signals
}

#[test]
fn thirty_microseconds_over_the_step_is_the_limit() {
    goes_on(outputs(2, 1180));
    stops(outputs(2, 1181), "rear right");
}

#[test]
fn the_ceiling_holds_whatever_the_step_says() {
    let mut high = step(Motors::All);
    high.pulse = Pulse(1250);
    let mut room = Room::turning(&high, Breaks::default());
    assert_eq!(room.judged(outputs(0, 1250), 0, 200), Ok(()));
    assert!(room.judged(outputs(0, 1251), 200, 240).is_err());
}

#[test]
fn an_output_beyond_the_motors_is_read_as_driven_too_far() {
    stops(outputs(5, 1300), "driven");
}

#[test]
fn only_the_motor_that_was_asked_for() {
    let alone = |index: usize| {
        let mut signals = RESTING;
        signals.outputs[index] = 1150;
        signals
    };
    for other in [0, 2, 3, 4, 7] {
        let mut room = turning(Motors::One("front right".to_owned(), 1));
        assert_eq!(room.judged(alone(1), 0, 1000), Ok(()));
        let reason = room.judged(alone(other), 1000, 1040).unwrap_err();
        assert!(reason.contains("not asked for"), "{reason}");
    }
}

#[test]
fn a_run_by_command_ends_when_its_time_is_over() {
    let mut signals = RESTING;
    signals.outputs[1] = 1150;
    let mut room = turning(Motors::One("front right".to_owned(), 1));
    assert_eq!(room.judged(signals, 0, 2000), Ok(()));
    assert!(room.judged(signals, 2000, 2400).is_err());
}

#[test]
fn a_board_that_arms_during_a_run_by_command_is_stopped() {
    let mut room = turning(Motors::One("front right".to_owned(), 1));
    assert!(room.judged(Signals { armed: true, ..RESTING }, 0, 40).is_err());
}

#[test]
fn five_degrees_are_the_limit() {
    goes_on(Signals { roll: 5.2, pitch: -5.1, ..IDLING });
    stops(Signals { roll: 5.4, ..IDLING }, "moved");
    stops(Signals { roll: -4.8, ..IDLING }, "moved");
    stops(Signals { pitch: 4.9, ..IDLING }, "moved");
}

#[test]
fn the_sheets_current_is_the_limit() {
    goes_on(Signals { centiamps: Some(600), ..IDLING });
    stops(Signals { centiamps: Some(601), ..IDLING }, "A");
    goes_on(Signals { centiamps: None, ..IDLING });
}

#[test]
fn a_raised_throttle_and_a_lost_radio() {
    goes_on(Signals { throttle: 1049, ..IDLING });
    stops(Signals { throttle: 1050, ..IDLING }, "throttle");
    stops(Signals { count: 0, ..IDLING }, "radio");
}

/// A start in which the radio may go off, with the motors turning since 500 ms.
fn started_for_the_failsafe() -> Room {
    let step = MotorStep { test: Some(MotorTest::Failsafe), ..step(Motors::All) };
    let breaks = Breaks { radio: true, ..Breaks::default() };
    let mut room = Room::obeys_a_disarm();
    room.starts(&step, breaks);
    assert_eq!(room.judged(RESTING, 0, 500), Ok(()));
    assert_eq!(room.judged(IDLING, 500, 1500), Ok(()));
    room
}

#[test]
fn a_radio_that_is_off_on_purpose_breaks_nothing_else() {
    let off = Signals { count: 0, switch: 1000, throttle: 1500, ..IDLING };
    let mut room = started_for_the_failsafe();
    assert_eq!(room.judged(off, 1500, 3000), Ok(()));
    // With the radio heard again its sticks count again.
    assert!(room.judged(Signals { count: 16, ..off }, 3000, 3040).is_err());
    let mut driven = off;
    driven.outputs[1] = 1181;
    for (worse, why) in [
        (driven, "driven at 1181"),
        (Signals { roll: 6.0, ..off }, "moved"),
        (Signals { centiamps: Some(601), ..off }, "A"),
    ] {
        let mut room = started_for_the_failsafe();
        assert_eq!(room.judged(off, 1500, 2000), Ok(()));
        let reason = room.judged(worse, 2000, 2040).unwrap_err();
        assert!(reason.contains(why), "{reason}");
    }
    // Armed since 500 ms; the step allows 2 s, and 2 s more.
    let mut room = started_for_the_failsafe();
    assert!(room.judged(off, 1500, 4560).is_err());
    let mut room = started_for_the_failsafe();
    assert_eq!(room.judged(Signals { count: 0, ..RESTING }, 1500, 2500), Ok(()));
    let reason = room.judged(off, 2500, 2540).unwrap_err();
    assert!(reason.contains("second time"), "{reason}");
}

#[test]
fn the_radio_may_go_only_as_confirmed_and_only_once_the_board_armed() {
    let lost = Signals { count: 0, ..RESTING };
    let step_with = |radio_off: bool| MotorStep { test: radio_off.then_some(MotorTest::Failsafe), ..step(Motors::All) };
    let breaks = Breaks { radio: true, ..Breaks::default() };
    let mut room = Room::obeys_a_disarm();
    room.starts(&step_with(true), breaks);
    assert!(room.says(lost, 40).is_err());
    let mut room = Room::obeys_a_disarm();
    room.starts(&step_with(false), breaks);
    assert_eq!(room.says(IDLING, 500), Ok(()));
    assert!(room.says(Signals { count: 0, ..IDLING }, 40).is_err());
}

#[test]
fn armed_for_the_dwell_and_two_seconds_at_most() {
    let mut room = started();
    // Armed since 500 ms; the step allows 2 s, and 2 s more.
    assert_eq!(room.judged(IDLING, 1500, 4500), Ok(()));
    assert!(room.judged(IDLING, 4500, 4560).is_err());
}

/// A flag that comes rarely tells what was: outputs that came to rest since say that the start is over, until a flag of
/// later says armed all the same.
#[test]
fn a_flag_from_before_the_outputs_fell_keeps_no_start_up() {
    let at_rest = Signals { armed: true, outputs: RESTING.outputs, ..IDLING };
    let mut room = started();
    assert_eq!(room.judged(IDLING, 1500, 4400), Ok(()));
    for ms in (4400..4860).step_by(20) {
        let told: Vec<LinkEvent> =
            heard(at_rest).into_iter().filter(|heard| !matches!(heard, LinkEvent::Alive { .. })).collect();
        assert_eq!(room.hears(START + Duration::from_millis(ms), &told), Ok(()), "{ms}");
    }
    let mut room = started();
    assert_eq!(room.judged(IDLING, 1500, 4400), Ok(()));
    assert_eq!(room.judged(at_rest, 4400, 4700), Ok(()));
    let reason = room.judged(at_rest, 4700, 4900).unwrap_err();
    assert!(reason.contains("at most"), "{reason}");
}

/// `safety.md`, unexpected start: an arming is invited for 20 s.
#[test]
fn an_arming_is_invited_for_twenty_seconds() {
    for (after, invited) in [(19_980, true), (20_040, false)] {
        let mut room = turning(Motors::All);
        assert_eq!(room.judged(RESTING, 0, after), Ok(()));
        let armed = room.judged(Signals { outputs: RESTING.outputs, ..IDLING }, after, after + 20);
        assert_eq!(armed.is_ok(), invited, "after {after} ms: {armed:?}");
    }
}

#[test]
fn a_second_arming_is_not_what_was_confirmed() {
    let mut room = started();
    assert_eq!(room.judged(RESTING, 1500, 2000), Ok(()));
    let reason = room.judged(IDLING, 2000, 2040).unwrap_err();
    assert!(reason.contains("second time"), "{reason}");
}

#[test]
fn armed_although_the_switch_is_off_for_long() {
    let mut room = started();
    let off = Signals { switch: 1000, ..IDLING };
    assert!(room.judged(off, 1500, 4000).is_err());
}

#[test]
fn outputs_that_stay_up_after_a_disarm() {
    let mut room = started();
    let driven = Signals { armed: false, switch: 1000, ..IDLING };
    assert_eq!(room.judged(driven, 1500, 1700), Ok(()));
    assert!(room.judged(driven, 1700, 2000).is_err());
}

#[test]
fn each_signal_that_falls_silent() {
    type Dropped = fn(&LinkEvent) -> bool;
    let cases: [(&str, u64, Dropped); 4] = [
        ("armed flag", 500, |heard| matches!(heard, LinkEvent::Alive { .. })),
        ("channels", 500, |heard| matches!(heard, LinkEvent::Channels { .. })),
        ("outputs", 500, |heard| matches!(heard, LinkEvent::Outputs { .. })),
        ("attitude", 500, |heard| matches!(heard, LinkEvent::Attitude { .. })),
    ];
    for (name, age, dropped) in cases {
        let mut room = started();
        let last = START + Duration::from_millis(1480);
        let mut fell = None;
        for ms in (1500..4000).step_by(20) {
            let now = START + Duration::from_millis(ms);
            let left: Vec<LinkEvent> = heard(IDLING).into_iter().filter(|heard| !dropped(heard)).collect();
            if let Err(reason) = room.hears(now, &left) {
                fell = Some((now, reason));
                break;
            }
        }
        let (at, reason) = fell.unwrap();
        assert!(reason.contains(name), "{name}: {reason}");
        let took = at.since(last);
        assert!(took > Duration::from_millis(age) && took <= Duration::from_millis(age + 40), "{name}: {took:?}");
    }
}

#[test]
fn at_rest_an_armed_flag_or_a_raised_output_is_unexpected_whatever_was_said_of_the_battery() {
    for signals in [Signals { armed: true, ..RESTING }, Signals { outputs: IDLING.outputs, ..RESTING }] {
        assert!(Room::met().judged(signals, 0, 40).is_err());
        let mut room = Room::met();
        room.types(About::BatteryOut);
        assert!(room.judged(signals, 0, 40).is_err());
    }
}
