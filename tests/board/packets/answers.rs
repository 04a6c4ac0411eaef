//! What each answer does, spoken by hand for the board: whole packets written or none, answers to other questions, stops.

use super::kit::{ByHand, name, text, write};
use quadjig::board::signals::{Done, Link, LinkEvent, Outgoing, Request, Stream};
use quadjig::board::value::Number;
use std::time::Duration;

/// The packet of the motors and the radio, as the Finch P's sheet lays it out: idle in bytes 0 and 1, spin in 2.
const READ: u16 = 0x20;
const WRITE: u16 = 0x40;

fn hand() -> ByHand {
    let mut hand = ByHand::new(text("finch-p"));
    hand.holds.insert(READ, vec![0x4C, 0x04, 0, 3, 0xD0, 0x07, 0, 2, 1, 2, 3, 4]);
    hand.lists();
    hand
}

fn refused(done: Option<Done>) -> String {
    match done {
        Some(Done::Refused(why)) => why,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_write_reads_the_packet_changes_its_field_and_reads_it_back() {
    let mut hand = hand();
    hand.asks(1, write("IDLE_US", 1105));
    assert_eq!(hand.sent[0].1, Outgoing::Ask);
    hand.answers_readings();
    let (packet, does) = hand.take();
    assert_eq!((packet.id, &packet.payload[..]), (WRITE, &[0x51, 0x04, 0, 3, 0xD0, 0x07, 0, 2, 1, 2, 3, 4][..]));
    assert_eq!(does, Outgoing::Write { name: name("IDLE_US"), value: Some(Number::Whole(1105)) });
    assert_eq!(hand.done(1), None, "acknowledged is not written");
    hand.says(0xC0, &[]);
    assert_eq!(hand.done(1), None, "nor is it before it was read back");
    hand.holds.insert(READ, packet.payload);
    hand.answers_readings();
    assert_eq!(hand.done(1), Some(Done::Ok));
    assert!(hand.heard.contains(&LinkEvent::Setting {
        name: name("IDLE_US"),
        value: Number::Whole(1105),
        index: Some(0)
    }));
}

/// Byte 3 is the signal of the motors: another hand changed it since the settings were read.
#[test]
fn what_another_hand_changed_is_not_written_over() {
    let mut hand = hand();
    hand.holds.insert(READ, vec![0x4C, 0x04, 0, 4, 0xD0, 0x07, 0, 2, 1, 2, 3, 4]);
    hand.asks(1, write("IDLE_US", 1105));
    hand.answers_readings();
    hand.wait(Duration::from_secs(2));
    assert!(hand.sent.is_empty(), "{:?}", hand.sent);
    let why = refused(hand.done(1));
    assert!(why.contains("MOTOR_SIGNAL is not what it was when the settings were read"), "{why}");
    assert!(why.contains("nothing was written"), "{why}");
    // Read anew, it is known, and the write is made.
    hand.lists();
    hand.asks(2, write("IDLE_US", 1105));
    hand.answers_readings();
    assert_eq!(hand.take().0.payload[3], 4);
}

/// Bytes that no field names are somebody's as well.
#[test]
fn bytes_without_a_name_are_written_back_as_they_are() {
    let sheet = text("finch-p")
        .replace("SPIN_AT_ZERO = { at = 2, type = \"u8\" }\n", "")
        .replace("\"SPIN_AT_ZERO\"", "\"IDLE_US\"");
    let sheet = sheet.replace("must-have = [\"IDLE_US\", \"IDLE_US\", ", "must-have = [\"IDLE_US\", ");
    let from = sheet.find("[settings.zero-throttle]").unwrap();
    let to = from + sheet[from..].find("[settings.signal]").unwrap();
    let mut hand = ByHand::new(&format!("{}{}", &sheet[..from], &sheet[to..]));
    hand.holds.insert(READ, vec![0x4C, 0x04, 9, 3, 0xD0, 0x07, 0, 2, 1, 2, 3, 4]);
    hand.lists();
    hand.asks(1, write("IDLE_US", 1105));
    hand.answers_readings();
    assert_eq!(hand.take().0.payload, [0x51, 0x04, 9, 3, 0xD0, 0x07, 0, 2, 1, 2, 3, 4]);
    hand.says(0xC0, &[]);
    hand.holds.insert(READ, vec![0x51, 0x04, 8, 3, 0xD0, 0x07, 0, 2, 1, 2, 3, 4]);
    hand.answers_readings();
    let why = refused(hand.done(1));
    assert!(why.contains("byte 2 of [packets.settings.motors-and-radio], which no field names"), "{why}");
}

#[test]
fn what_changed_with_a_write_is_told() {
    let mut hand = hand();
    hand.asks(1, write("IDLE_US", 1105));
    hand.answers_readings();
    let (packet, _) = hand.take();
    hand.says(0xC0, &[]);
    let mut holds = packet.payload;
    holds[2] = 1;
    hand.holds.insert(READ, holds);
    hand.answers_readings();
    let why = refused(hand.done(1));
    assert!(why.contains("IDLE_US was written, and with it SPIN_AT_ZERO changed"), "{why}");
    assert!(hand.heard.contains(&LinkEvent::Setting {
        name: name("SPIN_AT_ZERO"),
        value: Number::Whole(1),
        index: Some(1)
    }));
}

/// Acknowledged and not done: the words are what was read, never what was said.
#[test]
fn a_hollow_acknowledgement_is_found_out() {
    let mut hand = hand();
    hand.asks(1, write("IDLE_US", 1105));
    hand.answers_readings();
    drop(hand.take());
    hand.says(0xC0, &[]);
    hand.answers_readings();
    assert_eq!(hand.done(1), Some(Done::Differs(Number::Whole(1100))));
}

/// The write's answer was lost: it is never sent again, and what was read back decides.
#[test]
fn a_write_without_an_answer_is_not_repeated() {
    let mut hand = hand();
    hand.asks(1, write("IDLE_US", 1105));
    hand.answers_readings();
    let (packet, _) = hand.take();
    hand.wait(Duration::from_millis(250));
    hand.holds.insert(READ, packet.payload);
    hand.answers_readings();
    hand.wait(Duration::from_secs(3));
    assert_eq!(hand.done(1), Some(Done::Ok));
    assert!(hand.sent.iter().all(|(packet, _)| packet.id != WRITE), "{:?}", hand.sent);
}

#[test]
fn values_that_a_field_cannot_hold_are_refused_before_anything_is_sent() {
    let mut hand = hand();
    for (ticket, setting, value) in [
        (1, "IDLE_US", Number::Whole(70_000)),
        (2, "SPIN_AT_ZERO", Number::Whole(-1)),
        (3, "IDLE_US", Number::Real(0.5)),
    ] {
        hand.asks(ticket, Request::WriteSetting(name(setting), value));
        hand.work();
        assert!(refused(hand.done(ticket)).contains("does not fit into the field of"), "{setting}");
    }
    hand.asks(4, write("NOWHERE", 1));
    hand.work();
    assert!(refused(hand.done(4)).contains("no packet of the sheet holds a setting NOWHERE"));
    assert!(hand.sent.is_empty());
    let mut fresh = ByHand::new(text("finch-p"));
    fresh.asks(1, write("IDLE_US", 1105));
    fresh.work();
    assert!(refused(fresh.done(1)).contains("were not read yet"));
}

#[test]
fn an_answer_to_another_question_is_not_taken() {
    let mut hand = hand();
    hand.asks(1, Request::ReadSetting(name("IDLE_US")));
    for _ in 0..3 {
        drop(hand.take());
        hand.says(0xA1, &[0; 23]);
        assert_eq!(hand.done(1), None);
        hand.wait(Duration::from_millis(200));
    }
    assert_eq!(refused(hand.done(1)), "the board answered with packet 0xa1, which is the answer to another question");
    assert!(!hand.heard.iter().any(|heard| matches!(heard, LinkEvent::Setting { .. })));
}

#[test]
fn a_no_belongs_to_the_question_that_it_names() {
    let mut hand = hand();
    hand.asks(1, Request::Store);
    drop(hand.take());
    hand.says(0xFF, &[0x20, b'o', b'l', b'd']);
    assert_eq!(hand.done(1), None, "it names another");
    hand.says(0xFF, &[0x02, b'b', b'u', b's', b'y']);
    assert_eq!(refused(hand.done(1)), "the board answered no: busy");
}

#[test]
fn a_motor_run_is_the_fields_of_its_packet() {
    let mut hand = hand();
    hand.asks(1, Request::RunMotor { motor: 2, pulse: 1150, lease_ms: 1500 });
    let (packet, does) = hand.take();
    // Motor 2 is the board's 1; 1150 and 1500, the lowest byte first.
    assert_eq!((packet.id, &packet.payload[..]), (0x18, &[1, 0x7E, 0x04, 0xDC, 0x05][..]));
    assert_eq!(does, Outgoing::Motor { motor: 2, pulse: 1150, lease: Duration::from_millis(1500) });
    hand.says(0x98, &[]);
    assert_eq!(hand.done(1), Some(Done::Ok));
    for (ticket, motor, pulse, lease_ms) in [(2, 0, 1150, 1000), (3, 1, 2000, 1000), (4, 1, 1150, 600_000)] {
        hand.asks(ticket, Request::RunMotor { motor, pulse, lease_ms });
        hand.work();
        assert!(refused(hand.done(ticket)).contains("a motor run takes"), "{motor} {pulse} {lease_ms}");
    }
    assert!(hand.sent.is_empty());
}

/// A stop takes what could change, store or start away for good, wherever it stands; readings go on after it.
#[test]
fn a_stop_overtakes_everything() {
    for at in 0..3 {
        let mut hand = hand();
        hand.asks(1, write("IDLE_US", 1105));
        hand.asks(2, Request::Store);
        hand.asks(3, Request::ReadSetting(name("CELLS")));
        if at > 0 {
            hand.answers_readings();
        }
        if at > 1 {
            hand.says(0xC0, &[]);
        }
        hand.sent.clear();
        let stop = hand.link.stop_bytes(false).unwrap();
        let packets = super::kit::split(&hand.sheet, &stop);
        assert!(packets.len() >= 2 && packets.iter().all(|packet| packet.id == 0x19), "{packets:?}");
        hand.work();
        for ticket in [1, 2] {
            assert_eq!(refused(hand.done(ticket)), "a stop overtook it", "{at}");
        }
        hand.wait(Duration::from_millis(50));
        hand.answers_readings();
        hand.wait(Duration::from_secs(1));
        assert_eq!(hand.done(3), Some(Done::Ok), "{at}");
        let only_reads = hand.sent.iter().all(|(packet, _)| (0x20..0x40).contains(&packet.id));
        assert!(only_reads, "{at}: {:?}", hand.sent);
    }
}

/// Flag and attitude in one packet: it is asked for once, and tells both; a misfit of one leaves the other.
#[test]
fn one_answer_tells_all_that_stands_in_it() {
    let flag = "answer = 0x90\nfields.armed = { at = 0, type = \"u8\", bit = 0 }";
    let angles = "ask = 0x13\nanswer = 0x93\nfields.roll = { at = 0, type = \"i16\", unit = \"0.01 deg\" }\n\
                  fields.pitch = { at = 2, type = \"i16\", unit = \"0.01 deg\" }\n\
                  fields.yaw = { at = 4, type = \"i16\", unit = \"0.01 deg\" }";
    let shifted = "ask = 0x10\nanswer = 0x90\nlength = 7\nfields.roll = { at = 1, type = \"i16\", unit = \"0.01 deg\" }\n\
                   fields.pitch = { at = 3, type = \"i16\", unit = \"0.01 deg\" }";
    for part in [flag, angles] {
        assert_eq!(text("finch-p").matches(part).count(), 1, "{part}");
    }
    let shared = text("finch-p").replace(flag, &format!("length = 7\n{flag}")).replace(angles, shifted);
    let mut hand = ByHand::new(&shared);
    hand.asks(1, Request::Stream(Stream::Alive, Some(10)));
    hand.asks(2, Request::Stream(Stream::Attitude, Some(10)));
    hand.work();
    let (packet, does) = hand.take();
    assert_eq!((packet.id, does), (0x10, Outgoing::Presence));
    hand.says(0x90, &[0x81, 0x2C, 0x01, 0x38, 0xFF, 0, 0]);
    assert!(hand.heard.contains(&LinkEvent::Alive { vehicle: 1, armed: true }), "{:?}", hand.heard);
    // 3.00 and −2.00 degrees.
    let leans = |heard: &LinkEvent| matches!(heard, LinkEvent::Attitude { roll, pitch, .. } if (roll - 0.0524).abs() < 1e-3 && (pitch + 0.0349).abs() < 1e-3);
    assert!(hand.heard.iter().any(leans), "{:?}", hand.heard);
    // Each ten times a second, and no question more than that.
    let mut asked = 0;
    for _ in 0..100 {
        for (packet, _) in std::mem::take(&mut hand.sent) {
            assert_eq!(packet.id, 0x10);
            asked += 1;
            hand.says(0x90, &[0x81, 0x2C, 0x01, 0x38, 0xFF, 0, 0]);
        }
        hand.wait(Duration::from_millis(10));
    }
    assert!((9..=12).contains(&asked), "{asked} questions in a second");
}

/// The same of a packet that the board sends by itself: nothing is asked, and nothing of it is left out.
#[test]
fn one_packet_that_comes_by_itself_tells_all_that_stands_in_it() {
    let flag = "ask = 0x10\nanswer = 0x90\nfields.armed = { at = 0, type = \"u8\", bit = 0 }";
    let outputs = "ask = 0x12\nanswer = 0x92\nfields.pulses = { at = 0, type = \"u16\", count = 4 }";
    for part in [flag, outputs] {
        assert_eq!(text("finch-p").matches(part).count(), 1, "{part}");
    }
    let by_itself = |part: &str| {
        part.split_once('\n').unwrap().1.replace("0x92", "0x90").replace("0x90\n", "0x90\nlength = 9\nunasked = true\n")
    };
    let sheet = text("finch-p").replace(flag, &by_itself(flag));
    let sheet = sheet.replace(outputs, &by_itself(outputs).replace("at = 0", "at = 1"));
    let mut hand = ByHand::new(&sheet);
    hand.asks(1, Request::Stream(Stream::Alive, Some(10)));
    hand.asks(2, Request::Stream(Stream::Outputs, Some(10)));
    hand.work();
    assert!(hand.sent.is_empty(), "{:?}", hand.sent);
    hand.says(0x90, &[1, 0xE8, 3, 0xE9, 3, 0xEA, 3, 0xEB, 3]);
    assert!(hand.heard.contains(&LinkEvent::Alive { vehicle: 1, armed: true }), "{:?}", hand.heard);
    let pulses = [1000, 1001, 1002, 1003, 0, 0, 0, 0];
    assert!(hand.heard.contains(&LinkEvent::Outputs { pulses, board_time: None }), "{:?}", hand.heard);
}

/// Why an answer to a signal is none is told in the link's words.
#[test]
fn a_signal_that_is_not_understood_says_why() {
    let mut hand = ByHand::new(text("finch-p"));
    hand.asks(1, Request::Stream(Stream::Outputs, Some(10)));
    hand.work();
    hand.says(0x92, &[0; 6]);
    let told = hand.heard.iter().find_map(|heard| match heard {
        LinkEvent::Misread { stream: Stream::Outputs, why } => Some(why.clone()),
        _ => None,
    });
    assert!(told.unwrap().starts_with("the board's answer has 6 bytes, and the layout in [packets.outputs] has 8"));
}
