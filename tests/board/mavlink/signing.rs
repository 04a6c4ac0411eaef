//! Signed frames, held against the reference library and the message crate's own signing.

use super::kit::{InteractiveSession, frame, heartbeat, hex, message};
use mavlink::dialects::common::MavMessage;
use mavlink::{MAVLinkV2MessageRaw, MavHeader};
use quadjig::board::mavlink::signing::{BEHIND, Key, KeyError, Untrusted, timestamp};
use quadjig::board::mavlink::{FrameClass, MavlinkLink, TELL_EVERY, classify, decode, frames};
use quadjig::board::signals::{Done, Link, LinkEvent, Request};
use quadjig::measure::time::Time;
use std::time::Duration;

/// Made by PY: key 00 01 … 1f, 1/1, link 0, timestamp 0x0123456789ab.
const BEAT: &str = "fd090100070101000000040302010200400303b1e800ab8967452301f17bd74eb6e4";
/// Timestamp of the two that follow.
const STAMP: u64 = 0x0001_0203_0405;
/// Made by PY: the same key, 255/25, link 0, sequence 0: a disarm of 1/1, and a ground station's heartbeat.
const DISARM: &str = "fd20010000ff194c00000000000000000000000000000000000000000000000000000000000090010101589700050403020100a8c7bccfb835";
const OURS: &str = "fd09010000ff190000000000000006080004033ce300050403020100c1ded789997d";

fn key() -> Key {
    Key::new(std::array::from_fn(|i| u8::try_from(i).unwrap()))
}

/// A frame of the board's, signed by the message crate's own means.
fn signed(key: &Key, link: u8, stamp: u64, message: &MavMessage) -> Vec<u8> {
    let mut raw = MAVLinkV2MessageRaw::new();
    raw.serialize_message_for_signing(MavHeader { system_id: 1, component_id: 1, sequence: 0 }, message);
    *raw.signature_link_id_mut() = link;
    raw.signature_timestamp_bytes_mut().copy_from_slice(&stamp.to_le_bytes()[..6]);
    let mut sum = [0; 6];
    raw.calculate_signature(&key.bytes(), &mut sum);
    raw.signature_value_mut().copy_from_slice(&sum);
    raw.raw_bytes().to_vec()
}

/// A link under the key whose clock stands at `stamp` now.
fn desk(stamp: u64) -> InteractiveSession {
    let mut desk = InteractiveSession::new();
    desk.link = MavlinkLink::signed(None, key(), stamp - desk.now.0 / 10);
    desk
}

/// Timestamps of the signed frames in some bytes, by link; the last 13 bytes are link, timestamp, signature (DG).
fn stamps(bytes: &[u8]) -> Vec<(u8, u64)> {
    let stamp = |frame: &[u8]| {
        assert!(decode(frame).unwrap().signed());
        let tail = &frame[frame.len() - 13..];
        (tail[0], tail[1..7].iter().rev().fold(0, |sum, byte| sum << 8 | u64::from(*byte)))
    };
    frames(bytes).into_iter().map(stamp).collect()
}

#[test]
fn a_frame_of_ours_is_as_the_reference_library_signs_it() {
    let mut desk = desk(STAMP);
    desk.send(1, Request::Heartbeat);
    assert_eq!(desk.out, hex(OURS));
    let mut desk = self::desk(STAMP);
    desk.bytes(&signed(&key(), 3, STAMP - 1, &heartbeat(false)));
    let stop = desk.link.stop_bytes(false).unwrap();
    assert_eq!(frames(&stop)[0], hex(DISARM));
    assert_eq!(classify(&stop[..hex(DISARM).len()]), Some(FrameClass::Stop), "the gate reads signed frames too");
}

#[test]
fn a_frame_of_the_reference_library_is_taken_once() {
    let mut desk = desk(0x0123_4567_89AB);
    desk.bytes(&hex(BEAT));
    assert_eq!(desk.link.bound(), Some((1, 1)));
    assert_eq!(desk.heard, [LinkEvent::Alive { vehicle: 1, armed: false }]);
    desk.heard.clear();
    desk.bytes(&hex(BEAT));
    assert_eq!(desk.heard, [LinkEvent::Untrusted { unsigned: 0, foreign: 0, old: 1 }], "sent a second time");
}

#[test]
fn without_a_key_signed_frames_are_read_as_any_other() {
    let mut desk = InteractiveSession::new();
    desk.bytes(&hex(BEAT));
    assert_eq!(desk.heard, [LinkEvent::Signed, LinkEvent::Alive { vehicle: 1, armed: false }]);
    desk.heard.clear();
    desk.now = desk.now + Duration::from_secs(1);
    desk.bytes(&hex(BEAT));
    assert_eq!(desk.heard, [LinkEvent::Alive { vehicle: 1, armed: false }]);
    desk.send(1, Request::Heartbeat);
    assert!(!decode(&desk.out).unwrap().signed());
}

#[test]
fn what_is_not_signed_or_with_another_key_goes_nowhere_and_is_counted() {
    let other = Key::new([9; 32]);
    let mut wrong = hex(BEAT);
    // One bit of the payload, with a checksum that fits it.
    wrong[14] ^= 1;
    let check = mavlink::calculate_crc(&wrong[1..19], 50);
    wrong[19..21].copy_from_slice(&check.to_le_bytes());
    let first_version = hex("fe09070101000403020102004003030811");
    let mut desk = desk(STAMP);
    for bytes in [
        frame((1, 1), 0, &heartbeat(false)),
        first_version,
        signed(&other, 0, STAMP, &heartbeat(false)),
        wrong,
        signed(&key(), 0, STAMP - BEHIND - 1, &heartbeat(false)),
    ] {
        desk.bytes(&bytes);
    }
    assert_eq!(desk.link.untrusted(), Untrusted { unsigned: 2, foreign: 2, old: 1 });
    assert_eq!(desk.link.bound(), None);
    assert_eq!(desk.link.loss(1, 1).heard, 0);
    // Told at once, then once an interval.
    assert_eq!(desk.heard, [LinkEvent::Untrusted { unsigned: 1, foreign: 0, old: 0 }]);
    desk.now = desk.now + TELL_EVERY;
    desk.bytes(&frame((1, 1), 1, &heartbeat(false)));
    assert_eq!(desk.heard[1..], [LinkEvent::Untrusted { unsigned: 3, foreign: 2, old: 1 }]);
}

#[test]
fn a_minute_behind_is_taken_and_each_link_of_a_sender_has_its_own_times() {
    // DG: a new stream is accepted unless it is more than 6 million behind; streams are by system, component, link.
    let mut desk = desk(STAMP);
    let mut armed = false;
    let mut takes = |desk: &mut InteractiveSession, link, stamp| {
        desk.heard.clear();
        armed = !armed;
        desk.bytes(&signed(&key(), link, stamp, &heartbeat(armed)));
        desk.heard.iter().any(|heard| matches!(heard, LinkEvent::Alive { .. }))
    };
    assert!(takes(&mut desk, 0, STAMP - BEHIND));
    assert!(takes(&mut desk, 0, STAMP - BEHIND + 1));
    assert!(!takes(&mut desk, 0, STAMP - BEHIND + 1));
    assert!(!takes(&mut desk, 0, STAMP - BEHIND));
    assert!(takes(&mut desk, 7, STAMP - 5));
    assert!(takes(&mut desk, 0, STAMP - 7));
}

#[test]
fn our_times_rise_with_every_frame_and_follow_the_newest_heard() {
    let mut desk = desk(STAMP);
    desk.bytes(&signed(&key(), 0, STAMP + 1000, &heartbeat(false)));
    for ticket in 0..20 {
        desk.send(ticket, Request::Heartbeat);
    }
    desk.now = desk.now + Duration::from_secs(1);
    desk.send(30, Request::Heartbeat);
    let stamps = stamps(&desk.out);
    assert_eq!(stamps[0], (0, STAMP + 1001));
    assert!(stamps.windows(2).all(|pair| pair[0].1 < pair[1].1));
    assert_eq!(stamps[20], (0, STAMP + 100_000), "one second is 100,000 units");
    // A forged time does not move them.
    desk.bytes(&signed(&Key::new([9; 32]), 0, STAMP + 9_999_999, &heartbeat(false)));
    desk.out.clear();
    desk.send(31, Request::Heartbeat);
    assert_eq!(self::stamps(&desk.out), [(0, STAMP + 100_001)]);
}

#[test]
fn a_stop_that_was_held_is_still_taken_after_later_frames() {
    // A board as the message crate makes it: per stream, only what is later.
    let config = mavlink::SigningConfig::new(key().bytes(), 0, false, false);
    let board = mavlink::SigningData::from_config(config);
    let now = timestamp(std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap());
    let mut desk = desk(now);
    desk.bytes(&signed(&key(), 0, now, &heartbeat(false)));
    let held = desk.link.held_stop_bytes().unwrap();
    desk.now = desk.now + Duration::from_millis(200);
    desk.send(1, Request::Heartbeat);
    let takes = |bytes: &[u8]| {
        let mut reader = mavlink::MavlinkReader::new(bytes);
        let Ok(mavlink::MAVLinkMessageRaw::V2(raw)) = reader.read_any_raw_message::<MavMessage>() else {
            panic!("not a frame of version 2")
        };
        board.verify_signature(&raw)
    };
    assert!(takes(&desk.out));
    assert!(frames(&held).into_iter().all(takes), "a number of its own for what is held");
    assert!(stamps(&held).iter().all(|(link, _)| *link == 1));
}

/// A guardian has no key: each of its stops is made beforehand, is taken once, and still after everything that the
/// program itself sent or held since.
#[test]
fn stops_made_for_a_guardian_are_each_taken_in_their_order() {
    let config = mavlink::SigningConfig::new(key().bytes(), 0, false, false);
    let board = mavlink::SigningData::from_config(config);
    let now = timestamp(std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap());
    let mut desk = desk(now);
    desk.bytes(&signed(&key(), 0, now, &heartbeat(false)));
    let takes = |bytes: &[u8]| {
        let mut reader = mavlink::MavlinkReader::new(bytes);
        let Ok(mavlink::MAVLinkMessageRaw::V2(raw)) = reader.read_any_raw_message::<MavMessage>() else {
            panic!("not a frame of version 2")
        };
        board.verify_signature(&raw)
    };
    let stops = desk.link.guardian_stops(150).unwrap();
    assert_eq!(stops.len(), 150);
    desk.now = desk.now + Duration::from_secs(30);
    let held = desk.link.held_stop_bytes().unwrap();
    desk.send(1, Request::Heartbeat);
    assert!(takes(&desk.out) && frames(&held).into_iter().all(takes));
    for stop in &stops {
        assert!(frames(stop).into_iter().all(takes));
        assert!(stamps(stop).iter().all(|(link, _)| *link == 2), "a number of its own");
    }
    assert!(!takes(frames(&stops[0])[0]), "none a second time");
    // Without a key one stop will do as often as it takes.
    let mut plain = InteractiveSession::bound();
    assert_eq!(plain.link.guardian_stops(150).unwrap().len(), 1);
}

#[test]
fn a_board_that_answers_signed_is_worked_with() {
    let mut desk = desk(STAMP);
    desk.bytes(&signed(&key(), 0, STAMP, &heartbeat(false)));
    desk.send(1, Request::Store);
    let sent = decode(&desk.out).unwrap();
    assert!(sent.signed() && sent.version == 2);
    assert!(matches!(message(&desk.out), MavMessage::COMMAND_LONG(_)));
    let accepted = super::kit::acknowledge(
        mavlink::dialects::common::MavCmd::MAV_CMD_PREFLIGHT_STORAGE,
        mavlink::dialects::common::MavResult::MAV_RESULT_ACCEPTED,
    );
    // An answer that is not signed is none.
    desk.board(&accepted);
    desk.wait(1);
    assert_eq!(desk.done(1), None);
    desk.bytes(&signed(&key(), 0, STAMP + 500, &accepted));
    desk.wait(1);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    assert_eq!(desk.link.wake(), Time::NEVER);
}

#[test]
fn a_key_is_64_digits_and_never_shown() {
    let text = "000102030405060708090a0b0c0d0e0f101112131415161718191A1B1C1D1E1F";
    assert_eq!(Key::read(&format!(" {text}\n")), Ok(key()));
    assert_eq!(Key::read(&text[1..]), Err(KeyError::Length(63)));
    assert_eq!(Key::read(""), Err(KeyError::Length(0)));
    assert_eq!(Key::read(&text.replace('A', "G")), Err(KeyError::Digit(54)));
    // Letters of several bytes are counted as one and refused in place.
    assert_eq!(Key::read(&text.replacen('0', "é", 1)), Err(KeyError::Digit(1)));
    assert!(!format!("{:?}", key()).contains("01"));
    assert!(!format!("{:?}", MavlinkLink::signed(None, key(), 0)).contains("[0, 1, 2"));
}

#[test]
fn timestamps_count_from_2015_in_units_of_10_us() {
    // DG: an offset of 1420070400 seconds.
    assert_eq!(timestamp(Duration::from_secs(1_420_070_400)), 0);
    assert_eq!(timestamp(Duration::from_micros(1_420_070_401_000_019)), 100_001);
    assert_eq!(timestamp(Duration::ZERO), 0);
}
