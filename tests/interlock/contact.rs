//! What ends a contact, and with it all that was known; and what leaves doubt, in which nothing is changed.
//!
//! At each limit and past it (`interlock.md`, 1). Must not be here: who may be stopped then (see `authority`).

use super::room::{ID, RESTING, Room, adapter, confirmed, heard, step};
use quadjig::board::signals::{LinkEvent, Outgoing};
use quadjig::interlock::{Breaks, FrameVerdict, Order, Phase};
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::Motors;
use std::time::Duration;

/// What happens to a craft that was seen at rest.
type Happens = fn(&mut Room);

/// Outputs with the board's own time every 20 ms, so far behind ours, so many of them; all else as before.
fn ticks(room: &mut Room, behind_ms: u64, count: u32) {
    for _ in 0..count {
        let mut all = heard(RESTING).to_vec();
        let board_time = u32::try_from(room.now.0 / 1000 - behind_ms).ok();
        all.push(LinkEvent::Outputs { pulses: RESTING.outputs, board_time });
        let _stopped = room.hears(room.now + Duration::from_millis(20), &all);
    }
}

/// This program did not run for so long.
fn stands_still(room: &mut Room, for_ms: u64) {
    let due = room.now;
    room.now = due + Duration::from_millis(for_ms);
    room.interlock.wakes(room.now, due);
    room.interlock.judge();
}

#[test]
fn what_ends_a_contact_ends_all_that_was_said_in_it() {
    let over: [(&str, Happens); 5] = [
        ("another id", |room| room.answers("76697274000000ff")),
        ("a clock that started anew", |room| {
            ticks(room, 0, 50);
            ticks(room, 90_000, 2);
        }),
        ("a gap of our own over 2 s", |room| stands_still(room, 2020)),
        ("10 s of silence", |room| {
            let _blocked = room.silent(10_020);
        }),
        ("a wire that is lost", |room| room.interlock.lost()),
    ];
    for (what, happens) in over {
        let mut room = Room::at_rest(&adapter(), ID, RESTING);
        assert!(room.interlock.props_off());
        happens(&mut room);
        assert_eq!(room.interlock.who(), None, "{what}");
        assert!(!room.interlock.props_off(), "{what}");
        assert_eq!(room.interlock.phase(), Phase::NoContact, "{what}");
    }
}

#[test]
fn what_is_less_than_that_leaves_what_was_said() {
    let stays: [(&str, Happens); 5] = [
        ("the same id", |room| room.answers(ID)),
        ("a clock that runs on", |room| ticks(room, 0, 50)),
        ("one message off", |room| {
            ticks(room, 0, 50);
            ticks(room, 90_000, 1);
        }),
        ("a gap of our own of 2 s", |room| stands_still(room, 2000)),
        ("a silence under 10 s", |room| {
            let _blocked = room.silent(9980);
        }),
    ];
    for (what, happens) in stays {
        let mut room = Room::at_rest(&adapter(), ID, RESTING);
        happens(&mut room);
        assert!(room.interlock.who().is_some() && room.interlock.props_off(), "{what}");
    }
}

/// Its streams are asked for once it has answered, and another may be on the wire by the time that they come.
#[test]
fn whose_the_first_clock_is_has_to_be_answered_after_it() {
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    room.changes(&[]).unwrap();
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    ticks(&mut room, 0, 50);
    assert!(room.changes(&[]).is_err(), "a clock that runs on does not tell whose it is");
    room.answers(ID);
    ticks(&mut room, 0, 50);
    room.changes(&[]).unwrap();
}

/// As another's would be that came between two frames and whose clock is behind; or its own, on a link that became slow.
#[test]
fn who_has_long_been_late_has_to_answer() {
    for (behind, ms, doubtful) in [(400, 260, false), (400, 280, true), (200, 2000, false)] {
        let mut room = Room::at_rest(&adapter(), ID, RESTING);
        ticks(&mut room, 0, 50);
        room.answers(ID);
        ticks(&mut room, 0, 1);
        ticks(&mut room, behind, ms / 20);
        assert_eq!(room.changes(&[]).is_err(), doubtful, "{behind} ms behind for {ms} ms");
        room.answers(ID);
        ticks(&mut room, behind, 5);
        room.changes(&[]).unwrap();
    }
}

/// What is heard afterwards looks well; but who says it was not asked since.
#[test]
fn in_doubt_nothing_is_changed_or_started_until_the_same_has_answered() {
    let doubts: [(&str, Happens); 3] = [
        ("a gap of our own", |room| stands_still(room, 300)),
        ("a clock that leapt once", |room| {
            ticks(room, 0, 50);
            ticks(room, 90_000, 1);
        }),
        ("a flag that was late", |room| {
            let _blocked = room.silent(700);
        }),
    ];
    for (what, happens) in doubts {
        let mut room = Room::at_rest(&adapter(), ID, RESTING);
        happens(&mut room);
        room.says(RESTING, 1500).unwrap();
        assert!(room.changes(&[]).is_err(), "{what}: a door opened");
        let mut ok = confirmed(&step(Motors::All), room.now);
        assert!(room.interlock.enter_drive(&mut ok, &[], Breaks::default()).is_err(), "{what}: a start was entered");
        room.answers(ID);
        room.says(RESTING, 20).unwrap();
        assert_eq!(room.interlock.may_drive(&ok, &[], Breaks::default()), Ok(()), "{what}");
        room.changes(&[]).unwrap_or_else(|fault| panic!("{what}: {fault}"));
        for frame in [Outgoing::Store, Outgoing::Restart] {
            assert!(matches!(room.interlock.judge_frame(&frame), FrameVerdict::Leaves(_)), "{what}: {frame:?}");
        }
        // The door is open, and the doubt comes after it.
        happens(&mut room);
        room.says(RESTING, 1500).unwrap();
        for frame in [Outgoing::Store, Outgoing::Restart] {
            assert_eq!(room.interlock.judge_frame(&frame), FrameVerdict::Waits, "{what}: {frame:?}");
        }
    }
}

/// Whoever speaks from another address may be another; what was announced goes on.
#[test]
fn another_peer_ends_the_contact_and_no_announced_restart() {
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    room.interlock.is_at_another_peer();
    assert_eq!(room.interlock.who(), None);
    assert!(!room.interlock.props_off());
    let ends = |order: &Order| matches!(order, Order::Ends(Fault::ContactOver(why)) if why.contains("another address"));
    assert!(room.interlock.orders().iter().any(ends));
    // Nobody was met: there is nothing to end.
    let mut room = Room::open(&adapter());
    room.interlock.is_at_another_peer();
    assert!(!room.interlock.orders().iter().any(|order| matches!(order, Order::Ends(_))));
    // A board that starts anew may speak from another port: its clock shows that it did, and its id that it is the same.
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    ticks(&mut room, 0, 50);
    room.answers(ID);
    ticks(&mut room, 0, 1);
    room.restarts();
    room.interlock.asks(&Outgoing::Restart);
    let _silent = room.silent(2500);
    assert!(!room.interlock.is_at_another_peer());
    assert!(!room.interlock.orders().iter().any(|order| matches!(order, Order::Ends(_))));
    let ran = room.now.0 / 1000 - 500;
    ticks(&mut room, ran, 5);
    room.answers(ID);
    assert!(room.interlock.restart_is_seen() && room.interlock.who().is_some() && room.interlock.props_off());
}
