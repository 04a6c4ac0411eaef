//! What a start needs beside its printed guards: somebody who can stop it, a link that is quick, nobody else on it, and
//! motors that are cool enough.

use super::room::{ID, IDLING, RESTING, Room, Signals, UNPLUGGED, UNTOLD, confirmed, step};
use quadjig::board::signals::{LinkEvent, Outgoing};
use quadjig::board::value::{Number, SettingName};
use quadjig::interlock::{Breaks, HeatNeeds, Phase, Tested, Verdict};
use quadjig::seam::PortInfo;
use quadjig::seam::guardian::GuardianEvent;
use quadjig::seam::ui::Motors;
use std::time::Duration;

/// Something that happens to a room.
type Disturbs<'d> = &'d dyn Fn(&mut Room);

fn enters(room: &mut Room) -> Result<(), String> {
    let mut ok = confirmed(&step(Motors::All), room.now);
    room.interlock.enter_drive(&mut ok, &[], Breaks::default()).map(|_| ()).map_err(|fault| fault.to_string())
}

/// A vehicle of another number hears nothing of what is written to this one, and is no reason to wait; whoever commands is,
/// also when it is heard of again as one that only shows life.
#[test]
fn another_vehicle_keeps_no_write_off_and_a_commander_does() {
    let stranger = |commands| LinkEvent::Stranger { system: 9, component: 1, commands };
    let rival = LinkEvent::Rival { sender: (2, 1), bound: (1, 1) };
    for (heard, may) in [
        (vec![stranger(false)], true),
        (vec![stranger(true)], false),
        (vec![stranger(true), stranger(false)], false),
        (vec![stranger(false), LinkEvent::TwoSpeakers], false),
        (vec![stranger(false), rival], false),
    ] {
        let mut room = Room::met();
        for event in &heard {
            room.interlock.hear(event);
        }
        assert_eq!(room.changes(&[]).is_ok(), may, "{heard:?}");
    }
}

#[test]
fn a_start_needs_somebody_to_stop_it_a_quick_link_and_nobody_else_on_it() {
    let stranger = |commands| LinkEvent::Stranger { system: 9, component: 1, commands };
    let table: [(&str, Disturbs<'_>); 8] = [
        ("The terminal was closed", &|room| room.interlock.terminal_is_gone()),
        ("gives commands on this link", &|room| room.interlock.hear(&stranger(true))),
        ("Another vehicle", &|room| room.interlock.hear(&stranger(false))),
        ("one system number", &|room| room.interlock.hear(&LinkEvent::Rival { sender: (1, 2), bound: (1, 1) })),
        ("was not measured of late", &|room| room.says(RESTING, 10_020).unwrap()),
        ("This link is slow", &|room| {
            room.says(RESTING, 10_020).unwrap();
            room.interlock.asks(&Outgoing::Identify);
            room.says(RESTING, 520).unwrap();
            room.interlock.hear(&LinkEvent::Identity(super::room::identity(ID)));
        }),
        ("drives 3 outputs", &|room| {
            let three = Signals { outputs: [1000, 1000, 1000, 0, 0, 0, 0, 0], ..RESTING };
            room.says(three, 100).unwrap();
        }),
        ("not at rest for a second", &|room| {
            room.interlock.only_looks();
            let _seen = room.says(Signals { armed: true, ..RESTING }, 20);
            let _seen = room.says(RESTING, 200);
        }),
    ];
    for (why, disturbs) in table {
        let mut room = Room::met();
        room.answers(ID);
        disturbs(&mut room);
        let entered = enters(&mut room);
        assert!(entered.as_ref().is_err_and(|said| said.contains(why)), "{why}: {entered:?}");
    }
    let mut room = Room::met();
    room.answers(ID);
    assert_eq!(enters(&mut room), Ok(()));
    // And the process that stops the motors if this one dies.
    for (says, may) in [(None, true), (Some(GuardianEvent::Gone), false), (Some(GuardianEvent::Fired), false)] {
        let mut room = Room::at_rest(&PortInfo { guarded: true, ..PortInfo::default() }, ID, RESTING);
        room.answers(ID);
        if let Some(says) = says {
            room.interlock.guardian().hear(says);
        }
        let entered = enters(&mut room);
        assert_eq!(entered.is_ok(), may, "{entered:?}");
        assert!(may || entered.unwrap_err().contains("does not stand ready"));
    }
}

/// `safety.md`, settings: a failed fsync ends all writing, at the door and as each frame leaves.
#[test]
fn after_a_journal_that_failed_nothing_is_written() {
    let mut room = Room::met();
    room.changes(&[]).unwrap();
    let write = Outgoing::Write { name: SettingName::new("IDLE_US").unwrap(), value: Some(Number::Whole(1120)) };
    assert!(matches!(room.interlock.judge_frame(&write), Verdict::Leaves(_)));
    room.interlock.end_writing();
    assert!(matches!(room.interlock.judge_frame(&write), Verdict::Refused(why) if why.contains("journal")));
    assert!(room.changes(&[]).unwrap_err().to_string().contains("journal"));
}

/// `safety.md`, stop: confirmed only when flag, outputs, switch and speeds were at rest for 1 s.
#[test]
fn a_stop_is_confirmed_after_a_second_at_rest() {
    let mut room = Room::turning(&step(Motors::All), Breaks::default());
    room.says(IDLING, 500).unwrap();
    room.interlock.stop("a test");
    let _said = room.says(RESTING, 1000);
    assert_eq!(room.interlock.phase(), Phase::Stopping);
    let _said = room.says(RESTING, 60);
    assert_eq!(room.interlock.phase(), Phase::Latched);
}

/// `safety.md`, built-in ceilings: 10 s without a pause and 60 s in 5 min, then they are felt by hand.
#[test]
fn a_series_pauses_after_ten_seconds_and_cools_after_a_minute() {
    let longest = Duration::from_secs;
    let turns = |room: &mut Room, turn: u64, rest: u64| {
        let _stopped = (room.says(IDLING, turn), room.says(RESTING, rest));
    };
    let mut room = Room::met();
    turns(&mut room, 4000, 1000);
    turns(&mut room, 4000, 1000);
    assert_eq!(room.interlock.heat(longest(2)), HeatNeeds::Nothing);
    assert_eq!(room.interlock.heat(longest(3)), HeatNeeds::Pause);
    turns(&mut room, 0, 1100);
    assert_eq!(room.interlock.heat(longest(5)), HeatNeeds::Nothing);
    for _ in 0..12 {
        turns(&mut room, 4000, 3000);
    }
    assert_eq!(room.interlock.heat(longest(3)), HeatNeeds::Nothing);
    assert_eq!(room.interlock.heat(longest(5)), HeatNeeds::Cooling);
    turns(&mut room, 0, 290_000);
    assert_eq!(room.interlock.heat(longest(5)), HeatNeeds::Nothing);
}

/// What the battery is measured out of heats nothing, however long it is armed.
#[test]
fn outputs_without_power_heat_nothing() {
    let mut room = Room::unplugged();
    room.says(Signals { armed: true, outputs: IDLING.outputs, ..UNPLUGGED }, 30_000).unwrap();
    room.says(UNPLUGGED, 100).unwrap();
    assert_eq!(room.interlock.heat(Duration::from_secs(5)), HeatNeeds::Nothing);
}

/// At the door itself, whoever left the step out before it: a test that failed, and those that it builds on, may be made again.
#[test]
fn after_a_failed_test_of_what_stops_it_nothing_starts_but_such_tests() {
    let tests = [Some(Tested::Arm), Some(Tested::Cut), Some(Tested::Failsafe), None];
    for (place, failed) in [Tested::Arm, Tested::Cut, Tested::Failsafe].into_iter().enumerate() {
        for (at, test) in tests.into_iter().enumerate() {
            let mut room = Room::met();
            room.interlock.tested(failed, false);
            let breaks = Breaks { test, ..Breaks::default() };
            let mut ok = confirmed(&step(Motors::All), room.now);
            let entered = room.interlock.enter_drive(&mut ok, &[], breaks);
            assert_eq!(entered.is_ok(), at <= place, "{failed:?} failed, {test:?} is to start");
        }
        let mut room = Room::met();
        room.interlock.tested(failed, false);
        room.interlock.tested(failed, true);
        room.starts(&step(Motors::All), Breaks::default());
    }
}

/// By a key, a clock that starts anew, a battery or a hand: nobody saw what the test was to show.
#[test]
fn a_test_that_whatever_ended_was_not_passed() {
    let breaks = Breaks { test: Some(Tested::Cut), ..Breaks::default() };
    let ends: [fn(&mut Room); 4] = [
        |room| room.interlock.stop("a key"),
        |room| drop(room.hears(room.now, &[LinkEvent::Banner])),
        |room| drop(room.says(Signals { millivolts: Some(0), ..IDLING }, 1500)),
        |room| drop(room.says(Signals { throttle: 1600, ..IDLING }, 300)),
    ];
    for (which, end) in ends.into_iter().enumerate() {
        let mut room = Room::turning(&step(Motors::All), breaks);
        end(&mut room);
        assert_eq!(room.interlock.phase(), Phase::Stopping, "{which}");
        assert!(room.interlock.may_turn(None).is_err() && room.interlock.may_turn(breaks.test).is_ok(), "{which}");
    }
    let mut room = Room::turning(&step(Motors::All), Breaks::default());
    room.interlock.stop("a key");
    assert!(room.interlock.may_turn(None).is_ok(), "no test was under way");
}

/// Outputs of an arming, and a flag that says all the while that there is none: also where the battery is out by a word.
#[test]
fn outputs_that_stay_up_give_a_flag_the_lie() {
    let breaks = Breaks { arms_again: true, ..Breaks::default() };
    for (motors, rests) in [(Motors::All, RESTING), (Motors::None, UNTOLD)] {
        let starts = || {
            let mut room = Room::at_rest(&PortInfo::default(), ID, rests);
            if motors == Motors::None {
                room.interlock.attest_battery_out();
            }
            room.answers(ID);
            room.starts(&step(motors.clone()), breaks);
            room
        };
        let driven = Signals { armed: false, outputs: IDLING.outputs, switch: IDLING.switch, ..rests };
        let why = starts().says(driven, 3200).unwrap_err();
        // Where motors may turn, what is driven under a flag that says no is over sooner.
        assert!(motors == Motors::All || why.contains("its flag lies"), "{motors:?}: {why}");
        let mut room = starts();
        room.says(driven, 200).unwrap();
        room.says(Signals { armed: true, ..driven }, 1900).unwrap();
    }
}

/// `interlock.md` 3: while a radio is off its switch stops nothing, so a craft has to have obeyed a disarm before; a hand
/// that went off meanwhile shows nothing.
#[test]
fn a_radio_goes_off_only_on_a_craft_that_obeyed_a_disarm() {
    let radio = Breaks { radio: true, ..Breaks::default() };
    let may = |room: &Room| {
        let ok = confirmed(&step(Motors::All), room.now);
        room.interlock.may_drive(&ok, &[], radio).map_err(|fault| fault.to_string())
    };
    assert_eq!(may(&Room::obeys_a_disarm()), Ok(()));
    for (before, after) in [(true, false), (false, true), (false, false)] {
        let refused = may(&Room::disarmed(before, after));
        assert!(refused.as_ref().is_err_and(|why| why.contains("obey a disarm")), "{before}, {after}: {refused:?}");
    }
}
