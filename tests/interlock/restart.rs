//! What shows that a board has restarted, and what does not.

use super::room::{ID, RESTING, Room, Signals, UNTOLD, facts, heard, identity};
use crate::spy::finch_c_without_banner;
use quadjig::board::sheet::Sheet;
use quadjig::board::shipped;
use quadjig::board::signals::{LinkEvent, Outgoing};
use quadjig::interlock::RestartSeen;
use quadjig::seam::PortInfo;
use quadjig::seam::ui::About;
use std::rc::Rc;
use std::time::Duration;

const OTHER: &str = "76697274000000ff";

/// A console's board at rest, told to restart on a wire that stays.
fn told_to_restart(sheet: Sheet) -> Room {
    let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
    room.interlock.take_in(&identity(ID), &Rc::new(sheet), facts());
    room.types(About::BatteryOut);
    room.restarts();
    room
}

/// It is asked every so many milliseconds for so long, and says nothing.
fn unanswered(room: &mut Room, every_ms: u64, for_ms: u64) {
    for _ in 0..for_ms / every_ms {
        room.interlock.asks(&Outgoing::Presence);
        assert_eq!(room.silent(every_ms), Ok(()));
    }
}

/// Then this id answers.
fn ends(mut room: Room, id: &str) -> Option<RestartSeen> {
    room.interlock.expects_anew();
    room.answers(id);
    room.interlock.restart_ends()
}

#[test]
fn a_silence_while_it_was_asked_shows_a_restart_of_a_board_with_nothing_better() {
    let silent = |every_ms, for_ms| {
        let mut room = told_to_restart(finch_c_without_banner());
        unanswered(&mut room, every_ms, for_ms);
        room
    };
    assert_eq!(ends(silent(100, 1000), ID), Some(RestartSeen::Silence));
    assert_eq!(ends(silent(100, 1000), OTHER), None, "another craft");
    assert_eq!(ends(silent(100, 900), ID), None, "too short");
    assert_eq!(ends(silent(700, 1400), ID), None, "two questions may have been lost");

    let mut asleep = told_to_restart(finch_c_without_banner());
    assert_eq!(asleep.silent(1500), Ok(()));
    assert_eq!(ends(asleep, ID), None, "nobody asked");

    let mut answered = silent(100, 700);
    let now = answered.now;
    assert_eq!(answered.hears(now, &heard(UNTOLD)), Ok(()));
    unanswered(&mut answered, 100, 700);
    assert_eq!(ends(answered, ID), None, "it answered in between");
}

/// One whose answers take their time is away only once it is silent for longer than that.
#[test]
fn a_slow_answer_is_no_silence() {
    let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
    room.interlock.take_in(&identity(ID), &Rc::new(finch_c_without_banner()), facts());
    room.types(About::BatteryOut);
    room.interlock.asks(&Outgoing::Identify);
    assert_eq!(room.says(UNTOLD, 1200), Ok(()));
    room.interlock.hear(&LinkEvent::Identity(identity(ID)));
    room.restarts();
    unanswered(&mut room, 100, 1400);
    assert_eq!(ends(room, ID), None);
}

#[test]
fn a_board_that_has_a_banner_shows_a_restart_by_it_and_not_by_silence() {
    let sheet = || shipped::sheet("finch-c").unwrap().unwrap();
    let mut room = told_to_restart(sheet());
    unanswered(&mut room, 100, 2000);
    assert_eq!(ends(room, ID), None);
    let mut room = told_to_restart(sheet());
    room.interlock.hear(&LinkEvent::Banner);
    assert_eq!(ends(room, ID), Some(RestartSeen::Banner));
}

/// An adapter that was plugged in anew, or a bridge that dropped its connection: the wire went, and the board did not.
#[test]
fn a_wire_that_went_shows_no_restart_of_a_board_whose_clock_ran_on() {
    let attitude = |ms| LinkEvent::Attitude { roll: 0.0, pitch: 0.0, yaw: 0.0, board_time: Some(ms) };
    for (runs_ms, shown) in [(1200, Some(RestartSeen::Wire)), (61_500, None)] {
        let mut room = Room::at_rest(&PortInfo::default(), ID, RESTING);
        room.restarts();
        room.interlock.lost();
        let _waits = room.silent(1000);
        room.interlock.opened(&PortInfo::default());
        room.answers(ID);
        let told = [heard(RESTING).as_slice(), &[attitude(runs_ms)]].concat();
        assert_eq!(room.hears(room.now + Duration::from_millis(20), &told), Ok(()));
        assert_eq!(room.interlock.restart_is_seen(), shown.is_some(), "{runs_ms} ms");
        assert_eq!(room.interlock.restart_ends(), shown, "{runs_ms} ms");
    }
}

/// Without having been told to, it is another craft, or one of which nothing is known any more.
#[test]
fn a_banner_that_nobody_asked_for_ends_the_contact() {
    let mut room = Room::met();
    room.interlock.hear(&LinkEvent::Banner);
    assert_eq!(room.interlock.who(), None);
    assert!(!room.interlock.props_off());
}

/// A clock that was set back after it was told to restart has run for longer than since then: it started with nothing.
#[test]
fn a_clock_shows_a_restart_by_having_run_for_no_longer_than_since_it_was_told() {
    for (runs_ms, shown) in [(40, Some(RestartSeen::Clock)), (900, None), (40_000, None)] {
        let mut room = Room::at_rest(&PortInfo::default(), ID, RESTING);
        let outputs = |room: &mut Room, board_ms: u64| {
            let mut all = heard(RESTING).to_vec();
            all.push(LinkEvent::Outputs { pulses: RESTING.outputs, board_time: u32::try_from(board_ms).ok() });
            let _stopped = room.hears(room.now + Duration::from_millis(20), &all);
        };
        for n in 0..50 {
            outputs(&mut room, 60_000 + n * 20);
        }
        room.answers(ID);
        outputs(&mut room, 61_000);
        room.restarts();
        for n in 0..3 {
            outputs(&mut room, runs_ms + n * 20);
        }
        assert_eq!(ends(room, ID), shown, "{runs_ms} ms");
    }
}

/// Another may have come between the answer and the first message with a clock, and a restart gave the clock free: what it
/// does makes no stop leave before it has said who it is (interlock.md, law 4).
#[test]
fn who_answered_in_a_restart_before_a_clock_was_heard_is_asked_again() {
    for (answered_by, stops) in [(None, false), (Some(OTHER), false), (Some(ID), true)] {
        let mut room = Room::at_rest(&PortInfo::default(), ID, RESTING);
        room.restarts();
        room.replugged(&PortInfo::default(), ID);
        let armed = Signals { armed: true, ..RESTING };
        let mut verdict = Ok(());
        for n in 1..=20_u32 {
            let mut all = heard(armed).to_vec();
            all.push(LinkEvent::Outputs { pulses: armed.outputs, board_time: Some(n * 20) });
            verdict = verdict.and(room.hears(room.now + Duration::from_millis(20), &all));
            if let (5, Some(id)) = (n, answered_by) {
                room.answers(id);
            }
        }
        assert_eq!(verdict.is_err(), stops, "{answered_by:?}: {verdict:?}");
    }
}
