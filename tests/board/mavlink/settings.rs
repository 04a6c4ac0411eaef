//! Reading and writing single settings.

use super::golden::GOLDEN;
use super::kit::{InteractiveSession, frame, hex, name, value};
use mavlink::dialects::common::{MavMessage, MavParamType, MavProtocolCapability};
use quadjig::board::mavlink::settings::{TRIES, WINDOW};
use quadjig::board::mavlink::{FrameClass, decode};
use quadjig::board::signals::{Done, Link, LinkEvent, Outgoing, Request};
use quadjig::board::value::{NoValue, Number};

const BYTEWISE: MavProtocolCapability = MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_BYTEWISE;
const CAST: MavProtocolCapability = MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_C_CAST;
const U8: MavParamType = MavParamType::MAV_PARAM_TYPE_UINT8;
const I32: MavParamType = MavParamType::MAV_PARAM_TYPE_INT32;

#[test]
fn a_request_to_read_is_as_the_reference_library_makes_it() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ReadSetting(name("RATE_P")));
    let ours = decode(&desk.out).unwrap();
    let golden = hex(GOLDEN[3].1);
    let golden = decode(&golden).unwrap();
    assert_eq!((ours.id, &ours.payload), (golden.id, &golden.payload));
    assert_eq!((ours.system, ours.component), (255, 25), "a component of the user range (minimal.xml)");
}

#[test]
fn a_write_is_as_the_reference_library_makes_it() {
    for (bits, seven, golden) in [(BYTEWISE, 7, 4), (CAST, 7_f32.to_bits(), 5)] {
        let mut desk = InteractiveSession::writable(bits, seven);
        desk.board(&value("POLE_PAIRS", 0, I32, 1, 2));
        let request = Request::WriteSetting(name("POLE_PAIRS"), Number::Whole(7));
        let shown = desk.link.preview(&request).unwrap();
        let shown = decode(&shown).unwrap();
        assert!(desk.out.is_empty(), "what is only shown is not sent");
        desk.send(1, request);
        let ours = decode(&desk.out).unwrap();
        let golden = hex(GOLDEN[golden].1);
        let golden = decode(&golden).unwrap();
        assert_eq!((ours.id, &ours.payload), (golden.id, &golden.payload));
        assert_eq!((shown.id, &shown.payload), (golden.id, &golden.payload));
    }
}

#[test]
fn a_name_may_fill_all_16_bytes() {
    // The golden PARAM_VALUE: ABCDEFGHIJKLMNOP, 0.125, place 299 of 300 (PY).
    let mut desk = InteractiveSession::bound();
    desk.bytes(&hex(GOLDEN[6].1));
    let full = name("ABCDEFGHIJKLMNOP");
    assert_eq!(desk.heard, [LinkEvent::Setting { name: full.clone(), value: Number::Real(0.125), index: Some(299) }]);
    desk.send(1, Request::ReadSetting(full));
    let MavMessage::PARAM_REQUEST_READ(read) = &desk.sent()[0] else { panic!("not a read") };
    assert_eq!(*read.param_id, *b"ABCDEFGHIJKLMNOP");
    assert_eq!(read.param_index, -1);
}

#[test]
fn a_read_ends_with_its_answer() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ReadSetting(name("NUMBER")));
    desk.board(&value("NUMBE", 3, U8, 0, 9));
    desk.board(&value("number", 3, U8, 0, 9));
    assert_eq!(desk.done(1), None, "names are matched exactly");
    desk.board(&value("NUMBER", 3, U8, 65535, 9));
    assert_eq!(desk.done(1), Some(&Done::Ok));
    assert!(desk.heard.contains(&LinkEvent::Setting { name: name("NUMBER"), value: Number::Whole(3), index: None }));
}

#[test]
fn reads_are_repeated_a_few_times_and_then_silent() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ReadSetting(name("NUMBER")));
    desk.wait(4_000);
    assert_eq!(desk.done(1), None);
    desk.wait(1_000);
    assert_eq!(desk.done(1), Some(&Done::Silent));
    assert_eq!(desk.classes(), vec![FrameClass::Looks; TRIES.into()]);
}

#[test]
fn only_a_few_reads_are_on_their_way_at_a_time() {
    let mut desk = InteractiveSession::bound();
    for n in 0..20 {
        desk.send(n, Request::ReadSetting(name(&format!("N{n}"))));
    }
    assert_eq!(desk.sent().len(), WINDOW);
    for n in 0..20 {
        desk.board(&value(&format!("N{n}"), 1, U8, 0, 20));
        desk.wait(1);
    }
    desk.wait(1);
    assert_eq!(desk.sent().len(), 20 - WINDOW);
    assert!((0..20).all(|n| desk.done(n) == Some(&Done::Ok)));
}

#[test]
fn a_write_ends_when_the_board_tells_the_value() {
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    desk.send(1, Request::WriteSetting(name("NUMBER"), Number::Whole(9)));
    let MavMessage::PARAM_SET(set) = &desk.sent()[0] else { panic!("not a write") };
    assert_eq!((set.param_value.to_bits(), set.param_type), (9, U8));
    desk.board(&value("NUMBER", 9, U8, 0, 2));
    assert_eq!(desk.done(1), Some(&Done::Ok));
}

#[test]
fn a_lost_write_is_repeated_and_a_silent_board_is_told() {
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    desk.send(1, Request::WriteSetting(name("NUMBER"), Number::Whole(9)));
    desk.wait(400);
    assert_eq!(desk.classes(), [FrameClass::Writes; 2]);
    desk.board(&value("NUMBER", 9, U8, 0, 2));
    assert_eq!(desk.done(1), Some(&Done::Ok));
    desk.send(2, Request::WriteSetting(name("NUMBER"), Number::Whole(8)));
    desk.wait(6_000);
    assert_eq!(desk.classes(), vec![FrameClass::Writes; TRIES.into()]);
    assert_eq!(desk.done(2), Some(&Done::Silent));
}

#[test]
fn an_ignored_write_differs() {
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    desk.send(1, Request::WriteSetting(name("NUMBER"), Number::Whole(9)));
    desk.board(&value("NUMBER", 7, U8, 0, 2));
    assert_eq!(desk.done(1), None, "might be a late answer: asked once more");
    desk.wait(1);
    assert_eq!(desk.classes(), [FrameClass::Writes, FrameClass::Looks]);
    desk.board(&value("NUMBER", 7, U8, 0, 2));
    assert_eq!(desk.done(1), Some(&Done::Differs(Number::Whole(7))));
}

#[test]
fn a_late_answer_does_not_fail_a_write() {
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    desk.send(1, Request::WriteSetting(name("NUMBER"), Number::Whole(9)));
    desk.board(&value("NUMBER", 7, U8, 0, 2));
    desk.board(&value("NUMBER", 9, U8, 0, 2));
    assert_eq!(desk.done(1), Some(&Done::Ok));
}

/// Two of them before the question once more has left: neither answers it.
#[test]
fn two_late_answers_do_not_fail_a_write() {
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    desk.send(1, Request::WriteSetting(name("NUMBER"), Number::Whole(9)));
    desk.board(&value("NUMBER", 7, U8, 0, 2));
    desk.board(&value("NUMBER", 7, U8, 0, 2));
    assert_eq!(desk.done(1), None);
    desk.wait(1);
    assert_eq!(desk.classes(), [FrameClass::Writes, FrameClass::Looks]);
    desk.board(&value("NUMBER", 9, U8, 0, 2));
    assert_eq!(desk.done(1), Some(&Done::Ok));
}

#[test]
fn a_late_answer_to_a_repeated_read_is_none_to_a_later_one() {
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    desk.send(1, Request::ReadSetting(name("NUMBER")));
    desk.wait(400);
    let asked = desk.classes().len();
    assert!(asked > 1, "{asked}");
    desk.board(&value("NUMBER", 7, U8, 0, 2));
    assert_eq!(desk.done(1), Some(&Done::Ok));
    desk.send(2, Request::WriteSetting(name("NUMBER"), Number::Whole(9)));
    desk.board(&value("NUMBER", 9, U8, 0, 2));
    assert_eq!(desk.done(2), Some(&Done::Ok));
    desk.send(3, Request::ReadSetting(name("NUMBER")));
    for _ in 1..asked {
        desk.board(&value("NUMBER", 7, U8, 0, 2));
        assert_eq!(desk.done(3), None, "it is owed to the first question");
    }
    desk.board(&value("NUMBER", 9, U8, 0, 2));
    assert_eq!(desk.done(3), Some(&Done::Ok));
}

/// The wire brought the write twice, and the board does it later than it says.
#[test]
fn a_second_answer_to_a_write_is_none_to_the_question_after_it() {
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    desk.send(1, Request::WriteSetting(name("NUMBER"), Number::Whole(8)));
    desk.wait(20);
    desk.board(&value("NUMBER", 8, U8, 65535, 2));
    assert_eq!(desk.done(1), Some(&Done::Ok));
    desk.send(2, Request::ReadSetting(name("NUMBER")));
    desk.wait(2);
    desk.board(&value("NUMBER", 8, U8, 65535, 2));
    assert_eq!(desk.done(2), None);
    desk.wait(18);
    desk.heard.clear();
    desk.board(&value("NUMBER", 7, U8, 65535, 2));
    assert_eq!(desk.done(2), Some(&Done::Ok));
    assert!(desk.heard.contains(&LinkEvent::Setting { name: name("NUMBER"), value: Number::Whole(7), index: None }));
    // One that was dropped so is owed by nobody.
    desk.wait(500);
    desk.send(4, Request::ReadSetting(name("NUMBER")));
    desk.wait(20);
    desk.board(&value("NUMBER", 7, U8, 65535, 2));
    assert_eq!(desk.done(4), Some(&Done::Ok));
    // Of one that was not written an answer may come as soon as it likes.
    desk.send(3, Request::ReadSetting(name("WIDE")));
    desk.board(&value("WIDE", 0, I32, 65535, 2));
    assert_eq!(desk.done(3), Some(&Done::Ok));
}

/// What came too soon, and it may have been the answer all the same, makes no later one come sooner.
#[test]
fn answers_to_writes_do_not_lower_the_bar_for_what_is_read() {
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    for turn in 0..8 {
        desk.send(2 * turn, Request::WriteSetting(name("NUMBER"), Number::Whole(8)));
        desk.wait(20);
        desk.board(&value("NUMBER", 8, U8, 65535, 2));
        desk.send(2 * turn + 1, Request::ReadSetting(name("NUMBER")));
        desk.wait(8);
        desk.board(&value("NUMBER", 8, U8, 65535, 2));
        assert_eq!(desk.done(2 * turn + 1), None, "{turn}");
        desk.wait(12);
        desk.board(&value("NUMBER", 7, U8, 65535, 2));
        assert_eq!(desk.done(2 * turn + 1), Some(&Done::Ok), "{turn}");
    }
    // Of many that were on their way together the last took longest, and one alone takes no longer than the first.
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    for (turn, wait) in [12, 6, 6, 6, 6, 6, 6, 6].into_iter().enumerate() {
        let turn = u32::try_from(turn).unwrap();
        desk.send(turn, Request::WriteSetting(name("NUMBER"), Number::Whole(8)));
        desk.wait(wait + 6 * u64::from(turn));
        desk.board(&value("NUMBER", 8, U8, 65535, 2));
    }
    desk.send(9, Request::ReadSetting(name("NUMBER")));
    desk.wait(13);
    desk.board(&value("NUMBER", 8, U8, 65535, 2));
    assert_eq!(desk.done(9), Some(&Done::Ok));
}

#[test]
fn a_boards_error_is_told_in_words() {
    // CM, PARAM_ERROR: index −1, to 255/25, the name, error 2: out of range.
    let mut payload = vec![0xFF, 0xFF, 255, 25];
    payload.extend_from_slice(b"NUMBER\0\0\0\0\0\0\0\0\0\0");
    payload.push(2);
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    desk.send(1, Request::WriteSetting(name("NUMBER"), Number::Whole(9)));
    // The same error to another station is not ours.
    payload[3] = 190;
    desk.raw_board(345, &payload, 209);
    assert_eq!(desk.done(1), None);
    payload[3] = 25;
    desk.raw_board(345, &payload, 209);
    assert_eq!(desk.refusal(1), "the board refused setting NUMBER: the value is out of its range");
}

#[test]
fn every_error_of_a_setting_has_words() {
    // CM, MAV_PARAM_ERROR; 0 is not expected, 200 in no dialect.
    let table = [
        (0, "error 0"),
        (1, "does not exist"),
        (2, "out of its range"),
        (3, "may not be changed"),
        (4, "component is not known"),
        (5, "only be read"),
        (6, "type is not supported"),
        (7, "type is another"),
        (8, "could not be read"),
        (200, "error 200"),
    ];
    for (error, words) in table {
        let mut desk = InteractiveSession::writable(BYTEWISE, 7);
        desk.send(1, Request::ReadSetting(name("ABCDEFGHIJKLMNOP")));
        let payload = [&[0xFF, 0xFF, 255, 25], &b"ABCDEFGHIJKLMNOP"[..], &[error]].concat();
        desk.raw_board(345, &payload, 209);
        assert!(desk.refusal(1).contains(words), "{}", desk.refusal(1));
    }
}

#[test]
fn every_type_of_the_wire_is_read_and_written_in_both_encodings() {
    // CM, MAV_PARAM_TYPE 1 to 6 and 9; the least of each signed type, and reals.
    for (bits, cast) in [(BYTEWISE, false), (CAST, true)] {
        for (kind, number) in [(1, 255), (2, -128), (3, 65_535), (4, -32_768), (5, 16_777_216), (6, -16_777_216)] {
            let union = u32::from_le_bytes(i32::to_le_bytes(number));
            let width = [0, 0xFF, 0xFF, 0xFFFF, 0xFFFF, u32::MAX, u32::MAX][usize::from(kind)];
            #[expect(clippy::cast_precision_loss, reason = "exact to 24 bits")]
            let raw = if cast { (number as f32).to_bits() } else { union & width };
            let mut desk = InteractiveSession::writable(bits, if cast { 7_f32.to_bits() } else { 7 });
            let payload = [&raw.to_le_bytes()[..], &[9, 0, 2, 0], b"ABCDEFGHIJKLMNOP", &[kind]].concat();
            desk.raw_board(22, &payload, 220);
            let (full, value) = (name("ABCDEFGHIJKLMNOP"), Number::Whole(number.into()));
            assert_eq!(desk.heard, [LinkEvent::Setting { name: full.clone(), value, index: Some(2) }]);
            desk.send(1, Request::WriteSetting(full, value));
            let sent = decode(&desk.out).unwrap().payload;
            assert_eq!((&sent[..4], &sent[6..23]), (&raw.to_le_bytes()[..], &payload[8..25]), "type {kind}");
        }
    }
}

#[test]
fn a_64_bit_type_is_refused_in_words() {
    // CM, MAV_PARAM_TYPE 7, 8 and 10: they do not fit into PARAM_VALUE.
    for kind in [7, 8, 10] {
        let mut desk = InteractiveSession::writable(BYTEWISE, 7);
        desk.send(1, Request::ReadSetting(name("LONG")));
        desk.sent();
        let payload = [&[1, 0, 0, 0, 3, 0, 2, 0], &b"LONG\0\0\0\0\0\0\0\0\0\0\0\0"[..], &[kind]].concat();
        desk.raw_board(22, &payload, 220);
        assert!(desk.refusal(1).contains("64-bit type"), "{}", desk.refusal(1));
        let write = Request::WriteSetting(name("LONG"), Number::Whole(1));
        assert!(desk.link.preview(&write).unwrap_err().contains("64-bit type"));
        desk.send(2, write);
        desk.wait(1);
        assert!(desk.refusal(2).contains("64-bit type"), "{}", desk.refusal(2));
        assert!(desk.out.is_empty());
    }
}

#[test]
fn what_is_not_finite_is_not_sent() {
    let mut desk = InteractiveSession::writable(CAST, 7_f32.to_bits());
    desk.board(&value("REAL", 0, MavParamType::MAV_PARAM_TYPE_REAL32, 2, 3));
    for (ticket, (text, real)) in
        (1..).zip([("REAL", f64::NAN), ("REAL", f64::INFINITY), ("REAL", 1e39), ("NUMBER", f64::NEG_INFINITY)])
    {
        desk.send(ticket, Request::WriteSetting(name(text), Number::Real(real)));
        desk.wait(1);
        assert!(desk.refusal(ticket).contains("not a finite"), "{}", desk.refusal(ticket));
    }
    assert!(desk.sent().is_empty());
}

#[test]
fn writes_leave_one_after_the_other_in_their_order() {
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    desk.send(1, Request::WriteSetting(name("NUMBER"), Number::Whole(1)));
    desk.send(2, Request::WriteSetting(name("WIDE"), Number::Whole(2)));
    desk.send(3, Request::WriteSetting(name("NUMBER"), Number::Whole(3)));
    for (text, number, kind) in [("NUMBER", 1, U8), ("WIDE", 2, I32), ("NUMBER", 3, U8)] {
        let left = desk.sent();
        let [MavMessage::PARAM_SET(set)] = &left[..] else { panic!("not one write: {left:?}") };
        assert_eq!((set.param_id.to_str().unwrap(), set.param_value.to_bits()), (text, number));
        desk.board(&value(text, number, kind, 0, 2));
        desk.wait(1);
    }
    assert!((1..=3).all(|ticket| desk.done(ticket) == Some(&Done::Ok)));
}

#[test]
fn what_can_not_be_sent_exactly_is_refused_before_the_wire() {
    let mut desk = InteractiveSession::writable(CAST, 7_f32.to_bits());
    let tries = [("WIDE", 16_777_217, "24 bits"), ("NUMBER", 256, "does not fit"), ("ELSE", 1, "read it first")];
    for (ticket, (text, number, reason)) in (1..).zip(tries) {
        desk.send(ticket, Request::WriteSetting(name(text), Number::Whole(number)));
        desk.wait(1);
        assert!(desk.refusal(ticket).contains(reason), "{}", desk.refusal(ticket));
    }
    assert!(desk.sent().is_empty());
}

#[test]
fn a_value_that_is_not_finite_is_refused() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ReadSetting(name("REAL")));
    let nan = value("REAL", f32::NAN.to_bits(), MavParamType::MAV_PARAM_TYPE_REAL32, 0, 1);
    desk.bytes(&frame((1, 1), 1, &nan));
    assert!(desk.refusal(1).contains("not finite"), "{}", desk.refusal(1));
    assert!(desk.heard.contains(&LinkEvent::NoValue { name: name("REAL"), why: NoValue::NoNumber }));
    assert!(!desk.heard.iter().any(|heard| matches!(heard, LinkEvent::Setting { .. })));
}

#[test]
fn without_a_board_requests_are_refused() {
    let mut desk = InteractiveSession::new();
    desk.send(1, Request::ReadSetting(name("NUMBER")));
    desk.send(2, Request::Disarm { force: false });
    desk.wait(1);
    assert!(desk.refusal(1).contains("no board has been heard"));
    assert!(desk.refusal(2).contains("no board has been heard"));
    assert!(desk.out.is_empty());
}

/// Board and desk for free writes of `N0` … `N19`.
fn many() -> InteractiveSession {
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    (0..20).for_each(|n| desk.board(&value(&format!("N{n}"), 0, U8, n, 20)));
    desk
}

fn free(desk: &mut InteractiveSession, ticket: u32, text: &str, to: i64) {
    desk.send(ticket, Request::WriteUnordered(name(text), Number::Whole(to)));
}

/// Names of the writes that left.
fn written(desk: &mut InteractiveSession) -> Vec<String> {
    let one = |message: &MavMessage| match message {
        MavMessage::PARAM_SET(set) => set.param_id.to_str().unwrap().to_owned(),
        other => panic!("not a write: {other:?}"),
    };
    desk.sent().iter().map(one).collect()
}

#[test]
fn free_writes_are_under_way_together() {
    let mut desk = many();
    (0..20).for_each(|n| free(&mut desk, n, &format!("N{n}"), 1));
    assert_eq!(written(&mut desk), (0..8).map(|n| format!("N{n}")).collect::<Vec<_>>());
    // Answers in any order make room, and what is lost is sent again alone.
    for n in [3, 0, 7] {
        desk.board(&value(&format!("N{n}"), 1, U8, n, 20));
    }
    desk.work();
    assert_eq!(written(&mut desk), ["N8", "N9", "N10"]);
    for n in [1, 2, 4, 5, 8, 9, 10] {
        desk.board(&value(&format!("N{n}"), 1, U8, n, 20));
    }
    desk.work();
    assert_eq!(written(&mut desk).len(), 7);
    desk.wait(400);
    assert!(written(&mut desk).contains(&"N6".to_owned()));
    for n in 0..20 {
        desk.board(&value(&format!("N{n}"), 1, U8, n, 20));
        desk.wait(1);
    }
    assert!((0..20).all(|n| desk.done(n) == Some(&Done::Ok)));
}

#[test]
fn no_write_with_a_place_overtakes_or_is_overtaken() {
    let mut desk = many();
    free(&mut desk, 0, "N0", 1);
    free(&mut desk, 1, "N1", 1);
    desk.send(2, Request::WriteSetting(name("NUMBER"), Number::Whole(1)));
    free(&mut desk, 3, "N3", 1);
    free(&mut desk, 4, "N4", 1);
    assert_eq!(written(&mut desk), ["N0", "N1"]);
    desk.board(&value("N1", 1, U8, 1, 20));
    desk.wait(2);
    assert!(desk.sent().is_empty(), "one of those before it is not answered yet");
    desk.board(&value("N0", 1, U8, 0, 20));
    desk.wait(2);
    assert_eq!(written(&mut desk), ["NUMBER"], "and alone");
    desk.board(&value("NUMBER", 1, U8, 0, 20));
    desk.wait(2);
    assert_eq!(written(&mut desk), ["N3", "N4"]);
}

#[test]
fn two_free_writes_of_one_setting_keep_their_order() {
    let mut desk = many();
    for (ticket, text, to) in [(0, "N0", 1), (1, "N1", 1), (2, "N0", 2), (3, "N3", 1)] {
        free(&mut desk, ticket, text, to);
    }
    assert_eq!(written(&mut desk), ["N0", "N1"]);
    desk.board(&value("N0", 1, U8, 0, 20));
    desk.wait(2);
    assert_eq!(written(&mut desk), ["N0", "N3"]);
    desk.board(&value("N0", 2, U8, 0, 20));
    desk.wait(2);
    assert_eq!((desk.done(0), desk.done(2)), (Some(&Done::Ok), Some(&Done::Ok)));
}

#[test]
fn free_writes_end_by_a_stop_or_by_the_gate_like_others() {
    let mut desk = many();
    (0..12).for_each(|n| free(&mut desk, n, &format!("N{n}"), 1));
    desk.sent();
    // One that the gate did not let out ends by its reason alone.
    let third = Outgoing::Write { name: name("N2"), value: Some(Number::Whole(1)) };
    desk.link.refuse(&third, "the craft was not at rest");
    desk.wait(1);
    assert_eq!(desk.refusal(2), "the craft was not at rest");
    desk.sent();
    desk.link.stop_bytes(false).unwrap();
    desk.wait(2_000);
    assert!((0..12).filter(|n| *n != 2).all(|n| desk.refusal(n).contains("a stop overtook it")));
    assert!(desk.sent().is_empty());
}

#[test]
fn an_ignored_free_write_differs_alone() {
    let mut desk = many();
    (0..3).for_each(|n| free(&mut desk, n, &format!("N{n}"), 1));
    desk.sent();
    for _ in 0..2 {
        for (n, to) in [(0, 1), (1, 0), (2, 1)] {
            desk.board(&value(&format!("N{n}"), to, U8, n, 20));
        }
        desk.wait(1);
    }
    assert_eq!((desk.done(0), desk.done(2)), (Some(&Done::Ok), Some(&Done::Ok)));
    assert_eq!(desk.done(1), Some(&Done::Differs(Number::Whole(0))));
}
