//! The encoding is proved before anything is written.

use super::kit::{InteractiveSession, name, value, version};
use mavlink::dialects::common::{MavParamType, MavProtocolCapability};
use quadjig::board::signals::{Link, LinkEvent, Request};
use quadjig::board::value::Number;

const BYTEWISE: MavProtocolCapability = MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_BYTEWISE;
const CAST: MavProtocolCapability = MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_C_CAST;
const U8: MavParamType = MavParamType::MAV_PARAM_TYPE_UINT8;

fn write(desk: &mut InteractiveSession) {
    desk.heard.clear();
    desk.send(1, Request::WriteSetting(name("NUMBER"), Number::Whole(9)));
    desk.wait(1);
}

#[test]
fn bits_and_a_whole_number_prove_it() {
    for (bits, seven) in [(BYTEWISE, 7), (CAST, 7_f32.to_bits())] {
        let mut desk = InteractiveSession::bound();
        assert!(!desk.link.encoding_proved());
        desk.board(&version(1, bits));
        assert!(!desk.link.encoding_proved(), "the bits alone prove nothing");
        desk.board(&value("ZERO", 0, U8, 0, 2));
        desk.board(&value("REAL", 7_f32.to_bits(), MavParamType::MAV_PARAM_TYPE_REAL32, 0, 2));
        assert!(!desk.link.encoding_proved(), "neither zero nor a real proves anything");
        desk.board(&value("NUMBER", seven, U8, 1, 2));
        assert!(desk.link.encoding_proved());
        write(&mut desk);
        assert_eq!(desk.sent().len(), 1);
    }
}

#[test]
fn the_older_name_of_the_cast_counts() {
    // standard.xml: bit 2, PARAM_FLOAT, was replaced by PARAM_ENCODE_C_CAST.
    let mut desk = InteractiveSession::writable(MavProtocolCapability::from_bits_retain(2), 7_f32.to_bits());
    assert!(desk.link.encoding_proved());
    write(&mut desk);
    assert_eq!(desk.sent().len(), 1);
}

#[test]
fn nothing_is_written_before() {
    let mut desk = InteractiveSession::bound();
    desk.board(&value("NUMBER", 7, U8, 0, 1));
    write(&mut desk);
    assert!(desk.refusal(1).contains("has not said how it encodes"), "{}", desk.refusal(1));
    desk.board(&version(1, BYTEWISE | CAST));
    write(&mut desk);
    assert!(desk.refusal(1).contains("has not said how it encodes"), "both bits say nothing");
    let mut desk = InteractiveSession::bound();
    desk.board(&version(1, BYTEWISE));
    desk.board(&value("NUMBER", 0, U8, 0, 1));
    write(&mut desk);
    assert!(desk.refusal(1).contains("not proved yet"), "{}", desk.refusal(1));
    assert!(desk.sent().is_empty());
}

#[test]
fn a_board_whose_values_contradict_its_bits_is_not_written_to() {
    for (bits, seven) in [(CAST, 7), (BYTEWISE, 7_f32.to_bits())] {
        let mut desk = InteractiveSession::writable(bits, seven);
        write(&mut desk);
        assert!(desk.refusal(1).contains("encoded otherwise"), "{}", desk.refusal(1));
        assert!(desk.sent().is_empty());
    }
    // One good value does not outweigh a bad one.
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    assert!(desk.link.encoding_proved());
    desk.board(&value("OTHER", 3_f32.to_bits(), U8, 1, 2));
    assert!(!desk.link.encoding_proved());
}

#[test]
fn another_board_has_to_prove_it_anew() {
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    desk.board(&version(1, BYTEWISE));
    assert!(desk.link.encoding_proved());
    desk.board(&version(2, BYTEWISE));
    assert!(!desk.link.encoding_proved());
    desk.board(&value("ELSE", 1, U8, 0, 1));
    assert!(desk.link.encoding_proved());
    write(&mut desk);
    assert!(desk.refusal(1).contains("read it first"), "{}", desk.refusal(1));
}

#[test]
fn the_same_board_with_another_encoding_has_to_prove_it_anew() {
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    desk.board(&version(1, CAST));
    assert!(!desk.link.encoding_proved());
    desk.board(&value("NUMBER", 7_f32.to_bits(), U8, 0, 2));
    assert!(desk.link.encoding_proved());
}

#[test]
fn a_gap_of_the_line_keeps_the_proof() {
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    desk.link.reset();
    assert!(desk.link.encoding_proved());
}

#[test]
fn values_are_read_by_what_they_show_where_the_bits_are_not_known_yet() {
    let mut desk = InteractiveSession::bound();
    desk.board(&value("A", 7, U8, 0, 2));
    desk.board(&value("B", 7_f32.to_bits(), U8, 1, 2));
    let setting = |text, index| LinkEvent::Setting { name: name(text), value: Number::Whole(7), index: Some(index) };
    assert_eq!(desk.heard, [setting("A", 0), setting("B", 1)]);
}
