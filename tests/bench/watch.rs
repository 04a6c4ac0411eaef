//! The watch by itself: each of its guards, at its limit and past it, on signals made by hand.

use quadjig::board::signals::LinkEvent;
use quadjig::interlock::craft::Facts;
use quadjig::interlock::signals::Live;
use quadjig::interlock::state::{Breaks, Mode, Turning};
use quadjig::interlock::watch::judge;
use quadjig::language::recipe::Switch;
use quadjig::language::units::{Current, Pulse};
use quadjig::measure::time::Time;
use quadjig::seam::ui::{MotorStep, Motors, StartedBy};
use std::time::Duration;

const START: Time = Time(100_000_000);

/// What is on the wire at a moment.
#[derive(Clone, Copy)]
struct Signals {
    armed: bool,
    outputs: [u16; 8],
    throttle: u16,
    switch: u16,
    count: u8,
    roll: f64,
    pitch: f64,
    centiamps: Option<i16>,
}

const IDLING: Signals = Signals {
    armed: true,
    outputs: [1150, 1150, 1150, 1150, 0, 0, 0, 0],
    throttle: 988,
    switch: 2000,
    count: 8,
    roll: 0.3,
    pitch: -0.2,
    centiamps: Some(200),
};
const RESTING: Signals =
    Signals { armed: false, outputs: [1000, 1000, 1000, 1000, 0, 0, 0, 0], switch: 1000, ..IDLING };

fn facts() -> Facts {
    Facts {
        craft: "Wren 95".to_owned(),
        is_virtual: true,
        corners: ["front left", "front right", "rear right", "rear left"].map(str::to_owned).to_vec(),
        throttle_channel: Some(3),
        throttle_below: Pulse(1050),
        arm_bands: vec![(6, Pulse(1750), Pulse(2100))],
        most_current: Some(Current(6000)),
        speeds: true,
        kv: Some(11_500),
        arms_on_usb: true,
        cells: 2,
        idle: Some(Pulse(1150)),
        disarm_stops_motor: true,
    }
}

fn heard(signals: Signals) -> [LinkEvent; 5] {
    let mut pulses = [None; 18];
    pulses[2] = Some(signals.throttle);
    pulses[5] = Some(signals.switch);
    [
        LinkEvent::Alive { vehicle: 1, armed: signals.armed },
        LinkEvent::Channels { count: signals.count, pulses, board_time: None },
        LinkEvent::Outputs { pulses: signals.outputs, board_time: None },
        #[expect(clippy::cast_possible_truncation, reason = "an angle")]
        LinkEvent::Attitude {
            roll: signals.roll.to_radians() as f32,
            pitch: signals.pitch.to_radians() as f32,
            yaw: 0.0,
            board_time: None,
        },
        LinkEvent::Power { millivolts: Some(7900), centiamps: signals.centiamps, receiver: Some(true) },
    ]
}

fn hear(live: &mut Live, now: Time, signals: Signals) {
    for heard in heard(signals) {
        live.hear(now, &heard);
    }
}

fn step(motors: Motors) -> MotorStep {
    let by = match &motors {
        Motors::One(..) => StartedBy::Command,
        _ => StartedBy::Switch { switch: Switch("B".to_owned()), on: 2, off: 0 },
    };
    MotorStep {
        purpose: "a test".to_owned(),
        pulse: Pulse(1150),
        longest: Duration::from_secs(2),
        motors,
        starts: 1,
        by,
        look_at: "the motors".to_owned(),
        radio_off: false,
    }
}

fn turning(motors: Motors) -> Mode {
    let mut turning = Turning::enter(step(motors), START, Some((0.3, -0.2)), Breaks::default());
    if matches!(turning.step.by, StartedBy::Command) {
        turning.commanded_until = Some(START + Duration::from_secs(2));
    }
    Mode::Turning(Box::new(turning))
}

/// Judges every 20 ms while these signals come, from one time to another after the entry; the first verdict.
fn judged(mode: &mut Mode, live: &mut Live, signals: Signals, from_ms: u64, to_ms: u64) -> Result<(), String> {
    for ms in (from_ms..to_ms).step_by(20) {
        let now = START + Duration::from_millis(ms);
        hear(live, now, signals);
        judge(live, Some(&facts()), mode, false, now)?;
    }
    Ok(())
}

fn started() -> (Mode, Live) {
    let (mut mode, mut live) = (turning(Motors::All), Live::default());
    assert_eq!(judged(&mut mode, &mut live, RESTING, 0, 500), Ok(()));
    assert_eq!(judged(&mut mode, &mut live, IDLING, 500, 1500), Ok(()));
    (mode, live)
}

#[track_caller]
fn stops(signals: Signals, why: &str) {
    let (mut mode, mut live) = started();
    let reason = judged(&mut mode, &mut live, signals, 1500, 1540).unwrap_err();
    assert!(reason.contains(why), "{reason}");
}

#[track_caller]
fn goes_on(signals: Signals) {
    let (mut mode, mut live) = started();
    assert_eq!(judged(&mut mode, &mut live, signals, 1500, 2000), Ok(()));
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
    let mut mode = Mode::Turning(Box::new(Turning::enter(high, START, None, Breaks::default())));
    let mut live = Live::default();
    assert_eq!(judged(&mut mode, &mut live, outputs(0, 1250), 0, 200), Ok(()));
    assert!(judged(&mut mode, &mut live, outputs(0, 1251), 200, 240).is_err());
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
        let (mut mode, mut live) = (turning(Motors::One("front right".to_owned(), 1)), Live::default());
        assert_eq!(judged(&mut mode, &mut live, alone(1), 0, 1000), Ok(()));
        let reason = judged(&mut mode, &mut live, alone(other), 1000, 1040).unwrap_err();
        assert!(reason.contains("not asked for"), "{reason}");
    }
}

#[test]
fn a_run_by_command_ends_when_its_time_is_over() {
    let mut signals = RESTING;
    signals.outputs[1] = 1150;
    let (mut mode, mut live) = (turning(Motors::One("front right".to_owned(), 1)), Live::default());
    assert_eq!(judged(&mut mode, &mut live, signals, 0, 2000), Ok(()));
    assert!(judged(&mut mode, &mut live, signals, 2000, 2400).is_err());
}

#[test]
fn a_board_that_arms_during_a_run_by_command_is_stopped() {
    let (mut mode, mut live) = (turning(Motors::One("front right".to_owned(), 1)), Live::default());
    assert!(judged(&mut mode, &mut live, Signals { armed: true, ..RESTING }, 0, 40).is_err());
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
fn started_for_the_failsafe() -> (Mode, Live) {
    let step = MotorStep { radio_off: true, ..step(Motors::All) };
    let breaks = Breaks { radio: true, ..Breaks::default() };
    let mut mode = Mode::Turning(Box::new(Turning::enter(step, START, Some((0.3, -0.2)), breaks)));
    let mut live = Live::default();
    assert_eq!(judged(&mut mode, &mut live, RESTING, 0, 500), Ok(()));
    assert_eq!(judged(&mut mode, &mut live, IDLING, 500, 1500), Ok(()));
    (mode, live)
}

#[test]
fn a_radio_that_is_off_on_purpose_breaks_nothing_else() {
    let off = Signals { count: 0, switch: 1000, throttle: 1500, ..IDLING };
    let (mut mode, mut live) = started_for_the_failsafe();
    assert_eq!(judged(&mut mode, &mut live, off, 1500, 3000), Ok(()));
    // With the radio heard again its sticks count again.
    assert!(judged(&mut mode, &mut live, Signals { count: 16, ..off }, 3000, 3040).is_err());
    let mut driven = off;
    driven.outputs[1] = 1181;
    for (worse, why) in [
        (driven, "driven at 1181"),
        (Signals { roll: 6.0, ..off }, "moved"),
        (Signals { centiamps: Some(601), ..off }, "A"),
    ] {
        let (mut mode, mut live) = started_for_the_failsafe();
        assert_eq!(judged(&mut mode, &mut live, off, 1500, 2000), Ok(()));
        let reason = judged(&mut mode, &mut live, worse, 2000, 2040).unwrap_err();
        assert!(reason.contains(why), "{reason}");
    }
    // Armed since 500 ms; the step allows 2 s, and 2 s more.
    let (mut mode, mut live) = started_for_the_failsafe();
    assert!(judged(&mut mode, &mut live, off, 1500, 4560).is_err());
    let (mut mode, mut live) = started_for_the_failsafe();
    assert_eq!(judged(&mut mode, &mut live, Signals { count: 0, ..RESTING }, 1500, 2500), Ok(()));
    let reason = judged(&mut mode, &mut live, off, 2500, 2540).unwrap_err();
    assert!(reason.contains("second time"), "{reason}");
}

#[test]
fn the_radio_may_go_only_as_confirmed_and_only_once_the_board_armed() {
    let lost = Signals { count: 0, ..RESTING };
    let step_with = |radio_off| MotorStep { radio_off, ..step(Motors::All) };
    let breaks = Breaks { radio: true, ..Breaks::default() };
    let mut mode = Mode::Turning(Box::new(Turning::enter(step_with(true), START, None, breaks)));
    assert!(judged(&mut mode, &mut Live::default(), lost, 0, 40).is_err());
    let mut mode = Mode::Turning(Box::new(Turning::enter(step_with(false), START, None, breaks)));
    let mut live = Live::default();
    assert_eq!(judged(&mut mode, &mut live, IDLING, 0, 500), Ok(()));
    assert!(judged(&mut mode, &mut live, Signals { count: 0, ..IDLING }, 500, 540).is_err());
}

#[test]
fn armed_for_the_dwell_and_two_seconds_at_most() {
    let (mut mode, mut live) = started();
    // Armed since 500 ms; the step allows 2 s, and 2 s more.
    assert_eq!(judged(&mut mode, &mut live, IDLING, 1500, 4500), Ok(()));
    assert!(judged(&mut mode, &mut live, IDLING, 4500, 4560).is_err());
}

#[test]
fn a_second_arming_is_not_what_was_confirmed() {
    let (mut mode, mut live) = started();
    assert_eq!(judged(&mut mode, &mut live, RESTING, 1500, 2000), Ok(()));
    let reason = judged(&mut mode, &mut live, IDLING, 2000, 2040).unwrap_err();
    assert!(reason.contains("second time"), "{reason}");
}

#[test]
fn armed_although_the_switch_is_off_for_long() {
    let (mut mode, mut live) = started();
    let off = Signals { switch: 1000, ..IDLING };
    assert!(judged(&mut mode, &mut live, off, 1500, 4000).is_err());
}

#[test]
fn outputs_that_stay_up_after_a_disarm() {
    let (mut mode, mut live) = started();
    let driven = Signals { armed: false, switch: 1000, ..IDLING };
    assert_eq!(judged(&mut mode, &mut live, driven, 1500, 1700), Ok(()));
    assert!(judged(&mut mode, &mut live, driven, 1700, 2000).is_err());
}

#[test]
fn each_signal_that_falls_silent() {
    type Dropped = fn(&LinkEvent) -> bool;
    let cases: [(&str, u64, Dropped); 4] = [
        ("armed flag", 1500, |heard| matches!(heard, LinkEvent::Alive { .. })),
        ("channels", 500, |heard| matches!(heard, LinkEvent::Channels { .. })),
        ("outputs", 500, |heard| matches!(heard, LinkEvent::Outputs { .. })),
        ("attitude", 500, |heard| matches!(heard, LinkEvent::Attitude { .. })),
    ];
    for (name, age, dropped) in cases {
        let (mut mode, mut live) = started();
        let last = START + Duration::from_millis(1480);
        let mut fell = None;
        for ms in (1500..4000).step_by(20) {
            let now = START + Duration::from_millis(ms);
            for heard in heard(IDLING).iter().filter(|heard| !dropped(heard)) {
                live.hear(now, heard);
            }
            if let Err(reason) = judge(&live, Some(&facts()), &mut mode, false, now) {
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
fn at_rest_an_armed_flag_or_a_raised_output_is_unexpected_unless_the_battery_is_out() {
    for signals in [Signals { armed: true, ..RESTING }, Signals { outputs: IDLING.outputs, ..RESTING }] {
        let mut live = Live::default();
        hear(&mut live, START, signals);
        assert!(judge(&live, Some(&facts()), &mut Mode::Still, false, START).is_err());
        // What was said of the battery does not count against a pack that is measured.
        assert!(judge(&live, Some(&facts()), &mut Mode::Still, true, START).is_err());
    }
}
