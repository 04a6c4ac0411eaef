//! A stop that is left before anything was seen at rest: what holds its bytes goes on by itself, and is told no release.

use super::room::{ID, IDLING, RESTING, Room, Signals, UNTOLD, adapter, heard, own_usb, step};
use quadjig::board::signals::LinkEvent;
use quadjig::interlock::{Authority, Breaks, Order, Phase};
use quadjig::seam::PortInfo;
use quadjig::seam::fault::Fault;
use quadjig::seam::guardian::GuardianEvent;
use quadjig::seam::ui::{Motors, UiEvent};
use std::time::Duration;

/// From when on a second Ctrl-C leaves it.
const AFTER: Duration = Duration::from_secs(3);

/// Motors turn by the switch, a guardian holds, and a key has stopped; the board goes on saying this for so long.
fn stopping(port: &PortInfo, says: Signals, for_ms: u64) -> Room {
    let mut room = Room::at_rest(&PortInfo { guarded: true, ..port.clone() }, ID, RESTING);
    room.starts(&step(Motors::All), Breaks::default());
    holds(&mut room);
    room.says(IDLING, 500).unwrap();
    room.interlock.stop("a test");
    room.says(says, for_ms).unwrap_err();
    room
}

/// As the session does it: the guardian is prepared, renewed, and acknowledges.
fn holds(room: &mut Room) {
    let now = room.now;
    let guardian = room.interlock.guardian();
    guardian.prepare(now, vec![b"STOP".to_vec()]);
    guardian.renew(now);
    guardian.hear(GuardianEvent::Held(1));
}

/// What is ordered while the board says this.
fn orders(room: &mut Room, says: Option<Signals>, for_ms: u64) -> Vec<Order> {
    let said: Vec<_> = says.iter().flat_map(|says| heard(*says)).collect();
    orders_on(room, &said, for_ms)
}

fn orders_on(room: &mut Room, heard: &[LinkEvent], for_ms: u64) -> Vec<Order> {
    let (from, mut all) = (room.now, Vec::new());
    for ms in (20..=for_ms).step_by(20) {
        room.now = from + Duration::from_millis(ms);
        room.interlock.wakes(room.now, room.now);
        for event in heard {
            room.interlock.hear(event);
        }
        room.interlock.judge();
        all.extend(room.interlock.orders());
    }
    all
}

fn released(orders: &[Order]) -> bool {
    orders.iter().any(|order| matches!(order, Order::Release))
}

fn said(orders: &[Order], words: &str) -> bool {
    orders.iter().any(|order| matches!(order, Order::Say(UiEvent::Line(_, text)) if text.contains(words)))
}

#[test]
fn leaving_it_while_motors_are_driven_releases_nothing() {
    for (port, seconds) in [(adapter(), 3), (own_usb(), 10)] {
        let mut room = stopping(&port, IDLING, 3500);
        assert!(room.interlock.leaves_stop(AFTER));
        assert_eq!(room.interlock.phase(), Phase::Latched);
        room.interlock.judge_hold();
        let told = room.interlock.orders();
        assert!(!released(&told), "{told:?}");
        assert!(told.iter().any(|order| matches!(order, Order::Say(UiEvent::PullTheBattery))), "{told:?}");
        let words = format!("goes on sending the stop for {seconds} s");
        assert!(said(&told, &words), "{words}: {told:?}");
        assert!(told.iter().any(|o| matches!(o, Order::Ends(Fault::Stopped { confirmed: false, .. }))), "{told:?}");
        // It is not renewed either: so it fires.
        let told = orders(&mut room, Some(IDLING), seconds * 1000 - 40);
        assert!(!told.iter().any(|order| matches!(order, Order::Hold | Order::Release)), "{told:?}");
        let told = orders(&mut room, Some(IDLING), 100);
        assert!(released(&told), "after its time it is over: {told:?}");
    }
}

/// The same where the program gives it up by itself after its time: nothing is driven, and a motor turns all the same.
#[test]
fn giving_it_up_with_a_motor_that_turns_releases_nothing() {
    let mut room = stopping(&own_usb(), IDLING, 3500);
    let speeds = LinkEvent::Speeds { first: 0, rpm: [900, 0, 0, 0], count: 4 };
    let turns: Vec<_> = heard(RESTING).into_iter().chain([speeds]).collect();
    let mut told = Vec::new();
    while room.interlock.phase() == Phase::Stopping {
        told.extend(orders_on(&mut room, &turns, 20));
    }
    assert!(said(&told, "goes on sending the stop for 10 s") && !released(&told));
    assert!(!released(&orders_on(&mut room, &turns, 9_900)), "not before its time");
}

/// Where it gives up because nobody is heard any more, another craft may be there, and nothing leaves either.
#[test]
fn giving_it_up_in_silence_leaves_nothing_to_a_guardian() {
    let mut room = stopping(&own_usb(), IDLING, 3500);
    room.interlock.terminal_is_gone();
    let mut told = Vec::new();
    while room.interlock.phase() == Phase::Stopping {
        told.extend(orders(&mut room, None, 20));
    }
    assert_eq!(room.interlock.authority(), Authority::Nothing);
    assert!(released(&told) && !said(&told, "goes on sending"));
}

#[test]
fn once_the_craft_is_seen_at_rest_it_is_released() {
    let mut room = stopping(&adapter(), IDLING, 3500);
    assert!(room.interlock.leaves_stop(AFTER));
    let told = orders(&mut room, Some(IDLING), 300);
    assert!(!released(&told), "{told:?}");
    room.interlock.guardian().hear(GuardianEvent::Fired);
    assert!(room.interlock.is_left_to_its_guardian(), "it fires as it is meant to");
    let told = orders(&mut room, Some(RESTING), 900);
    assert!(!released(&told), "not at rest for a second yet: {told:?}");
    let told = orders(&mut room, Some(RESTING), 1500);
    assert!(released(&told), "{told:?}");
}

/// Everything at rest, and only the arm switch still on: there is nothing to go on with.
#[test]
fn a_switch_left_on_at_rest_leaves_nothing_to_a_guardian() {
    let still_on = Signals { switch: 2000, ..RESTING };
    let mut room = stopping(&adapter(), still_on, 3500);
    assert!(room.interlock.leaves_stop(AFTER));
    room.interlock.judge_hold();
    let told = room.interlock.orders();
    assert!(released(&told) && !said(&told, "goes on sending"), "{told:?}");
}

/// Section 2 stands above it: what nobody may stop is stopped by no guardian either.
#[test]
fn without_authority_it_is_released_whatever_was_seen() {
    let mut room = stopping(&adapter(), IDLING, 3500);
    let told = orders(&mut room, None, 3200);
    assert_eq!(room.interlock.authority(), Authority::Nothing);
    assert!(released(&told), "another craft may be there: {told:?}");
    assert!(room.interlock.leaves_stop(AFTER));
    let told = room.interlock.orders();
    assert!(!said(&told, "goes on sending"), "{told:?}");
    // And one that was left to it is taken back as soon as somebody else may speak.
    let mut room = stopping(&own_usb(), IDLING, 3500);
    assert!(room.interlock.leaves_stop(AFTER));
    let told = orders(&mut room, None, 4000);
    assert!(!released(&told), "{told:?}");
    let told = orders(&mut room, Some(IDLING), 40);
    assert!(released(&told), "frames of nobody knows whom: {told:?}");
}

/// A stop on a wire inside this process has no guardian to speak of.
#[test]
fn without_a_guardian_none_is_promised() {
    let mut room = Room::at_rest(&adapter(), ID, UNTOLD);
    room.starts(&step(Motors::All), Breaks::default());
    room.says(IDLING, 500).unwrap();
    room.interlock.stop("a test");
    room.says(IDLING, 3500).unwrap_err();
    assert!(room.interlock.leaves_stop(AFTER));
    assert!(!said(&room.interlock.orders(), "guardian"));
}
