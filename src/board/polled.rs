//! What the links that ask for everything have in common: how often they ask, and the signals that an answer's numbers make.
//!
//! Must not be here: how an answer is written (the links').

use super::signals::{LinkEvent, Stream};
use super::value::Number;

/// How often a question that only reads is sent at most.
pub(super) const TRIES: u8 = 3;
/// Longest name of a kind or a firmware, characters.
pub(super) const LONGEST_NAME: usize = 48;

/// What a board says unasked: informational (RFC 5424).
pub(super) fn said(text: String) -> LinkEvent {
    LinkEvent::Text { severity: 6, text }
}

/// Another board on the same wire, without the wire having gone: nothing learned holds for it.
pub(super) fn another() -> LinkEvent {
    LinkEvent::Stranger { system: 2, component: 1, commands: true }
}

/// A board without a sensor refuses to tell of it, and so tells as much as one whose readings stand empty.
pub(super) fn refused(stream: Stream) -> Option<LinkEvent> {
    let empty = LinkEvent::Power { millivolts: None, centiamps: None, receiver: None };
    (stream == Stream::Power).then_some(empty)
}

/// A value in the form in which the board holds it; `None`: no whole number, where it holds one.
pub(super) fn as_held(value: Number, whole: bool) -> Option<Number> {
    match value {
        #[expect(clippy::cast_possible_truncation, reason = "whole, and bounded")]
        Number::Real(real) if whole => (real.fract() == 0.0 && real.abs() < 1e10).then_some(Number::Whole(real as i64)),
        Number::Whole(_) if !whole => Some(Number::Real(value.real())),
        _ => Some(value),
    }
}

/// Receiver channels from their pulses, 0 where a channel is unused; none at all: the receiver hears no radio.
pub(super) fn channels(given: &[u16]) -> Option<LinkEvent> {
    let pulses = std::array::from_fn(|place| given.get(place).copied().filter(|pulse| *pulse > 0));
    Some(LinkEvent::Channels { count: u8::try_from(given.len()).ok()?, pulses, board_time: None })
}

/// Motor outputs from their pulses.
pub(super) fn outputs(given: &[u16]) -> LinkEvent {
    let pulses = std::array::from_fn(|place| given.get(place).copied().unwrap_or(0));
    LinkEvent::Outputs { pulses, board_time: None }
}

/// Roll, pitch and yaw in degrees.
pub(super) fn attitude(degrees: [f64; 3]) -> LinkEvent {
    #[expect(clippy::cast_possible_truncation, reason = "an angle in radians")]
    let [roll, pitch, yaw] = degrees.map(|degrees| degrees.to_radians() as f32);
    LinkEvent::Attitude { roll, pitch, yaw, board_time: None }
}

/// Motor speeds from the first motor on.
pub(super) fn speeds(given: &[i32]) -> impl Iterator<Item = LinkEvent> {
    given.chunks(4).zip((0..=u8::MAX).step_by(4)).map(|(speeds, first)| {
        let rpm = std::array::from_fn(|place| speeds.get(place).copied().unwrap_or(0));
        LinkEvent::Speeds { first, rpm, count: u8::try_from(speeds.len()).unwrap_or(4) }
    })
}
