//! Each bound at its last moment, and past it.
//!
//! Must not be here: how a procedure waits (see `tests/bench/`).

use super::room::{ID, RESTING, Room, START, UNTOLD, confirmed, heard, step};
use quadjig::board::signals::LinkEvent;
use quadjig::interlock::signals::Pack;
use quadjig::interlock::{Breaks, Phase};
use quadjig::language::units::Pulse;
use quadjig::seam::PortInfo;
use quadjig::seam::ui::{About, MotorStep, Motors};
use std::time::Duration;

/// Where anything may turn the moment is judged every 20 ms, elsewhere ten times a second.
#[test]
fn it_is_woken_in_time_in_every_phase() {
    for phase in Phase::ALL {
        let room = Room::in_phase(phase);
        let quick = matches!(phase, Phase::SwitchesWorked | Phase::Invited | Phase::Turning | Phase::Stopping);
        let next = Duration::from_millis(if quick { 20 } else { 100 });
        assert_eq!(room.interlock.wake(), room.now + next, "{phase:?}");
    }
}

/// `safety.md`, entry guards 1: 15 minutes without a step.
#[test]
fn the_word_of_the_propellers_stands_for_a_quarter_of_an_hour() {
    let mut room = Room::met();
    let said = START - Duration::from_secs(4);
    let after = |room: &mut Room, micros: u64| {
        let now = said + Duration::from_micros(micros);
        room.interlock.wakes(now, now);
        room.interlock.props_off()
    };
    assert!(after(&mut room, 15 * 60_000_000 - 1));
    assert!(!after(&mut room, 15 * 60_000_000));
}

/// What was typed of a battery does not stand once something was stopped or broke off.
#[test]
fn the_word_of_the_battery_goes_with_what_broke_off() {
    for out in [true, false] {
        let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
        if out {
            room.types(About::BatteryOut);
        } else {
            room.types(About::BatteryIn);
        }
        assert_eq!(room.interlock.pack(), if out { Pack::Out } else { Pack::In });
        room.interlock.latch();
        assert_eq!(room.interlock.pack(), Pack::Unknown);
    }
}

/// And from the last step on, not from when it was said.
#[test]
fn a_step_renews_the_word_of_the_propellers() {
    let mut room = Room::met();
    let begun = START + Duration::from_secs(14 * 60);
    room.interlock.wakes(begun, begun);
    room.now = begun;
    assert!(room.interlock.props_off());
    room.interlock.step_on_props();
    let stands = |room: &mut Room, seconds: u64| {
        let now = begun + Duration::from_secs(seconds);
        room.interlock.wakes(now, now);
        room.interlock.props_off()
    };
    assert!(stands(&mut room, 14 * 60 + 59) && !stands(&mut room, 15 * 60));
    room.interlock.step_on_props();
    assert!(!room.interlock.props_off(), "a step is no word");
}

/// `safety.md`, built-in ceilings: 1250 us.
#[test]
fn no_start_is_asked_for_more_than_the_ceiling() {
    for (pulse, may) in [(1250, true), (1251, false), (1300, false)] {
        let mut room = Room::met();
        let asked = MotorStep { pulse: Pulse(pulse), ..step(Motors::All) };
        let entered = room.interlock.enter_drive(&mut confirmed(&asked, room.now), &[], Breaks::default());
        assert_eq!(entered.is_ok(), may, "{pulse} us");
    }
}

/// What is missing for a moment tells nothing of rest; in doubt, or beside a motor that turns, rest begins anew.
#[test]
fn rest_goes_on_over_what_is_missing_for_a_moment() {
    let speeds = |rpm| LinkEvent::Speeds { first: 0, rpm: [rpm, 0, 0, 0], count: 4 };
    let all = [heard(RESTING).as_slice(), &[speeds(0)]].concat();
    let without_outputs: Vec<LinkEvent> =
        all.iter().filter(|event| !matches!(event, LinkEvent::Outputs { .. })).cloned().collect();
    let hears = |room: &mut Room, times: u32, said: &[LinkEvent]| {
        (0..times).for_each(|_| room.hears(room.now + Duration::from_millis(20), said).unwrap());
    };
    let back = |happens: &dyn Fn(&mut Room)| {
        let mut room = Room::met();
        hears(&mut room, 60, &all);
        happens(&mut room);
        hears(&mut room, 30, &without_outputs);
        assert!(!room.interlock.rests(), "not heard");
        hears(&mut room, 1, &all);
        room.answers(ID);
        let at_once = room.interlock.rests();
        hears(&mut room, 50, &all);
        assert!(room.interlock.rests());
        at_once
    };
    assert!(back(&|_| {}));
    assert!(!back(&|room| room.interlock.hear(&LinkEvent::Leapt)), "in doubt");
    assert!(!back(&|room| hears(room, 1, &[speeds(100)])), "a motor turned");
}

/// `interlock.md`, words used here: at rest for 1 s, with a flag of at least 1 s after the last start.
#[test]
fn rest_after_a_start_is_told_by_a_flag_of_a_second_later() {
    let mut room = Room::met();
    room.starts(&step(Motors::All), Breaks::default());
    room.says(RESTING, 580).unwrap();
    for _ in 0..23 {
        room.hears(room.now + Duration::from_millis(20), &heard(RESTING)[1..]).unwrap();
    }
    assert!(!room.interlock.rests(), "all at rest for longer, and the flag of before that");
    room.says(RESTING, 20).unwrap();
    assert!(room.interlock.rests());
}
