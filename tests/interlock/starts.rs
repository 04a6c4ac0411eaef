//! What a start needs beside its printed guards: somebody who can stop it, a link that is quick, nobody else on it, and
//! motors that are cool enough.

use super::room::{ID, IDLING, RESTING, Room, Signals, UNPLUGGED, UNTOLD, confirmed, one_motor, step};
use quadjig::board::signals::{LinkEvent, Outgoing};
use quadjig::board::value::{Number, SettingName};
use quadjig::interlock::{Breaks, FrameVerdict, HeatNeeds, Order, Phase, Tested};
use quadjig::seam::PortInfo;
use quadjig::seam::guardian::GuardianEvent;
use quadjig::seam::ui::{About, MotorStep, MotorTest, Motors, UiEvent};
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
    assert!(matches!(room.interlock.judge_frame(&write), FrameVerdict::Leaves(_)));
    room.interlock.end_writing();
    assert!(matches!(room.interlock.judge_frame(&write), FrameVerdict::Refused(why) if why.contains("journal")));
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
    let tests = [Some(MotorTest::Arm), Some(MotorTest::Cut), Some(MotorTest::Failsafe), Some(MotorTest::Usb), None];
    for (place, failed) in [Tested::Arm, Tested::Cut, Tested::Failsafe].into_iter().enumerate() {
        for (at, test) in tests.into_iter().enumerate() {
            let mut room = Room::met();
            room.interlock.tested(failed, false);
            let mut ok = confirmed(&MotorStep { test, ..step(Motors::All) }, room.now);
            let entered = room.interlock.enter_drive(&mut ok, &[], Breaks::default());
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
    let cut = MotorStep { test: Some(MotorTest::Cut), ..step(Motors::All) };
    let ends: [fn(&mut Room); 4] = [
        |room| room.interlock.stop("a key"),
        |room| drop(room.hears(room.now, &[LinkEvent::Banner])),
        |room| drop(room.says(Signals { millivolts: Some(0), ..IDLING }, 1500)),
        |room| drop(room.says(Signals { throttle: 1600, ..IDLING }, 300)),
    ];
    for (which, end) in ends.into_iter().enumerate() {
        let mut room = Room::turning(&cut, Breaks::default());
        end(&mut room);
        assert_eq!(room.interlock.phase(), Phase::Stopping, "{which}");
        let may = |test| room.interlock.may_turn(test).is_ok();
        assert!(!may(None) && may(Some(Tested::Cut)), "{which}");
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
                room.types(About::BatteryOut);
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

/// One motor that was run by command.
const TURNING: Signals = Signals { outputs: [1000, 1150, 1000, 1000, 0, 0, 0, 0], ..RESTING };

/// A run by command that comes to rest with nothing sent for it, or with a disarm.
fn ran(helped: bool) -> Room {
    let mut room = Room::turning(&one_motor(), Breaks::default());
    room.says(TURNING, 500).unwrap();
    if helped {
        room.interlock.asks(&Outgoing::Disarm { force: false });
    }
    room.says(RESTING, 2500).unwrap();
    room.interlock.start_ends().unwrap();
    room.clearance = None;
    room.answers(ID);
    room
}

/// Once its cable is out nothing stops a motor but its own end: one was seen before, in this contact, with nothing sent.
#[test]
fn a_cable_goes_only_from_a_craft_that_was_seen_to_end_a_run_by_itself() {
    let may = |room: &Room| {
        let ok = confirmed(&MotorStep { test: Some(MotorTest::Cable), ..one_motor() }, room.now);
        room.interlock.may_drive(&ok, &[], Breaks::default()).map_err(|fault| fault.to_string())
    };
    assert_eq!(may(&ran(false)), Ok(()));
    let mut unseen = Room::turning(&one_motor(), Breaks::default());
    unseen.says(RESTING, 3000).unwrap();
    unseen.interlock.start_ends().unwrap();
    unseen.clearance = None;
    let mut anew = ran(false);
    anew.replugged(&PortInfo::default(), ID);
    anew.says(RESTING, 3000).unwrap();
    anew.interlock.may_work().unwrap();
    for (what, room) in [("none", Room::met()), ("helped", ran(true)), ("not driven", unseen), ("anew", anew)] {
        let refused = may(&room);
        assert!(refused.as_ref().is_err_and(|why| why.contains("stop by itself")), "{what}: {refused:?}");
    }
}

/// What was confirmed with its cable out is said first, and the large words once it is over; of any other start they come
/// at once.
#[test]
fn a_motor_without_its_cable_has_its_time_before_the_large_words() {
    let said = |room: &mut Room, for_ms: u64| {
        let mut said = Vec::new();
        for _ in (0..for_ms).step_by(20) {
            room.now = room.now + Duration::from_millis(20);
            room.interlock.wakes(room.now, room.now);
            room.interlock.judge();
            said.extend(room.interlock.orders().into_iter().filter_map(|order| match order {
                Order::Say(UiEvent::PullTheBattery) => Some((room.now, true)),
                Order::Say(UiEvent::CableOut(_)) => Some((room.now, false)),
                Order::Stop { .. } => panic!("a stop left, and there is no wire"),
                _ => None,
            }));
        }
        said
    };
    let of_cable = MotorStep { test: Some(MotorTest::Cable), ..one_motor() };
    for (step, waits) in [(of_cable.clone(), true), (one_motor(), false)] {
        let mut room = ran(false);
        room.starts(&step, Breaks::default());
        room.says(TURNING, 500).unwrap();
        room.interlock.lost();
        let (lost, said) = (room.now, said(&mut room, 5000));
        // 2 s of the run, and a second in which it coasts; 0.5 s of both are over.
        let (at, large) = said[0];
        assert_eq!((large, at.since(lost) < Duration::from_millis(50)), (!waits, true), "{waits}: {said:?}");
        let first = said.iter().find(|(_, large)| *large).unwrap().0.since(lost);
        assert!(!waits || (first >= Duration::from_millis(2480) && first <= Duration::from_millis(2560)), "{first:?}");
    }
    // A stop that came first, as of a guardian that misses the same wire: only where nothing was heard since.
    for (heard, waits) in [(false, true), (true, false)] {
        let mut room = ran(false);
        room.starts(&of_cable, Breaks::default());
        room.says(TURNING, 500).unwrap();
        room.interlock.stop("a test");
        assert!(matches!(room.interlock.orders()[0], Order::Stop { force: false }));
        if heard {
            let _it_is_one = room.says(TURNING, 100);
        }
        room.interlock.lost();
        assert_eq!(said(&mut room, 40).iter().any(|(_, large)| !large), waits, "heard {heard}");
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

/// Nor is one shown by outputs that were at rest already, by a radio that was lost meanwhile, or before a switch that went
/// off as well would have been heard.
#[test]
fn what_may_have_been_something_else_is_no_obeyed_disarm() {
    let on = Signals { switch: IDLING.switch, ..RESTING };
    let disarm = |room: &mut Room| room.interlock.asks(&Outgoing::Disarm { force: false });
    let started = |as_said: Signals| {
        let mut room = Room::turning(&step(Motors::All), Breaks::default());
        room.says(as_said, 500).unwrap();
        disarm(&mut room);
        room
    };
    let obeys = |room: &Room| room.interlock.obeys_disarm();
    let mut room = started(IDLING);
    room.says(on, 980).unwrap();
    assert!(!obeys(&room), "its switch may yet be heard off");
    room.says(on, 60).unwrap();
    assert!(obeys(&room));
    let mut room = started(IDLING);
    room.says(on, 980).unwrap();
    room.says(RESTING, 500).unwrap();
    assert!(!obeys(&room), "it was heard off");
    let mut room = started(Signals { outputs: RESTING.outputs, ..IDLING });
    room.says(on, 1500).unwrap();
    assert!(!obeys(&room), "nothing was driven");
    let mut room = started(IDLING);
    room.says(on, 100).unwrap();
    room.interlock.hear(&LinkEvent::Power { millivolts: Some(7900), centiamps: Some(0), receiver: Some(false) });
    room.says(on, 1500).unwrap();
    assert!(!obeys(&room), "the radio was lost");
    // It counts from the first of several.
    let mut room = started(IDLING);
    room.says(Signals { switch: RESTING.switch, ..IDLING }, 100).unwrap();
    room.says(IDLING, 100).unwrap();
    disarm(&mut room);
    room.says(on, 1500).unwrap();
    assert!(!obeys(&room), "its switch was off in between");
}

/// Starts with less than a pause between them add up to 10 s and no more; a pause, or a hand that found them cool, ends that.
#[test]
fn motors_that_turned_for_ten_seconds_without_a_pause_are_stopped() {
    let asked = MotorStep { longest: Duration::from_secs(4), ..step(Motors::All) };
    let turns = |room: &mut Room, rest_ms: u64| {
        room.answers(ID);
        room.starts(&asked, Breaks::default());
        room.says(IDLING, 4000).unwrap();
        room.says(RESTING, rest_ms).unwrap();
        room.interlock.start_ends().unwrap();
        room.answers(ID);
    };
    let twice = |rest_ms: u64| {
        let mut room = Room::met();
        turns(&mut room, 1200);
        turns(&mut room, rest_ms);
        room
    };
    let mut room = twice(1200);
    assert_eq!(room.interlock.heat(Duration::from_secs(2)), HeatNeeds::Nothing);
    assert_eq!(room.interlock.heat(Duration::from_millis(2001)), HeatNeeds::Pause);
    room.starts(&asked, Breaks::default());
    room.says(IDLING, 2020).unwrap();
    let reason = room.says(IDLING, 40).unwrap_err();
    assert!(reason.contains("for 10 s without a pause"), "{reason}");
    let _stopped = room.says(RESTING, 1500);
    assert_eq!(room.interlock.heat(Duration::from_millis(1)), HeatNeeds::Pause);
    room.types(About::Heat);
    assert_eq!(room.interlock.heat(Duration::from_secs(10)), HeatNeeds::Nothing);
    let mut room = twice(2100);
    room.starts(&asked, Breaks::default());
    room.says(IDLING, 3900).unwrap();
}

/// Flag and outputs may say that nothing is driven, and a motor turns.
#[test]
fn a_speed_that_nobody_asked_for_stops() {
    let mut room = Room::met();
    let mut all = super::room::heard(RESTING).to_vec();
    all.push(LinkEvent::Speeds { first: 0, rpm: [0; 4], count: 4 });
    for _ in 0..20 {
        assert_eq!(room.hears(room.now + Duration::from_millis(20), &all), Ok(()));
    }
    all.push(LinkEvent::Speeds { first: 0, rpm: [0, 0, 3000, 0], count: 4 });
    let stopped = (0..20).find_map(|_| room.hears(room.now + Duration::from_millis(20), &all).err());
    assert!(stopped.is_some_and(|why| why.contains("a motor turns without being asked to")));
}

/// A switch that was on when it was last heard may have the craft arm again between two looks at it: nothing is called stopped
/// before it is heard off.
#[test]
fn a_stop_is_not_confirmed_while_the_arm_switch_was_last_heard_on() {
    for (switch, confirmed) in [(2000, false), (1000, true)] {
        let mut room = Room::turning(&step(Motors::All), Breaks::default());
        room.says(IDLING, 500).unwrap();
        room.interlock.stop("a test");
        let _still_on = room.says(Signals { switch, ..RESTING }, 200);
        let rest = super::room::heard(RESTING);
        let mut said = false;
        for _ in 0..100 {
            let now = room.now + Duration::from_millis(20);
            (room.now, _) = (now, room.interlock.wakes(now, now));
            for event in rest.iter().filter(|event| !matches!(event, LinkEvent::Channels { .. })) {
                room.interlock.hear(event);
            }
            room.interlock.judge();
            said |= room.interlock.orders().iter().any(|order| matches!(order, Order::Say(UiEvent::StopConfirmed)));
        }
        assert_eq!(said, confirmed, "switch at {switch}");
    }
}
