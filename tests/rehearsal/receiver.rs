//! A craft whose board is set for another receiver than it has: what the recipe says of it is in force before arm is bound.

use super::kit::{BOARDS, Play, play_with, script_for};
use quadjig::rehearsal::operator::{Deed, Operator, Willing};
use quadjig::rehearsal::played::make_for;
use quadjig::rehearsal::rehearse::willing;
use quadjig::rehearsal::simulated::Disk;
use quadjig::seam::Key;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, Gesture, Question};
use quadjig::virtual_board::{World, WorldConfig};
use std::time::Duration;

/// Everything as it is asked, and no second try of what did not come.
struct GivesUp(Willing);

impl Operator for GivesUp {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        if question.about == About::Choice {
            return vec![(Duration::from_secs(1), Deed::Key(Key::Char('g')))];
        }
        self.0.asked(question)
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        self.0.invited(gesture)
    }
}

/// On a craft whose receiver speaks the board's second protocol, on this port; the board is set for the first, on port 2.
fn play(board: &str, lines: &str, port: u16) -> Play {
    let script = script_for(board, lines);
    let mut config = WorldConfig { make: Some(make_for(&script.sheets).unwrap()), ..WorldConfig::default() };
    (config.receiver.protocol, config.receiver.port) = (1, port);
    let mut hands = GivesUp(willing(&config));
    play_with(&script, World::new(config), &mut hands, Disk::default())
}

const BOUND: &str = "receiver sbus on port 3
switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged
bind arm to switch B position 2
keep
require throttle low
";

#[test]
fn a_receiver_that_is_set_is_heard_before_arm_is_bound() {
    for board in BOARDS {
        let play = play(board, BOUND, 3);
        assert_eq!(play.rehearsed.result, Ok(()), "{board}: {:#?}", play.lines);
        let at = |what: &str| play.lines.iter().position(|line| line.contains(what));
        let bound = play.lines.iter().rposition(|line| line.contains("Line(Good, \"arm: "));
        let (set, heard) = (at("receiver-port = 3"), at("Restarted"));
        assert!(
            set.is_some() && set < heard && heard < bound,
            "{board}: {set:?} {heard:?} {bound:?}: {:#?}",
            play.lines
        );
        assert!(!play.told("Nothing is heard of the radio"), "{board}: {:#?}", play.lines);
    }
}

#[test]
fn with_another_receiver_than_it_has_arm_is_not_bound_and_it_is_said_why() {
    for board in BOARDS {
        let play = play(board, BOUND, 4);
        assert!(matches!(play.rehearsed.result, Err(Fault::TimedOut { .. })), "{board}: {:?}", play.rehearsed.result);
        let why = "Arm is not bound while its switch is not heard. Nothing is heard of the radio.";
        assert!(
            play.told(why) && play.told("is the board set for the receiver that it has"),
            "{board}: {:#?}",
            play.lines
        );
        assert!(!play.told("stands inside the new band"), "{board}: {:#?}", play.lines);
    }
}

/// Nobody pulls at a stick that is down already.
#[test]
fn a_throttle_that_is_not_heard_is_told_apart_from_one_that_is_up() {
    let play = play("Finch", "require throttle low\n", 3);
    assert!(matches!(play.rehearsed.result, Err(Fault::TimedOut { .. })), "{:?}", play.rehearsed.result);
    assert!(play.told("Nothing is heard of the radio."), "{:#?}", play.lines);
}
