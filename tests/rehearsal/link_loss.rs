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

/// Does all that is asked, but answers the question of the radio with a key of its own, or never touches the radio, or its
/// switches the first so many times, or leaves these where they were last.
struct Hands {
    willing: Willing,
    answer: char,
    idle: bool,
    forgets: u32,
    leaves: bool,
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
            Gesture::AllSwitches { last: true } if self.forgets > 0 => {
                self.forgets -= 1;
                Vec::new()
            }
            Gesture::AllSwitches { last: false } if self.leaves => Vec::new(),
            _ => self.willing.invited(gesture),
        }
    }
}

fn play(lines: &str, answer: char, idle: bool) -> Play {
    with(OnLoss::Hold, lines, |willing| Hands { willing, answer, idle, forgets: 0, leaves: false })
}

fn with(on_loss: OnLoss, lines: &str, hands: impl Fn(Willing) -> Hands) -> Play {
    let mut config = WorldConfig::default();
    config.receiver.on_loss = on_loss;
    let files = Memory::of([("wren.jig", format!("{RECIPE}{lines}"))]);
    let recipe = vocabulary::read(&files, Path::new("wren.jig"), &[]).recipe.unwrap();
    let script = Script { recipe, sheets: vec![shipped::sheet("finch").unwrap().unwrap()], card: None };
    let mut hands = hands(willing(&config));
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

/// Switches that were not seen to move show no living radio: what is missing is said, and nothing goes on without it.
#[test]
fn a_radio_that_was_never_seen_to_move_tells_nothing() {
    let fixed = || OnLoss::Fixed(vec![Some(1500), Some(1500), Some(950), Some(1500), None, Some(990)]);
    let hands = |forgets| move |willing| Hands { willing, answer: 'g', idle: false, forgets, leaves: false };
    let late = with(fixed(), "", hands(1));
    assert_eq!(late.rehearsed.result, Ok(()), "{:#?}", late.lines);
    assert!(late.told("No channel has moved since the switches stood at 0"), "{:#?}", late.lines);
    // The switch's channel moved, so it is told; the sticks' did not.
    assert!(late.told("channel 6 goes to 990 us"), "{:#?}", late.lines);
    assert!(late.told("Not told, as it stood at one pulse both times: whether channel 1, 2, "), "{:#?}", late.lines);
    let never = with(fixed(), "", hands(u32::MAX));
    assert!(matches!(never.rehearsed.result, Err(Fault::TimedOut { .. })), "{:?}", never.rehearsed.result);
    assert!(!never.told("On link loss"), "{:#?}", never.lines);
}

/// What follows begins with every switch at 0: one that was left elsewhere is named as the person calls it.
#[test]
fn a_switch_that_was_not_put_back_is_named() {
    let play =
        |leaves| with(OnLoss::Flagged, "", |willing| Hands { willing, answer: 'g', idle: false, forgets: 0, leaves });
    let (back, left) = (play(false), play(true));
    assert_eq!((&back.rehearsed.result, &left.rehearsed.result), (&Ok(()), &Ok(())), "{:#?}", left.lines);
    // Channel 7 is another switch of this radio, which the recipe does not know.
    assert!(left.told("Not back where it was with all switches at 0: switch B, channel 7"), "{:#?}", left.lines);
    assert!(!back.told("Not back"), "{:#?}", back.lines);
}
