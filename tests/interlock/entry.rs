//! Entry guards at the last value that passes, and the first that does not.
//!
//! Must not be here: at which door each is judged (see `guards`).

use super::room::{ID, RESTING, Room, Signals, UNPLUGGED, facts, heard, identity};
use quadjig::board::binding::BoundNow;
use quadjig::board::signals::LinkEvent;
use quadjig::interlock::craft::Facts;
use quadjig::interlock::guards;
use quadjig::language::units::{Pulse, Voltage};
use quadjig::plan::step::Guard;
use std::time::Duration;

/// Whether it holds once this was heard; what it says else.
fn holds(room: &mut Room, guard: &Guard, signals: Signals) -> Result<(), String> {
    let _said = room.hears(room.now + Duration::from_millis(20), &heard(signals));
    room.interlock.all_hold(std::slice::from_ref(guard), None).map_err(|fault| fault.to_string())
}

fn refused(said: &Result<(), String>, why: &str) {
    assert!(said.as_ref().is_err_and(|said| said.contains(why)), "{why}: {said:?}");
}

#[test]
fn a_throttle_is_low_below_its_limit() {
    let mut room = Room::unplugged();
    let at = |throttle: u16| Signals { throttle, ..UNPLUGGED };
    assert_eq!(holds(&mut room, &Guard::ThrottleLow, at(1049)), Ok(()));
    refused(&holds(&mut room, &Guard::ThrottleLow, at(1050)), "throttle is up");
}

/// A band holds its first pulse, and not its last; without its radio a switch stands where it was last heard.
#[test]
fn a_switch_is_on_inside_its_band_heard_or_last_heard() {
    for (pulse, on) in [(1749, false), (1750, true), (2099, true), (2100, false)] {
        for sounds in [false, true] {
            let mut room = Room::unplugged();
            let sheet = room.interlock.sheet().unwrap().clone();
            let band = vec![BoundNow { channel: 6, from: Pulse(1750), to: Pulse(2100) }];
            let (arm_bands, sounding_bands) = if sounds { (Vec::new(), band) } else { (band, Vec::new()) };
            room.interlock.take_in(&identity(ID), &sheet, Facts { arm_bands, sounding_bands, ..facts() });
            let at = |count: u8| Signals { switch: pulse, count, ..UNPLUGGED };
            let heard = holds(&mut room, &Guard::ArmSwitchOff, at(8));
            let last = holds(&mut room, &Guard::ArmSwitchOff, at(0));
            if on {
                refused(&heard, if sounds { "The buzzer's switch" } else { "The arm switch is on" });
                refused(&last, "was on when it was last heard");
            } else {
                assert_eq!((heard, last), (Ok(()), Ok(())), "{pulse} {sounds}");
            }
        }
    }
}

/// Off as it was last heard, whatever a board gives on a channel without a radio.
#[test]
fn a_switch_that_was_off_when_the_radio_went_is_off() {
    let mut room = Room::unplugged();
    assert_eq!(holds(&mut room, &Guard::ArmSwitchOff, Signals { count: 0, ..UNPLUGGED }), Ok(()));
}

#[test]
fn a_pack_passes_at_its_limit_and_up_to_what_its_cells_hold() {
    let mut room = Room::met();
    let guard = Guard::BatteryAtLeast(Voltage(3700), 2);
    let at = |millivolts: u16| Signals { millivolts: Some(millivolts), ..RESTING };
    assert_eq!(holds(&mut room, &guard, at(7400)), Ok(()));
    refused(&holds(&mut room, &guard, at(7399)), "3.69 V per cell");
    assert_eq!(holds(&mut room, &guard, at(9000)), Ok(()));
    refused(&holds(&mut room, &guard, at(9010)), "more than 2 cells have when full");
    assert!(!holds(&mut room, &guard, at(5800)).unwrap_err().contains("too few"));
    refused(&holds(&mut room, &guard, at(5790)), "5.79 V are too few for 2 cells");
}

/// Several that could be meant keep every change off; which is said depends on what tells them apart.
#[test]
fn who_else_could_be_meant_is_said() {
    for (sender, why) in [((2, 1), "Another vehicle (system 9)"), ((1, 2), "one system number")] {
        let mut room = Room::met();
        room.interlock.hear(&LinkEvent::Stranger { system: 9, component: 1, commands: false });
        assert_eq!(room.changes(&[]), Ok(()), "one more, which hears nothing of it");
        room.interlock.hear(&LinkEvent::Rival { sender, bound: (1, 1) });
        refused(&room.changes(&[]).map_err(|fault| fault.to_string()), why);
    }
}

/// One side or end is named where the other is level, or less than half as far off.
#[test]
fn the_side_that_is_low_is_named() {
    for (roll, pitch, words) in [
        (3.0, 0.0, "Raise the right side."),
        (-3.0, 0.5, "Raise the left side."),
        (0.0, 3.0, "Raise the tail."),
        (0.5, -3.0, "Raise the nose."),
        (3.0, 1.2, "Raise the right side."),
        (1.2, -3.0, "Raise the nose."),
        (3.0, 2.0, "Raise the right side and the tail."),
        (-2.0, 3.0, "Raise the left side and the tail."),
        (4.0, 2.0, "Raise the right side and the tail."),
        (2.0, 4.0, "Raise the right side and the tail."),
        (0.6, 0.6, "Raise the right side and the tail."),
    ] {
        assert_eq!(guards::raise(roll, pitch), words, "{roll} {pitch}");
    }
}
