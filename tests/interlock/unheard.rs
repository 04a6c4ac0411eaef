//! In doubt means on: a switch of which nothing is heard, what is heard late, and motors that USB feeds.
//!
//! Must not be here: doors and frames of a craft of which all is known (see `guards`, `gate`).

use super::room::{ID, IDLING, Room, Signals, UNPLUGGED, UNTOLD, facts, heard, identity};
use quadjig::board::signals::{LinkEvent, Outgoing};
use quadjig::board::value::{NoValue, Number, SettingName};
use quadjig::interlock::craft::Facts;
use quadjig::interlock::{ChangeStep, FrameVerdict};
use quadjig::plan::step::Guard;
use quadjig::seam::PortInfo;
use quadjig::seam::ui::{About, BoardChange};
use std::time::Duration;

fn not_channels(event: &LinkEvent) -> bool {
    !matches!(event, LinkEvent::Channels { .. })
}

fn setting(name: &str, value: i64) -> LinkEvent {
    LinkEvent::Setting { name: SettingName::new(name).unwrap(), value: Number::Whole(value), index: None }
}

/// In doubt a switch stands in the band that a write opens: on a channel that carries nothing, and on channels that came
/// for the last time more than 2 s ago.
#[test]
fn no_arm_band_is_opened_over_a_switch_that_stands_in_it_or_is_not_heard() {
    let opened = |to: i64, channel: i64, signals: Signals, heard_of: &dyn Fn(&LinkEvent) -> bool, silent: u64| {
        let mut room = Room::unplugged();
        for (name, value) in [("ARM_CHANNEL", channel), ("ARM_FROM", 1754), ("ARM_TO", 900)] {
            room.interlock.hear(&setting(name, value));
        }
        for ms in (20..=3000).step_by(20) {
            let late = ms > 3000 - silent;
            let left = heard(signals).into_iter().filter(|event| heard_of(event) && (!late || not_channels(event)));
            assert_eq!(room.hears(room.now + Duration::from_millis(20), &left.collect::<Vec<_>>()), Ok(()));
        }
        let writes = vec![(SettingName::new("ARM_TO").unwrap(), Number::Whole(to))];
        let change = BoardChange { writes, ..BoardChange::default() };
        let change = ChangeStep { change, ..ChangeStep::default() };
        room.stillness = Some(room.interlock.enter_change(change, None).unwrap());
        let name = SettingName::new("ARM_TO").unwrap();
        room.interlock.judge_frame(&Outgoing::Write { name, value: Some(Number::Whole(to)) })
    };
    let all = |_: &LinkEvent| true;
    let on = Signals { switch: 2000, ..UNPLUGGED };
    let away = opened(2146, 6, UNPLUGGED, &all, 0);
    assert!(matches!(away, FrameVerdict::Leaves(_)), "{away:?}");
    let shut = opened(850, 6, on, &not_channels, 0);
    assert!(matches!(shut, FrameVerdict::Leaves(_)), "no band is opened: {shut:?}");
    for (verdict, why) in [
        (opened(2146, 6, on, &all, 0), "inside the arm band"),
        (opened(2146, 7, UNPLUGGED, &all, 0), "carries nothing"),
        (opened(2146, 6, UNPLUGGED, &not_channels, 0), "not heard"),
        (opened(2146, 6, Signals { count: 0, ..UNPLUGGED }, &all, 0), "not heard"),
        (opened(2146, 6, UNPLUGGED, &all, 2020), "not heard"),
    ] {
        assert!(matches!(&verdict, FrameVerdict::Refused(said) if said.contains(why)), "{why}: {verdict:?}");
    }
    assert_eq!(opened(2146, 6, UNPLUGGED, &all, 1000), FrameVerdict::Waits, "late, and not gone");
}

/// An answer that took 400 ms makes all that is heard 200 ms older: channels of 340 ms ago are too old then.
#[test]
fn half_of_the_round_trip_is_added_to_every_age() {
    for (trip, fresh) in [(0, true), (400, false)] {
        let mut room = Room::unplugged();
        // No answer of before counts any more.
        room.says(UNPLUGGED, 11_000).unwrap();
        room.says(UNPLUGGED, trip).unwrap();
        room.interlock.answered_after(room.now - Duration::from_millis(trip));
        room.says(UNPLUGGED, 1000).unwrap();
        for _ in 0..17 {
            let left: Vec<LinkEvent> = heard(UNPLUGGED).into_iter().filter(not_channels).collect();
            assert_eq!(room.hears(room.now + Duration::from_millis(20), &left), Ok(()));
        }
        assert_eq!(room.changes(&[Guard::Fresh]).is_ok(), fresh, "a round trip of {trip} ms");
    }
}

/// Out as measured, on a sensor that was seen working: where USB feeds the motors, that is not enough.
#[test]
fn motors_that_usb_feeds_could_turn_with_the_battery_measured_out() {
    for fed in [false, true] {
        let mut room = Room::unplugged();
        let sheet = room.interlock.sheet().unwrap().clone();
        room.interlock.take_in(&identity(ID), &sheet, Facts { usb_feeds_motors: fed, ..facts() });
        assert_eq!(room.interlock.could_turn(), fed);
        assert_eq!(room.interlock.switches_could_start(), fed);
        assert_eq!(room.interlock.enter_switches(&[], None).is_err(), fed, "worked without a question");
        let change = ChangeStep { turns_motors: true, ..ChangeStep::default() };
        let mut room = Room::unplugged();
        room.interlock.take_in(&identity(ID), &sheet, Facts { usb_feeds_motors: fed, ..facts() });
        assert_eq!(room.interlock.enter_change(change, None).is_err(), fed, "changed without a question");
        assert_eq!(room.says(Signals { armed: true, ..UNPLUGGED }, 100).is_err(), fed, "an arming that is no stop");
    }
}

/// By a word alone, on a board that measures no pack: where USB feeds the motors it spares no question, and no switch, stick
/// or output is left unlooked at.
#[test]
fn a_word_that_the_battery_is_out_says_nothing_of_what_usb_feeds() {
    for fed in [false, true] {
        let told = |signals: Signals, turns_motors: bool| {
            let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
            let sheet = room.interlock.sheet().unwrap().clone();
            room.interlock.take_in(&identity(ID), &sheet, Facts { usb_feeds_motors: fed, ..facts() });
            room.types(About::BatteryOut);
            room.says(signals, 200).unwrap();
            room.interlock.enter_change(ChangeStep { turns_motors, ..ChangeStep::default() }, None)
        };
        assert!(told(UNTOLD, false).is_ok(), "what turns nothing, with all at rest");
        assert_eq!(told(UNTOLD, true).is_err(), fed, "changed without a question");
        assert_eq!(told(Signals { throttle: 1600, ..UNTOLD }, false).is_err(), fed, "with the throttle up");
        assert_eq!(told(Signals { switch: IDLING.switch, ..UNTOLD }, false).is_err(), fed, "with its switch on");
    }
}

/// Whose value is whose is not known of two settings with one name: neither is taken up until all are read anew. What a
/// whole list does not name is none of this board's.
#[test]
fn a_setting_that_is_listed_twice_is_heard_no_more() {
    let mut room = Room::met();
    let cells = SettingName::new("CELLS").unwrap();
    let held = |room: &Room| room.interlock.signals().settings.get(&cells).copied();
    room.interlock.hear(&setting("CELLS", 2));
    assert_eq!(held(&room), Some(Number::Whole(2)));
    room.interlock.hear(&LinkEvent::NoValue { name: cells.clone(), why: NoValue::Twice });
    assert_eq!(held(&room), None);
    room.interlock.hear(&setting("CELLS", 3));
    assert_eq!(held(&room), None);
    room.interlock.list_begins();
    room.interlock.hear(&setting("CELLS", 3));
    assert_eq!(held(&room), Some(Number::Whole(3)));
    // No number is told of it any more.
    room.interlock.hear(&LinkEvent::NoValue { name: cells.clone(), why: NoValue::NoNumber });
    assert_eq!(held(&room), None);
    room.interlock.hear(&setting("CELLS", 4));
    room.interlock.hear(&LinkEvent::Listed([SettingName::new("IDLE_US").unwrap()].into()));
    assert_eq!(held(&room), None);
}
