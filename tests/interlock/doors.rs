//! What every change and every switch that is worked meets, whatever is printed.
//!
//! Must not be here: the guards that a plan prints (see `guards`).

use super::room::{ID, RESTING, Room, Signals, UNPLUGGED, UNTOLD, adapter, confirmed, facts, heard, identity};
use quadjig::board::signals::Outgoing;
use quadjig::interlock::craft::Facts;
use quadjig::interlock::{FrameVerdict, Phase};
use quadjig::seam::PortInfo;
use quadjig::seam::ui::About;
use std::time::Duration;

fn changes(room: &mut Room) -> Result<(), String> {
    room.changes(&[]).map_err(|fault| fault.to_string())
}

fn refused(result: &Result<(), String>, why: &str) {
    assert!(result.as_ref().is_err_and(|said| said.contains(why)), "{why}: {result:?}");
}

#[test]
fn nothing_is_written_without_a_terminal() {
    let mut room = Room::met();
    assert_eq!(changes(&mut room), Ok(()));
    room.interlock.terminal_is_gone();
    refused(&changes(&mut room), "Nothing may be written now");
}

/// Throttle and switch are judged where anything could turn, and not where nothing could, measured or said.
#[test]
fn with_the_battery_out_a_raised_throttle_keeps_no_change_off() {
    let up = |signals: Signals| Signals { throttle: 1500, ..signals };
    let mut room = Room::unplugged();
    room.says(up(UNPLUGGED), 100).unwrap();
    assert_eq!(changes(&mut room), Ok(()));
    let mut room = Room::met();
    room.says(up(RESTING), 100).unwrap();
    refused(&changes(&mut room), "throttle is up");
    let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
    room.says(up(UNTOLD), 100).unwrap();
    refused(&changes(&mut room), "throttle is up");
    room.types(About::BatteryOut);
    assert_eq!(changes(&mut room), Ok(()));
}

#[test]
fn nothing_is_written_to_nobody_knows_whom() {
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    room.silent(300).unwrap();
    let _said = room.hears(room.now + Duration::from_millis(20), &heard(RESTING)[..1]);
    refused(&changes(&mut room), "not sure yet who is on the wire");
    room.answers(ID);
    refused(&changes(&mut room), "not said of late whether its battery is in");
    room.says(RESTING, 20).unwrap();
    assert_eq!(changes(&mut room), Ok(()));
}

/// What was let through a door before a stop does not leave after it, held or not.
#[test]
fn a_stop_takes_back_what_a_door_gave() {
    let store = |room: &Room| matches!(room.interlock.judge_frame(&Outgoing::Store), FrameVerdict::Leaves(_));
    let mut room = Room::unplugged();
    changes(&mut room).unwrap();
    assert!(store(&room));
    room.interlock.stop("a test");
    let _confirmed = room.says(UNPLUGGED, 1500);
    assert_eq!(room.interlock.phase(), Phase::Latched);
    room.interlock.may_work().unwrap();
    assert!(!store(&room));
    let again = room.stillness.take();
    changes(&mut room).unwrap();
    assert!(store(&room), "a door that was passed since");
    drop(again);
}

/// What a switch is said to be watched by is what this board tells.
#[test]
fn the_question_of_worked_switches_says_what_can_be_seen() {
    for (signals, speeds, blind) in
        [(UNTOLD, false, true), (UNTOLD, true, false), (UNPLUGGED, false, true), (RESTING, false, false)]
    {
        let mut room = Room::at_rest(&PortInfo::default(), ID, signals);
        let sheet = room.interlock.sheet().unwrap().clone();
        room.interlock.take_in(&identity(ID), &sheet, Facts { speeds, ..facts() });
        let step = room.interlock.switches_step("a test");
        assert_eq!(step.look_at.contains("tells neither"), blind, "{signals:?} {speeds}");
    }
}

/// Switches are at rest once all else is, or where nothing could turn.
#[test]
fn switches_rest_once_the_craft_does() {
    let armed = |signals: Signals| Signals { armed: true, switch: 2000, ..signals };
    let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
    room.types(About::BatteryOut);
    let asked = room.interlock.switches_step("a test");
    room.interlock.enter_switches(&[], Some(&mut confirmed(&asked, room.now))).unwrap();
    room.says(armed(UNTOLD), 500).unwrap();
    assert!(room.interlock.switches_rest().is_err(), "it is armed");
    room.says(UNTOLD, 2500).unwrap();
    assert_eq!(room.interlock.switches_rest(), Ok(()));
    assert_eq!(room.interlock.phase(), Phase::Still);
    let mut room = Room::unplugged();
    room.interlock.enter_switches(&[], None).unwrap();
    room.says(armed(UNPLUGGED), 500).unwrap();
    assert_eq!(room.interlock.switches_rest(), Ok(()), "nothing could turn");
}

/// With the battery out by a word alone a switch may arm the craft while it is worked, for 20 s and no longer.
#[test]
fn a_worked_switch_leaves_it_armed_for_a_while_and_no_longer() {
    let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
    room.types(About::BatteryOut);
    let asked = room.interlock.switches_step("a test");
    room.interlock.enter_switches(&[], Some(&mut confirmed(&asked, room.now))).unwrap();
    let armed = Signals { armed: true, switch: 2000, ..UNTOLD };
    assert_eq!(room.says(armed, 19_500), Ok(()));
    assert!(room.says(armed, 1000).is_err_and(|why| why.contains("armed for more than 20 s")));
}
