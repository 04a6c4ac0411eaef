//! Every guard that a dry run prints, blocking and passing at the doors.

use super::room::{ID, IDLING, RESTING, Room, START, Signals, UNPLUGGED, UNTOLD, confirmed, heard, one_motor, step};
use quadjig::board::signals::LinkEvent;
use quadjig::interlock::{Authority, Breaks, ChangeStep, Phase};
use quadjig::language::units::{Angle, Voltage};
use quadjig::plan::step::Guard;
use quadjig::seam::PortInfo;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{Motors, StartedBy};
use std::time::Duration;

/// All of them; a new one does not compile until it stands here.
fn next(guard: Option<&Guard>) -> Option<Guard> {
    Some(match guard {
        None => Guard::PropsOff,
        Some(Guard::PropsOff) => Guard::Antenna,
        Some(Guard::Antenna) => Guard::Confirmed,
        Some(Guard::Confirmed) => Guard::Disarmed,
        Some(Guard::Disarmed) => Guard::ThrottleLow,
        Some(Guard::ThrottleLow) => Guard::ArmSwitchOff,
        Some(Guard::ArmSwitchOff) => Guard::OutputsAtRest,
        Some(Guard::OutputsAtRest) => Guard::Fresh,
        Some(Guard::Fresh) => Guard::Level(Angle(3000)),
        Some(Guard::Level(_)) => Guard::BatteryAtLeast(Voltage(3700)),
        Some(Guard::BatteryAtLeast(_)) => Guard::BatteryIn,
        Some(Guard::BatteryIn) => Guard::BatteryOut,
        Some(Guard::BatteryOut) => Guard::EncodingProved,
        Some(Guard::EncodingProved) => return None,
    })
}

fn all() -> Vec<Guard> {
    std::iter::successors(next(None), |guard| next(Some(guard))).collect()
}

/// The last moment of a room, once more, with this instead.
fn last(room: &mut Room, signals: Signals) {
    let _stopped = room.hears(room.now + Duration::from_millis(20), &heard(signals));
}

/// A craft on which this guard alone does not hold, and what the refusal says, or says where another door comes first.
fn broken(guard: &Guard) -> (Room, &'static str) {
    let mut room = Room::met();
    let why = match guard {
        Guard::PropsOff => {
            assert_eq!(room.judged(UNPLUGGED, 0, 2000), Ok(()), "a battery that goes out takes the word with it");
            "Propellers off is not attested"
        }
        Guard::Antenna => "video antenna is not attested",
        Guard::Confirmed => "was not confirmed",
        Guard::Disarmed => {
            // With the battery out an armed flag stops nothing, and changes nothing either.
            room = Room::unplugged();
            last(&mut room, Signals { armed: true, ..UNPLUGGED });
            "is armed"
        }
        Guard::ThrottleLow => {
            room = Room::unplugged();
            last(&mut room, Signals { throttle: 1500, ..UNPLUGGED });
            "throttle is up"
        }
        Guard::ArmSwitchOff => {
            room = Room::unplugged();
            last(&mut room, Signals { switch: 2000, ..UNPLUGGED });
            "arm switch is on"
        }
        Guard::OutputsAtRest => {
            room = Room::unplugged();
            last(&mut room, Signals { outputs: [1100, 1000, 1000, 1000, 0, 0, 0, 0], ..UNPLUGGED });
            "at rest|raised"
        }
        Guard::Fresh => {
            room = Room::unplugged();
            for ms in (2000..2600).step_by(20) {
                let left: Vec<LinkEvent> = heard(UNPLUGGED).into_iter().filter(not_channels).collect();
                assert_eq!(room.hears(START + Duration::from_millis(ms), &left), Ok(()));
            }
            "channels are not heard"
        }
        Guard::Level(_) => {
            room.says(Signals { roll: 9.0, ..RESTING }, 1000).unwrap();
            "not level"
        }
        Guard::BatteryAtLeast(_) => {
            room.says(Signals { millivolts: Some(7300), ..RESTING }, 1000).unwrap();
            "3.65 V per cell"
        }
        Guard::BatteryIn => {
            room = Room::unplugged();
            "battery is out"
        }
        Guard::BatteryOut => "battery is in",
        Guard::EncodingProved => {
            room.interlock.encoding(false);
            "writes numbers is not known"
        }
    };
    (room, why)
}

fn not_channels(event: &LinkEvent) -> bool {
    !matches!(event, LinkEvent::Channels { .. })
}

/// Whether a door asks for it of everybody, printed or not.
fn always(guard: &Guard) -> bool {
    matches!(guard, Guard::Disarmed | Guard::OutputsAtRest | Guard::EncodingProved)
}

/// A craft on which it holds.
fn kept(guard: &Guard) -> Room {
    let mut room = if matches!(guard, Guard::BatteryOut) { Room::unplugged() } else { Room::met() };
    room.interlock.attest_antenna();
    room
}

fn says(fault: &Fault, why: &str) -> bool {
    why.split('|').any(|why| fault.to_string().contains(why))
}

fn refused(result: Result<(), Fault>, why: &str, what: &Guard) {
    let fault = result.expect_err(&format!("{what:?} blocked nothing"));
    assert!(says(&fault, why), "{what:?}: {fault}");
}

#[test]
fn every_printed_guard_blocks_and_passes_at_the_door_of_a_change() {
    for guard in all() {
        let (mut room, why) = broken(&guard);
        refused(room.changes(std::slice::from_ref(&guard)), why, &guard);
        // It is this guard that blocked, or one that every change meets.
        let others: Vec<Guard> = vec![];
        match room.changes(&others) {
            Ok(()) => assert!(!always(&guard), "{guard:?}"),
            Err(fault) => assert!(always(&guard) && says(&fault, why), "{guard:?}: {fault}"),
        }
        let mut room = kept(&guard);
        let ok = confirmed(&one_motor(), room.now);
        let change = ChangeStep { guards: std::slice::from_ref(&guard), ..ChangeStep::default() };
        let entered = room.interlock.enter_change(change, Some(&ok)).map(|_| ());
        assert_eq!(entered, Ok(()), "{guard:?}");
    }
}

#[test]
fn every_printed_guard_blocks_and_passes_at_the_door_of_a_start() {
    for guard in all() {
        // A start is nothing without its answer.
        if matches!(guard, Guard::Confirmed) {
            continue;
        }
        let (mut room, why) = broken(&guard);
        let mut ok = confirmed(&one_motor(), room.now);
        let entered = room.interlock.enter_drive(&mut ok, std::slice::from_ref(&guard), Breaks::default());
        refused(entered.map(|_| ()), why, &guard);
        let mut room = kept(&guard);
        let mut ok = confirmed(&step(Motors::All), room.now);
        let entered = room.interlock.enter_drive(&mut ok, std::slice::from_ref(&guard), Breaks::default());
        assert_eq!(entered.map(|_| ()), Ok(()), "{guard:?}");
        assert_eq!(room.interlock.phase(), Phase::Invited);
    }
}

#[test]
fn a_start_takes_an_answer_of_the_last_ten_seconds_once() {
    let late = |ms: u64| {
        let mut room = Room::met();
        let mut ok = confirmed(&step(Motors::All), room.now);
        room.says(RESTING, ms).unwrap();
        room.answers(ID);
        let first = room.interlock.enter_drive(&mut ok, &[], Breaks::default()).map(|_| ());
        (first, room, ok)
    };
    assert_eq!(late(10_020).0, Err(Fault::StaleAnswer));
    let (first, mut room, mut ok) = late(9980);
    assert_eq!(first, Ok(()));
    let again = room.interlock.enter_drive(&mut ok, &[], Breaks::default());
    assert_eq!(again.map(|_| ()), Err(Fault::StaleAnswer));
}

/// A change that was confirmed begins within the same ten seconds.
#[test]
fn a_change_takes_an_answer_of_the_last_ten_seconds() {
    let late = |ms: u64| {
        let mut room = Room::met();
        let ok = confirmed(&step(Motors::None), room.now);
        room.says(RESTING, ms).unwrap();
        room.answers(ID);
        room.interlock.enter_change(ChangeStep { turns_motors: true, ..ChangeStep::default() }, Some(&ok)).map(|_| ())
    };
    assert_eq!(late(10_000), Ok(()));
    assert_eq!(late(10_020), Err(Fault::StaleAnswer));
}

#[test]
fn every_guard_of_worked_switches_blocks_and_passes() {
    for guard in all() {
        // What is printed is judged; that the battery is out is asked for, printed or not.
        let (mut room, why) = broken(&guard);
        refused(room.interlock.enter_switches(std::slice::from_ref(&guard), None), why, &guard);
    }
    let mut room = Room::met();
    refused(room.interlock.enter_switches(&[], None), "battery is in", &Guard::BatteryOut);
    let mut room = Room::unplugged();
    assert_eq!(room.interlock.enter_switches(&[], None), Ok(()));
    // Out by a word alone: only with an answer of its own, and then it may be worked.
    let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
    room.interlock.attest_battery_out();
    refused(room.interlock.enter_switches(&[], None), "nobody confirmed it", &Guard::Confirmed);
    let asked = room.interlock.switches_step("a test");
    assert_eq!(asked.by, StartedBy::WorkedSwitch);
    let ok = confirmed(&asked, room.now);
    assert_eq!(room.interlock.enter_switches(&[], Some(&ok)), Ok(()));
    assert_eq!(room.interlock.phase(), Phase::SwitchesWorked);
}

#[test]
fn every_guard_of_a_plug_in_blocks_and_passes() {
    for guard in [Guard::PropsOff, Guard::Disarmed, Guard::ThrottleLow, Guard::ArmSwitchOff] {
        let (mut room, why) = broken(&guard);
        refused(room.interlock.invite_plug_in(&[]), why, &guard);
    }
    for guard in all() {
        let (mut room, why) = broken(&guard);
        refused(room.interlock.invite_plug_in(std::slice::from_ref(&guard)), why, &guard);
    }
    assert_eq!(Room::unplugged().interlock.invite_plug_in(&[Guard::BatteryOut]), Ok(()));
}

/// A word spares the question of a change; what contradicts it takes that back.
#[test]
fn a_change_that_can_turn_motors_needs_an_answer_or_nothing_that_could_turn() {
    let change = || ChangeStep { turns_motors: true, ..ChangeStep::default() };
    let mut room = Room::met();
    refused(room.interlock.enter_change(change(), None).map(|_| ()), "nobody confirmed it", &Guard::Confirmed);
    let ok = confirmed(&one_motor(), room.now);
    assert!(room.interlock.enter_change(change(), Some(&ok)).is_ok());
    assert!(Room::unplugged().interlock.enter_change(change(), None).is_ok());
    let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
    assert!(room.interlock.enter_change(change(), None).is_err());
    room.interlock.attest_battery_out();
    assert!(room.interlock.enter_change(change(), None).is_ok());
    assert!(
        room.says(Signals { millivolts: Some(7900), ..UNTOLD }, 40).is_err(),
        "a measured pack contradicts the word"
    );
    assert!(room.interlock.enter_change(change(), None).is_err());
}

/// A battery that goes out takes the word of the propellers with it, measured or typed; one that was never in does not.
#[test]
fn the_word_of_the_propellers_goes_with_a_battery_that_was_in() {
    let unmeasured = || Room::at_rest(&PortInfo::default(), ID, UNTOLD);
    let mut room = unmeasured();
    room.interlock.attest_battery_out();
    assert!(room.interlock.props_off(), "nothing was in");

    let mut room = unmeasured();
    room.interlock.attest_battery_in();
    room.interlock.attest_battery_out();
    assert!(!room.interlock.props_off(), "typed in, then out");

    let mut room = Room::met();
    let _stopped = room.says(UNTOLD, 2500);
    room.interlock.attest_battery_out();
    assert!(!room.interlock.props_off(), "measured in, then told no more");

    let mut room = unmeasured();
    room.interlock.latch();
    room.interlock.attest_battery_out();
    assert!(!room.interlock.props_off(), "it may have been in when something stopped");

    let mut room = Room::met();
    assert_eq!(room.judged(UNPLUGGED, 0, 2000), Ok(()));
    assert!(!room.interlock.props_off(), "measured out");
}

/// `interlock.md`, 1: a sequence only raises doubt. It blocks at rest, stops what turns, takes no authority, and ends with
/// the same answer.
#[test]
fn frames_whose_numbers_jump_leave_doubt_and_no_more() {
    let mut room = Room::met();
    room.interlock.hear(&LinkEvent::Leapt);
    let why = room.changes(&[]).unwrap_err().to_string();
    assert!(why.contains("numbers of the board's frames jumped"), "{why}");
    assert_eq!(room.interlock.authority(), Authority::Disarm);
    room.says(RESTING, 100).unwrap();
    assert!(room.changes(&[]).is_err(), "frames alone do not end it");
    room.answers(ID);
    room.changes(&[]).unwrap();
    let mut room = Room::turning(&step(Motors::All), Breaks::default());
    room.says(IDLING, 500).unwrap();
    room.interlock.hear(&LinkEvent::Leapt);
    let reason = room.says(IDLING, 20).unwrap_err();
    assert!(reason.contains("numbers of the board's frames jumped"), "{reason}");
    // A board that restarts as it was told to counts from nothing.
    let mut room = Room::in_phase(Phase::Restarting);
    room.interlock.hear(&LinkEvent::Leapt);
    assert!(room.interlock.is_sure());
}
