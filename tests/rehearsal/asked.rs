//! What a motor question takes from the board's sheet, and what a run that came to nothing says of itself.

use super::kit::{play_moved, play_with, script_for};
use quadjig::rehearsal::operator::{Deed, Operator};
use quadjig::rehearsal::rehearse::willing;
use quadjig::rehearsal::simulated::Disk;
use quadjig::seam::Key;
use quadjig::seam::ui::{Gesture, Question};
use quadjig::virtual_board::{World, WorldConfig};
use std::time::Duration;

/// Where USB feeds the motors, the battery being out stops none: a change is asked for, and its question says so.
#[test]
fn a_change_on_a_board_that_feeds_its_motors_from_usb_says_so() {
    let changes = |fed: bool| {
        let mut script = script_for("Finch", "idle at 1120 us\n");
        script.sheets[0].usb_feeds_motors = fed;
        let world: &[&str] = if fed { &["feed usb"] } else { &[] };
        let play = play_moved(&script, world, Disk::default(), WorldConfig::default());
        assert_eq!(play.rehearsed.result, Ok(()), "{:#?}", play.lines);
        let asked = play.lines.into_iter().filter(|line| line.contains("by: Change"));
        asked.map(|line| line.contains("on_usb: true")).collect::<Vec<_>>()
    };
    let fed = changes(true);
    assert!(!fed.is_empty() && fed.iter().all(|on_usb| *on_usb), "{fed:?}");
    assert!(changes(false).is_empty());
}

/// Nothing was asked of the board: no hand has to go to a battery, and the same again brings the same.
#[test]
fn a_plan_that_is_refused_says_that_nothing_was_written() {
    let play = play_moved(&script_for("Finch", "test arm\n"), &[], Disk::default(), WorldConfig::default());
    assert!(play.told("no switch that is known arms this craft"), "{:#?}", play.lines);
    assert!(play.told("\"Nothing was written.\""), "{:#?}", play.lines);
    assert!(!play.told("start again"), "{:#?}", play.lines);
}

/// Says no to the first question.
struct Unwilling;

impl Operator for Unwilling {
    fn asked(&mut self, _question: &Question) -> Vec<(Duration, Deed)> {
        vec![(Duration::from_secs(1), Deed::Key(Key::Escape))]
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        willing(&WorldConfig::default()).invited(gesture)
    }
}

#[test]
fn a_question_that_was_declined_is_told_as_one_sentence() {
    let script = script_for("Finch", "idle at 1120 us\n");
    let play = play_with(&script, World::new(WorldConfig::default()), &mut Unwilling, Disk::default());
    assert!(play.told("\"Is the battery out: declined\""), "{:#?}", play.lines);
    assert!(!play.told("quadjig restore"), "nothing to bring back: {:#?}", play.lines);
}
