//! Sticks in a whole run, on three kinds of board: found wherever they are, tested against what is asked.

use super::kit::{BOARDS, Play, plain, play_moved as play, play_with, script_for as script};
use quadjig::board::radio_card_file;
use quadjig::language::recipe::Stick;
use quadjig::rehearsal::operator::{Deed, Operator, Willing};
use quadjig::rehearsal::rehearse::willing;
use quadjig::rehearsal::simulated::Disk;
use quadjig::seam::Key;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{Gesture, Question};
use quadjig::virtual_board::{World, WorldConfig};
use std::time::Duration;

/// Channel and reversal of roll, pitch, throttle, yaw on the craft's own card.
fn card(play: &Play) -> [(u32, bool); 4] {
    let (_, text) = play
        .rehearsed
        .disk
        .craft
        .iter()
        .find(|(path, _)| path.ends_with("radio-card.toml"))
        .expect("the craft has a card of its own");
    let card = radio_card_file::read("radio.toml", std::str::from_utf8(text).unwrap()).unwrap();
    assert!(card.is_virtual);
    Stick::ALL.map(|stick| (card.sticks[&stick].channel, card.sticks[&stick].reversed))
}

#[test]
fn sticks_are_found_as_they_are_on_every_board_and_confirmed_the_second_time() {
    for board in BOARDS {
        let first = plain(board, "find sticks\n", &[]);
        assert_eq!(first.rehearsed.result, Ok(()), "{board}: {:#?}", first.lines);
        assert_eq!(card(&first), [(1, false), (2, false), (3, false), (4, false)], "{board}");
        assert!(!first.told("another order"), "{:#?}", first.lines);
        let told = |line: &String| line.contains("Written to the radio card, ") && line.contains("radio-card.toml");
        assert!(first.lines.iter().any(told), "{:#?}", first.lines);
        let crossed = plain(board, "find sticks\n", &["cross roll yaw", "reverse pitch"]);
        assert_eq!(crossed.rehearsed.result, Ok(()), "{board}: {:#?}", crossed.lines);
        assert_eq!(card(&crossed), [(4, false), (2, true), (3, false), (1, false)], "{board}");
        assert!(crossed.told("write `channels yaw, pitch, throttle, roll`"), "{board}: {:#?}", crossed.lines);
        assert!(crossed.told("Turn it round in the radio"), "{board}: {:#?}", crossed.lines);
        assert!(first.rehearsed.changed.is_empty() && crossed.rehearsed.changed.is_empty(), "nothing is written");
        let again = play(&script(board, "find sticks\n"), &[], first.rehearsed.disk, WorldConfig::default());
        assert_eq!(again.rehearsed.result, Ok(()), "{board}: {:#?}", again.lines);
        assert!(again.told("The sticks rest as the radio card has them") && !again.told("HoldStick"), "{board}");
    }
}

/// Moves roll for yaw and yaw for roll, the first so many times.
struct Swaps {
    willing: Willing,
    times: u32,
    /// What it answers where hand and board differ.
    right: char,
    asked: Vec<String>,
}

impl Swaps {
    fn new(config: &WorldConfig, times: u32, right: char) -> Self {
        Self { willing: willing(config), times, right, asked: Vec::new() }
    }
}

impl Operator for Swaps {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        if question.title.starts_with("Hand and board differ") {
            self.asked.push(question.lines.join("\n"));
            return vec![(Duration::from_secs(1), Deed::Key(Key::Char(self.right)))];
        }
        self.willing.asked(question)
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        let mut gesture = gesture.clone();
        if let Gesture::HoldStick { stick, .. } = &mut gesture
            && let other @ (Stick::Roll | Stick::Yaw) = *stick
            && self.times > 0
        {
            self.times -= 1;
            *stick = if other == Stick::Roll { Stick::Yaw } else { Stick::Roll };
        }
        self.willing.invited(&gesture)
    }
}

/// A board that takes the sticks otherwise may be a hand that took one for another: it is asked for once more, in other
/// words, before the board is said to have another order.
#[test]
fn two_sticks_moved_for_each_other_are_no_other_order() {
    let config = WorldConfig::default();
    let mut operator = Swaps::new(&config, 2, 'h');
    let found = play_with(&script("Finch", "find sticks\n"), World::new(config), &mut operator, Disk::default());
    assert_eq!(found.rehearsed.result, Ok(()), "{:#?}", found.lines);
    assert!(found.told("the one that banks the craft to its left"), "{:#?}", found.lines);
    assert!(found.told("the roll stick moved channel 4 at first, and another now"), "{:#?}", found.lines);
    assert_eq!(card(&found), [(1, false), (2, false), (3, false), (4, false)]);
    assert!(!found.told("another order") && operator.asked.is_empty(), "{:#?}", found.lines);
}

/// A hand that takes one stick for the other every time looks like another order in the radio: nobody but the person tells
/// the two apart, so nothing is kept before it was asked, stick by stick.
#[test]
fn a_hand_that_swaps_every_time_is_asked_who_is_right_before_anything_is_kept() {
    let config = WorldConfig::default();
    let play = |right: char| {
        let mut operator = Swaps::new(&config, u32::MAX, right);
        let script = script("Finch", "find sticks\n");
        let found = play_with(&script, World::new(config.clone()), &mut operator, Disk::default());
        (found, operator.asked)
    };
    let differ = "roll, which banks the craft to its left: you moved channel 4, the board takes channel 1\n\
        yaw, which turns the nose of the craft to the left: you moved channel 1, the board takes channel 4";
    let (found, asked) = play('b');
    assert_eq!(asked, [differ; 3], "{:#?}", found.lines);
    let Err(Fault::NotFound(why)) = &found.rehearsed.result else { panic!("{:#?}", found.lines) };
    assert!(why.contains("one stick may have been taken for another"), "{why}");
    // Nothing is worked where that is asked: one key alone ends it there.
    assert!(found.told("It is asked for again; Ctrl-C ends it"), "{:#?}", found.lines);
    assert!(found.rehearsed.disk.craft.keys().all(|path| !path.ends_with("radio-card.toml")), "no card");
    assert!(!found.told("another order"), "{:#?}", found.lines);

    let (found, asked) = play('h');
    assert_eq!((&found.rehearsed.result, asked), (&Ok(()), vec![differ.to_owned()]), "{:#?}", found.lines);
    assert!(found.told("Each stick that was moved is the one that was asked."), "{:#?}", found.lines);
    assert!(found.told("write `channels yaw, pitch, throttle, roll`"), "{:#?}", found.lines);
}

#[test]
fn a_reversed_throttle_is_found_and_a_mix_is_told() {
    let found = plain("Finch", "find sticks\n", &["reverse throttle", "stick throttle -100%", "mix roll pitch 70%"]);
    assert_eq!(found.rehearsed.result, Ok(()), "{:#?}", found.lines);
    assert_eq!(card(&found), [(1, false), (2, false), (3, true), (4, false)]);
    assert!(found.told("The roll stick moves channel 1; channel 2 moves along."), "{:#?}", found.lines);
}

#[test]
fn a_card_of_another_radio_stops_the_run() {
    let disk = plain("Finch", "find sticks\n", &["cross roll throttle"]).rehearsed.disk;
    let other = play(&script("Finch", "find sticks\n"), &[], disk, WorldConfig::default());
    let Err(Fault::NotFound(why)) = &other.rehearsed.result else { panic!("{:#?}", other.lines) };
    assert!(why.contains("find sticks anew"), "{why}");
}

#[test]
fn sticks_that_cannot_be_told_apart_are_asked_for_again_and_never_guessed() {
    let both = plain("Finch", "find sticks\n", &["mix roll pitch 100%", "mix pitch roll 100%"]);
    let Err(Fault::NotFound(why)) = &both.rehearsed.result else { panic!("{:#?}", both.lines) };
    assert!(why.contains("channels 1, 2 moved and can't be told apart"), "{why}");
    assert!(both.told("It is asked for again; any key ends it"), "{:#?}", both.lines);
    assert!(both.rehearsed.disk.craft.keys().all(|path| !path.ends_with("radio-card.toml")), "no card");
}

/// Another channel order on the board than in the radio, put right by `channels`: what is written is what the test then
/// goes by, and the throttle that guards everything is the one that moves.
#[test]
fn channels_that_differ_are_written_and_tested() {
    for board in BOARDS {
        let world = ["cross throttle roll", "stick throttle -100%"];
        let wrong = plain(board, "test sticks\n", &world);
        let Err(Fault::Unproved(why)) = &wrong.rehearsed.result else { panic!("{board}: {:#?}", wrong.lines) };
        assert!(why.contains("roll moves channel 3, and the board takes it from channel 1"), "{board}: {why}");
        let lines = "channels throttle, pitch, roll, yaw\nkeep\nfind sticks\ntest sticks\nrequire throttle low\n";
        let right = plain(board, lines, &world);
        assert_eq!(right.rehearsed.result, Ok(()), "{board}: {:#?}", right.lines);
        assert!(right.told("Every stick is as asked"), "{board}: {:#?}", right.lines);
        let changed: Vec<&str> = right.rehearsed.changed.keys().map(String::as_str).collect();
        assert_eq!(changed, ["ROLL_CHANNEL", "THR_CHANNEL"], "{board}");
        assert!(right.told("Throttle low: 98"), "{board}: {:#?}", right.lines);
    }
}

#[test]
fn what_is_off_is_said_with_what_to_dial_in() {
    for board in BOARDS {
        let off = plain(board, "test sticks\n", &["trim yaw 12", "mix roll yaw 20%"]);
        let Err(Fault::Unproved(why)) = &off.rehearsed.result else { panic!("{board}: {:#?}", off.lines) };
        // Yaw rests 2 us high as the craft comes: 14 of half a travel of 500 are 2.8 %.
        assert!(why.contains("yaw its centre is 1514 us, 14 us too high: sub-trim -14 us, -2.8 %"), "{board}: {why}");
        assert!(why.contains("roll moves channel 4 along by 20 %"), "{board}: {why}");
        let asks = "test sticks centre 1500 within 5 ends 1000 to 2000 within 10\n";
        let short = plain(board, asks, &[]);
        let Err(Fault::Unproved(why)) = &short.rehearsed.result else { panic!("{board}: {:#?}", short.lines) };
        assert!(why.contains("its lower end is 988 us, 12 us too low: end point to 97."), "{board}: {why}");
    }
}

/// The proof stands in the record, with the channels that it depends on.
#[test]
fn a_test_is_kept_as_a_proof() {
    let play = plain("Finch", "test sticks\n", &[]);
    assert_eq!(play.rehearsed.result, Ok(()), "{:#?}", play.lines);
    let proofs = play.rehearsed.disk.craft.iter().find(|(path, _)| path.ends_with("proofs.jsonl")).unwrap().1;
    let proof: serde_json::Value = serde_json::from_slice(proofs).unwrap();
    assert_eq!(proof["subject"]["what"], "sticks");
    let depends: Vec<&String> = proof["depends_on"].as_object().unwrap().keys().collect();
    assert_eq!(depends, ["PITCH_CHANNEL", "ROLL_CHANNEL", "THR_CHANNEL", "YAW_CHANNEL"]);
}

#[test]
fn a_fleet_is_found_and_tested() {
    for seed in 0..20 {
        let play =
            play(&script("Finch", "find sticks\ntest sticks\n"), &[], Disk::default(), WorldConfig::spread(seed));
        assert_eq!(play.rehearsed.result, Ok(()), "craft {seed}: {:#?}", play.lines);
        assert_eq!(card(&play), [(1, false), (2, false), (3, false), (4, false)], "craft {seed}");
    }
}
