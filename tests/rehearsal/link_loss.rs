//! A receiver that holds every channel: the loss can be recorded, what to change is said, and arm is refused.

use super::kit::{Play, play_with};
use quadjig::board::{shipped, vocabulary};
use quadjig::language::sources::Memory;
use quadjig::rehearsal::operator::{Deed, Operator, Willing};
use quadjig::rehearsal::rehearse::{Script, willing};
use quadjig::rehearsal::simulated::Disk;
use quadjig::seam::Key;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, Gesture, Question};
use quadjig::virtual_board::{OnLoss, World, WorldConfig};
use std::path::Path;
use std::time::Duration;

const RECIPE: &str = "recipe \"Wren 95\"
edition 1
craft quad x
board \"Finch\"
require battery out
switch B on channel 6 rests at 1000, 1500, 2000
find link loss
";

/// Does all that is asked, but answers the question of the radio with a key of its own, or never touches the radio.
struct Hands {
    willing: Willing,
    answer: char,
    idle: bool,
}

impl Operator for Hands {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        if question.about == About::Choice {
            return vec![(Duration::from_secs(1), Deed::Key(Key::Char(self.answer)))];
        }
        self.willing.asked(question)
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        match gesture {
            Gesture::Radio { .. } if self.idle => Vec::new(),
            _ => self.willing.invited(gesture),
        }
    }
}

fn play(lines: &str, answer: char, idle: bool) -> Play {
    let mut config = WorldConfig::default();
    config.receiver.on_loss = OnLoss::Hold;
    let words: Vec<&str> = vocabulary::WORDS.iter().map(|word| word.word).collect();
    let files = Memory::of([("wren.jig", format!("{RECIPE}{lines}"))]);
    let recipe = quadjig::language::read(&files, Path::new("wren.jig"), &[], &words).recipe.unwrap();
    let script = Script { recipe, sheets: vec![shipped::sheet("finch").unwrap().unwrap()], card: None };
    let mut hands = Hands { willing: willing(&config), answer, idle };
    play_with(&script, World::new(config), &mut hands, Disk::default())
}

#[test]
fn a_receiver_that_holds_is_recorded_by_the_operators_word() {
    let held = play("", 'o', false);
    assert_eq!(held.rehearsed.result, Ok(()));
    assert!(held.told("Was the radio really off, both times?"));
    assert!(held.told("channel 6 holds") && held.told("Set the receiver's own link loss to no output"));
    let radio = held.lines.iter().filter(|line| line.contains("Switch the radio on again."));
    assert!(radio.count() >= 2, "nothing shows that it is on again, so it is asked for");
    assert!(held.rehearsed.board.truth()["radio"]["on"].as_bool().unwrap(), "the radio is on at the end");
}

#[test]
fn arm_is_refused_behind_it() {
    let bound = play("bind arm to switch B position 2\nkeep\n", 'o', false);
    let fault = bound.rehearsed.result.unwrap_err();
    assert!(fault.to_string().contains("on link loss channel 6 stays where it was"), "{fault}");
}

#[test]
fn without_the_word_nothing_is_recorded() {
    for idle in [false, true] {
        let unsure = play("", 'n', idle);
        let fault = unsure.rehearsed.result.clone().unwrap_err();
        assert!(matches!(fault, Fault::NotFound(_)), "{fault}");
        assert!(fault.to_string().contains("find it again, and switch the radio off when asked"), "{fault}");
        assert!(!unsure.told("channel 6 holds"));
    }
}
