//! Which version of frames leaves.

use super::golden::VERSION_1;
use super::kit::{InteractiveSession, heartbeat, hex, version};
use mavlink::dialects::common::{MavMessage, MavProtocolCapability};
use mavlink::{MAVLinkV1MessageRaw, MavHeader};
use quadjig::board::mavlink::{FrameClass, classify, decode, frames};
use quadjig::board::signals::{Link, Request};

/// Made by PY in version 1: a disarm and a list of settings, 255/25 to 1/1, sequence 0.
const DISARM: &str = "fe2100ff194c000000000000000000000000000000000000000000000000000000009001010100b091";
const LIST: &str = "fe0200ff1915010161ed";

fn first(message: &MavMessage) -> Vec<u8> {
    let mut raw = MAVLinkV1MessageRaw::new();
    raw.serialize_message(MavHeader { system_id: 1, component_id: 1, sequence: 0 }, message);
    raw.raw_bytes().to_vec()
}

fn sent(desk: &mut InteractiveSession) -> Vec<u8> {
    desk.out.clear();
    desk.send(9, Request::Heartbeat);
    frames(&desk.out).iter().map(|frame| decode(frame).unwrap().version).collect()
}

#[test]
fn a_board_that_only_sends_the_first_is_answered_in_it() {
    let mut desk = InteractiveSession::new();
    assert_eq!(sent(&mut desk), [2], "before a board is heard, the second: it may switch to it (DG)");
    let mut desk = InteractiveSession::new();
    desk.bytes(&hex(VERSION_1));
    desk.send(1, Request::ListSettings);
    assert_eq!(desk.out, hex(LIST), "as the reference library makes it");
    let mut desk = InteractiveSession::new();
    desk.bytes(&hex(VERSION_1));
    let stop = desk.link.stop_bytes(false).unwrap();
    assert_eq!(frames(&stop)[0], hex(DISARM), "as the reference library makes it");
    assert!(frames(&stop).into_iter().all(|frame| classify(frame) == Some(FrameClass::Stop)));
    let shown = desk.link.preview(&Request::Store).unwrap();
    assert_eq!(decode(&shown).unwrap().version, 1);
}

#[test]
fn one_frame_of_the_second_switches_for_good() {
    let mut desk = InteractiveSession::new();
    desk.bytes(&first(&heartbeat(false)));
    assert_eq!(sent(&mut desk), [1]);
    desk.board(&heartbeat(false));
    assert_eq!(sent(&mut desk), [2]);
    desk.bytes(&first(&heartbeat(false)));
    assert_eq!(sent(&mut desk), [2]);
    // Not one of somebody else.
    let mut desk = InteractiveSession::new();
    desk.bytes(&first(&heartbeat(false)));
    desk.bytes(&super::kit::frame((2, 1), 0, &heartbeat(false)));
    assert_eq!(sent(&mut desk), [1]);
}

#[test]
fn so_does_a_board_that_says_it_can() {
    // DG: MAV_PROTOCOL_CAPABILITY_MAVLINK2 in AUTOPILOT_VERSION, though that came in version 1.
    for (says, then) in [
        (MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_MAVLINK2, 2),
        (MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_BYTEWISE, 1),
    ] {
        let mut desk = InteractiveSession::new();
        desk.bytes(&first(&heartbeat(false)));
        desk.bytes(&first(&version(1, says)));
        assert_eq!(sent(&mut desk), [then]);
    }
}
