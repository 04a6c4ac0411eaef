//! The promises of safety held against boards, wires and operators that do not mean well, by a spy on the wire.
//!
//! Each test says what must be true whatever the program believes: judged by what left for whom, and by what both
//! crafts truly did. Must not be here: what the program thinks of itself.

mod another_craft;
mod asleep;

mod at_the_prompt;
mod board_clock;
mod every_board;
mod false_proofs;
mod first_contact;
mod heat;
mod hollow;
mod idle_written;

mod lag;
mod named;
mod noise;
mod pulled_cable;
mod review;
mod spent;
mod stale_frames;
mod stop_duty;
mod together;

mod typed_word;
mod unmeasured;
mod unread;

use crate::spy::{Act, Do, Played};
use quadjig::measure::time::Time;
use quadjig::seam::{Event, Key, SystemSignal};
use std::time::Duration;

/// Makes the event of something that demands a stop.
pub type Demand = fn() -> Event;

/// What a person, or the system, can do to have a program stop.
pub fn demands() -> Vec<(&'static str, Demand)> {
    vec![
        ("a key", || Event::Key(Key::Char(' '))),
        ("Ctrl-C", || Event::Key(Key::Interrupt)),
        ("a paste", || Event::Paste),
        ("INT", || Event::Signal(SystemSignal::Interrupt)),
        ("TERM", || Event::Signal(SystemSignal::Terminate)),
        ("HUP", || Event::Signal(SystemSignal::HangUp)),
        ("QUIT", || Event::Signal(SystemSignal::Quit)),
        ("a closed terminal", || Event::EndOfInput),
    ]
}

/// The demand once motors turn.
pub fn once_turning<'a>(demand: Demand) -> Act<'a> {
    Act::turning(150, vec![Do::Event(demand())])
}

/// A stop left in the very moment of the demand: when the event that was handed over begins so.
#[track_caller]
pub fn stopped_at_once(played: &Played, what: &str, event: &Event) {
    let words = format!("{event:?}");
    let at = played.log.event(&words);
    let at = at.unwrap_or_else(|| panic!("{what}: {words} never came\n{}", played.log.tail()));
    played.log.stops_within(at, Duration::ZERO, what);
}

/// Whatever ended the program, it did not leave motors turning without having stopped them.
#[track_caller]
pub fn did_not_leave_them_turning(played: &Played, what: &str) {
    let log = &played.log;
    let turned = log.truth.iter().rfind(|truth| truth.at <= played.ended).is_some_and(|truth| truth.fastest > 300.0);
    let started = log.truth.iter().find(|truth| truth.fastest > 300.0).map_or(Time::NEVER, |truth| truth.at);
    let stopped = log.stop_after(started).is_some();
    assert!(!turned || stopped, "{what}: it ended while motors turned, and never sent a stop\n{}", log.tail());
}
