//! A rehearsal always ends, whatever its operator does or leaves undone.

use super::kit::{play_with, script};
use quadjig::rehearsal::operator::{Deed, Operator, Willing};
use quadjig::rehearsal::rehearse::willing;
use quadjig::rehearsal::simulated::Disk;
use quadjig::seam::exit::Exit;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, Gesture, Question};
use quadjig::virtual_board::{World, WorldConfig};
use std::time::Duration;

/// Willing until the first question about motors; then `deeds`.
struct Tired {
    willing: Willing,
    deeds: Vec<(Duration, Deed)>,
}

impl Operator for Tired {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        if matches!(question.about, About::Motor(_)) { self.deeds.clone() } else { self.willing.asked(question) }
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        self.willing.invited(gesture)
    }
}

/// Why a question cannot be answered.
const NOBODY: &str = "there is no terminal with a person at it to answer";

fn ends(deeds: Vec<(Duration, Deed)>) -> (Fault, Duration) {
    let config = WorldConfig::default();
    let mut operator = Tired { willing: willing(&config), deeds };
    let script = script("test arm\nidle start at 1100 step 25 until all spin\n");
    let play = play_with(&script, World::new(config), &mut operator, Disk::default());
    let starts: u64 = play.rehearsed.board.truth()["motors"]
        .as_array()
        .unwrap()
        .iter()
        .map(|motor| motor["starts"].as_u64().unwrap())
        .sum();
    assert_eq!(starts, 0, "no motor was driven, in truth");
    (play.rehearsed.result.unwrap_err(), Duration::from_micros(play.rehearsed.took.0))
}

#[test]
fn a_question_that_nobody_answers_is_given_up() {
    let (fault, took) = ends(Vec::new());
    // Only a word says that the battery is out, so that whatever could turn is stopped.
    assert!(matches!(&fault, Fault::Stopped { reason, confirmed: true, .. } if reason.contains(NOBODY)), "{fault}");
    assert_eq!(fault.exit(), Exit::Stopped);
    assert!((600..660).contains(&took.as_secs()), "{took:?}");
}

#[test]
fn an_operator_who_walks_away_ends_it_at_once() {
    let (fault, took) = ends(vec![(Duration::from_secs(2), Deed::Leave)]);
    // Only a word says that the battery is out, so that whatever could turn is stopped.
    assert!(matches!(&fault, Fault::Stopped { reason, confirmed: true, .. } if reason.contains(NOBODY)), "{fault}");
    assert!(took.as_secs() < 60, "{took:?}");
}
