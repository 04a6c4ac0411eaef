//! Who is bound, and who else is on the wire.

use super::kit::{InteractiveSession, raw_frame};
use quadjig::board::mavlink::{MavlinkLink, TELL_EVERY};
use quadjig::board::signals::{Link, LinkEvent, Request};
use std::time::Duration;

/// A heartbeat: type, autopilot, base mode (minimal.xml).
fn beat(from: (u8, u8), kind: u8, autopilot: u8) -> Vec<u8> {
    raw_frame(from, 0, 0, &[0, 0, 0, 0, kind, autopilot, 0, 4, 3], 50)
}

fn stranger(from: (u8, u8), commands: bool) -> LinkEvent {
    LinkEvent::Stranger { system: from.0, component: from.1, commands }
}

/// Another vehicle than the bound 1/1.
fn rival(sender: (u8, u8)) -> LinkEvent {
    LinkEvent::Rival { sender, bound: (1, 1) }
}

const COMMAND_LONG: (u32, u8) = (76, 152);

#[test]
fn only_an_autopilot_is_a_vehicle() {
    let mut desk = InteractiveSession::new();
    // A ground station, a camera (type 30, autopilot invalid), ids that mean everybody.
    for bytes in
        [beat((255, 190), 6, 8), beat((1, 100), 30, 8), beat((7, 1), 6, 0), beat((0, 1), 2, 0), beat((1, 0), 2, 0)]
    {
        desk.bytes(&bytes);
    }
    assert_eq!(desk.link.bound(), None);
    assert_eq!(desk.link.stop_bytes(false), None);
    assert!(!desk.heard.iter().any(|heard| matches!(heard, LinkEvent::Alive { .. })));
    desk.bytes(&beat((1, 1), 2, 0));
    assert_eq!(desk.link.bound(), Some((1, 1)));
}

#[test]
fn the_first_vehicle_is_bound_and_another_is_a_stranger() {
    let mut desk = InteractiveSession::bound();
    desk.bytes(&beat((2, 1), 2, 0));
    assert_eq!(desk.heard, [rival((2, 1)), stranger((2, 1), false)]);
    assert_eq!(desk.link.bound(), Some((1, 1)));
    // Its signals are not ours.
    desk.heard.clear();
    desk.bytes(&raw_frame((2, 1), 1, 30, &[0; 28], 39));
    assert!(desk.heard.is_empty());
}

#[test]
fn a_chosen_vehicle_is_waited_for() {
    let mut desk = InteractiveSession::new();
    desk.link = MavlinkLink::new(Some(2));
    desk.bytes(&beat((1, 1), 2, 0));
    assert_eq!(desk.heard, [stranger((1, 1), false)]);
    desk.bytes(&beat((2, 1), 2, 0));
    assert_eq!(desk.link.bound(), Some((2, 1)));
    desk.send(1, Request::Disarm { force: false });
    let messages = desk.sent();
    assert_eq!(mavlink::Message::target_system_id(&messages[0]), Some(2));
}

#[test]
fn vehicles_are_told_apart_by_system_and_component() {
    let mut desk = InteractiveSession::bound();
    // Neither a companion without an autopilot nor a ground station is a vehicle.
    for bytes in [beat((1, 191), 18, 8), beat((254, 1), 6, 0)] {
        desk.bytes(&bytes);
    }
    assert!(!desk.heard.iter().any(|heard| matches!(heard, LinkEvent::Rival { .. })));
    desk.heard.clear();
    for _ in 0..3 {
        desk.bytes(&beat((1, 2), 2, 0));
    }
    assert_eq!(desk.heard, [rival((1, 2))]);
    // Whoever was chosen is not in doubt because of others.
    let mut desk = InteractiveSession::new();
    desk.link = MavlinkLink::new(Some(1));
    desk.bytes(&beat((1, 1), 2, 0));
    desk.bytes(&beat((2, 1), 2, 0));
    assert!(!desk.heard.iter().any(|heard| matches!(heard, LinkEvent::Rival { .. })));
}

#[test]
fn a_stranger_is_told_once_an_interval() {
    let mut desk = InteractiveSession::bound();
    for _ in 0..10 {
        desk.bytes(&beat((2, 1), 2, 0));
    }
    assert_eq!(desk.heard, [rival((2, 1)), stranger((2, 1), false)]);
    desk.now = desk.now + TELL_EVERY;
    desk.bytes(&beat((2, 1), 2, 0));
    assert_eq!(desk.heard[2..], [stranger((2, 1), false)]);
}

#[test]
fn a_station_that_commands_is_told_at_once() {
    // COMMAND_LONG, COMMAND_INT, PARAM_SET, MANUAL_CONTROL, RC_CHANNELS_OVERRIDE, SET_MODE (CM; seeds of the checksum
    // by its rule, from the crate that generates them from CM).
    for id in [76, 75, 23, 69, 70, 11] {
        let extra = <mavlink::dialects::common::MavMessage as mavlink::Message>::extra_crc(id);
        let mut desk = InteractiveSession::bound();
        desk.bytes(&beat((255, 190), 6, 8));
        desk.bytes(&raw_frame((255, 190), 1, id, &[1; 11], extra));
        desk.now = desk.now + Duration::from_millis(1);
        desk.bytes(&raw_frame((255, 190), 2, id, &[1; 11], extra));
        assert_eq!(desk.heard, [stranger((255, 190), false), stranger((255, 190), true)], "message {id}");
    }
}

#[test]
fn a_companion_of_the_boards_own_system_counts_when_it_commands() {
    let mut desk = InteractiveSession::bound();
    desk.bytes(&beat((1, 191), 18, 8));
    assert!(desk.heard.is_empty());
    desk.bytes(&raw_frame((1, 191), 1, COMMAND_LONG.0, &[1; 33], COMMAND_LONG.1));
    assert_eq!(desk.heard, [stranger((1, 191), true)]);
}

#[test]
fn our_own_id_on_the_wire_is_a_stranger_too() {
    let mut desk = InteractiveSession::bound();
    desk.bytes(&raw_frame((255, 25), 1, COMMAND_LONG.0, &[1; 33], COMMAND_LONG.1));
    assert_eq!(desk.heard, [stranger((255, 25), true)]);
}
