//! Frames out of a stream of bytes.

use super::golden::GOLDEN;
use super::kit::{InteractiveSession, frame, heartbeat, hex, raw_frame};
use mavlink::dialects::common::{ATTITUDE_DATA, MavMessage};
use quadjig::board::mavlink::{HALF_FRAME_WAIT, Loss};
use quadjig::board::signals::{Link, LinkEvent};
use std::time::Duration;

/// A small generator with a fixed seed (Knuth's MMIX constants).
struct Dice(u64);

impl Dice {
    fn throw(&mut self, below: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % below
    }
}

fn attitude(number: u32) -> MavMessage {
    MavMessage::ATTITUDE(ATTITUDE_DATA {
        time_boot_ms: number,
        roll: 0.5,
        pitch: 0.25,
        yaw: 0.125,
        rollspeed: 0.0,
        pitchspeed: 0.0,
        yawspeed: 0.0,
    })
}

fn times(heard: &[LinkEvent]) -> Vec<u32> {
    heard
        .iter()
        .filter_map(|h| if let LinkEvent::Attitude { board_time, .. } = h { *board_time } else { None })
        .collect()
}

#[test]
fn two_hundred_thousand_split_frames_lose_nothing() {
    const FRAMES: u32 = 200_000;
    let mut desk = InteractiveSession::bound();
    let mut dice = Dice(7);
    let mut wire = Vec::new();
    let mut sequence = 1_u8;
    for number in 0..FRAMES {
        wire.extend(frame((1, 1), sequence, &attitude(number)));
        sequence = sequence.wrapping_add(1);
        if dice.throw(10) == 0 {
            // An id of no dialect, its payload full of bytes that look like markers.
            wire.extend(raw_frame((1, 1), sequence, 9_000_001, &[0xFD, 0xFE, 0xFD, 9, 0, 0xFD], 77));
            sequence = sequence.wrapping_add(1);
        }
    }
    let mut at = 0;
    while at < wire.len() {
        let end = wire.len().min(at + 1 + dice.throw(40));
        desk.now = desk.now + Duration::from_millis(1);
        desk.bytes(&wire[at..end]);
        at = end;
    }
    let heard = times(&desk.heard);
    assert_eq!(heard.len(), FRAMES as usize);
    assert!(heard.iter().zip(0..).all(|(heard, number)| *heard == number));
    assert_eq!(desk.link.loss(1, 1).lost, 0);
}

#[test]
fn junk_between_frames_is_skipped() {
    let mut desk = InteractiveSession::bound();
    let mut wire = b"boot: ok\r\n\xFD".to_vec();
    wire.extend(frame((1, 1), 1, &attitude(1)));
    wire.extend([0xFE, 0x03, 0xFD, 0x00]);
    wire.extend(frame((1, 1), 2, &attitude(2)));
    // What begins like a marker may hold frames up until it is long enough to be judged.
    for number in 3..20 {
        wire.extend(frame((1, 1), u8::try_from(number).unwrap(), &attitude(number)));
    }
    desk.bytes(&wire);
    assert_eq!(times(&desk.heard), (1..20).collect::<Vec<_>>());
    assert_eq!(desk.link.loss(1, 1).lost, 0);
}

#[test]
fn a_frame_that_was_cut_off_does_not_hold_up_the_next_for_long() {
    let mut desk = InteractiveSession::bound();
    let whole = frame((1, 1), 1, &attitude(1));
    desk.bytes(&whole[..5]);
    desk.now = desk.now + HALF_FRAME_WAIT + Duration::from_millis(1);
    desk.bytes(&frame((1, 1), 2, &attitude(2)));
    assert_eq!(times(&desk.heard), [2]);
}

#[test]
fn a_half_frame_is_kept_across_a_pause() {
    let mut desk = InteractiveSession::bound();
    let whole = frame((1, 1), 1, &attitude(1));
    desk.bytes(&whole[..20]);
    desk.now = desk.now + Duration::from_millis(250);
    desk.bytes(&whole[20..]);
    assert_eq!(times(&desk.heard), [1]);
    // After a gap of the line it is not.
    desk.heard.clear();
    desk.bytes(&whole[..20]);
    desk.link.reset();
    desk.bytes(&whole[20..]);
    desk.bytes(&whole);
    assert_eq!(times(&desk.heard), [1]);
}

#[test]
fn an_unknown_incompatibility_bit_discards_the_frame() {
    // DG, guide/serialization: such a frame must be dropped. The checksum is right.
    let mut bytes = hex(GOLDEN[0].1);
    bytes[2] = 2;
    let end = bytes.len() - 2;
    let check = mavlink::calculate_crc(&bytes[1..end], 50);
    bytes[end..].copy_from_slice(&check.to_le_bytes());
    let mut desk = InteractiveSession::new();
    desk.bytes(&bytes);
    desk.bytes(&hex(GOLDEN[0].1));
    assert_eq!(desk.heard.len(), 1);
    assert_eq!(desk.link.loss(1, 1).heard, 1);
}

#[test]
fn a_signature_is_carried_past() {
    // DG, guide/message_signing: 13 bytes behind the checksum, told by incompatibility bit 1.
    let mut bytes = hex(GOLDEN[0].1);
    bytes[2] = 1;
    let end = bytes.len() - 2;
    let check = mavlink::calculate_crc(&bytes[1..end], 50);
    bytes[end..].copy_from_slice(&check.to_le_bytes());
    bytes.extend([0xFD; 13]);
    bytes.extend(hex(GOLDEN[0].1));
    let mut desk = InteractiveSession::new();
    desk.bytes(&bytes);
    let alive = LinkEvent::Alive { vehicle: 1, armed: false };
    // The second time without its signature it is the same frame once more.
    assert_eq!(desk.heard, [LinkEvent::Signed, alive]);
    assert_eq!(desk.link.loss(1, 1).heard, 2);
}

#[test]
fn an_unknown_id_is_carried_past_whole_and_counts_as_heard() {
    let mut desk = InteractiveSession::bound();
    // A whole heartbeat with the armed flag, carried inside of a message that we do not know: not the board's word.
    let inside = raw_frame((1, 1), 2, 0, &[0, 0, 0, 0, 2, 0, 128, 4, 3], 50);
    desk.bytes(&raw_frame((1, 1), 1, 12_345_678, &inside, 1));
    desk.now = desk.now + Duration::from_secs(1);
    desk.bytes(&frame((1, 1), 2, &attitude(2)));
    assert_eq!(times(&desk.heard), [2]);
    assert_eq!(desk.heard.len(), 1);
    assert_eq!(desk.link.loss(1, 1), Loss { heard: 3, lost: 0 });
}

#[test]
fn a_value_unknown_to_an_enum_costs_neither_the_message_nor_the_next() {
    let mut desk = InteractiveSession::bound();
    // STATUSTEXT with severity 200; COMMAND_ACK with result 200 for command 60000.
    desk.bytes(&raw_frame((1, 1), 1, 253, b"\xC8hello", 83));
    desk.bytes(&raw_frame((1, 1), 2, 77, &[0x60, 0xEA, 200], 143));
    desk.bytes(&frame((1, 1), 3, &heartbeat(false)));
    let text = LinkEvent::Text { severity: 200, text: "hello".to_owned() };
    assert_eq!(desk.heard, [text, LinkEvent::Spoke, LinkEvent::Alive { vehicle: 1, armed: false }]);
    assert_eq!(desk.link.loss(1, 1).lost, 0);
}

#[test]
fn loss_is_the_gap_of_the_sequence_for_each_sender() {
    // DG, guide/serialization: the sequence number shows loss, modulo 256, per system and component.
    let mut desk = InteractiveSession::new();
    for sequence in [250, 251, 254, 255, 0, 3] {
        desk.bytes(&frame((1, 1), sequence, &attitude(1)));
        desk.bytes(&frame((1, 2), 9, &attitude(1)));
    }
    assert_eq!(desk.link.loss(1, 1), Loss { heard: 6, lost: 4 });
    assert_eq!(desk.link.loss(1, 2), Loss { heard: 6, lost: 0 });
    assert_eq!(desk.link.loss(2, 1), Loss { heard: 0, lost: 0 });
    // A gap of the line itself is none on it.
    desk.link.reset();
    desk.bytes(&frame((1, 1), 100, &attitude(1)));
    assert_eq!(desk.link.loss(1, 1), Loss { heard: 7, lost: 4 });
}

#[test]
fn any_bytes_at_all_are_survived() {
    let mut dice = Dice(11);
    let mut desk = InteractiveSession::bound();
    for _ in 0..2_000 {
        let bytes: Vec<u8> = (0..dice.throw(60))
            .map(|_| if dice.throw(6) == 0 { 0xFD } else { u8::try_from(dice.throw(256)).unwrap() })
            .collect();
        desk.bytes(&bytes);
    }
    desk.link.reset();
    desk.heard.clear();
    desk.bytes(&frame((1, 1), 1, &attitude(5)));
    assert_eq!(times(&desk.heard), [5]);
}

/// The events of a leap among frames with these numbers, so many milliseconds apart.
fn leaps(apart: u64, numbers: &[u8]) -> usize {
    let mut desk = InteractiveSession::bound();
    // Whatever number the desk's own frames had, this one follows after a while.
    desk.now = desk.now + Duration::from_secs(1);
    for number in numbers {
        desk.bytes(&frame((1, 1), *number, &attitude(1)));
        desk.now = desk.now + Duration::from_millis(apart);
    }
    desk.heard.iter().filter(|event| matches!(event, LinkEvent::Leapt)).count()
}

#[test]
fn a_leap_of_the_numbers_is_told_and_loss_and_shuffling_are_none() {
    assert_eq!(leaps(20, &[250, 251, 254, 255, 0, 3, 4]), 0, "loss");
    assert_eq!(leaps(20, &[10, 12, 11, 13, 13, 15, 14, 9, 16]), 0, "out of order, and doubled");
    assert_eq!(leaps(20, &[240, 16, 17]), 0, "a burst of 31 lost");
    assert_eq!(leaps(100, &[10, 100, 101, 7, 8]), 0, "after a while eight bits tell nothing");
    assert_eq!(leaps(20, &[10, 11, 44, 45]), 1, "forward by 33");
    assert_eq!(leaps(20, &[100, 101, 68, 69]), 1, "back by 33");
    assert_eq!(leaps(20, &[200, 201, 0, 1, 2]), 1, "began anew");
    // Another sender's numbers are its own.
    let mut desk = InteractiveSession::bound();
    for number in 0..20 {
        desk.bytes(&frame((1, 1), number, &attitude(1)));
        desk.bytes(&frame((1, 191), 100 + number, &attitude(1)));
        desk.bytes(&frame((51, 68), 200, &attitude(1)));
    }
    assert!(!desk.heard.iter().any(|event| matches!(event, LinkEvent::Leapt)));
}
