//! A craft that is not level: no motor turns until it is, in truth.

use super::kit::{Play, play_with, script};
use quadjig::language::units::Pulse;
use quadjig::rehearsal::operator::{Deed, Operator, Willing};
use quadjig::rehearsal::rehearse::willing;
use quadjig::rehearsal::simulated::Disk;
use quadjig::seam::exit::Exit;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{Gesture, Question};
use quadjig::virtual_board::{World, WorldConfig};
use std::time::Duration;

const SEARCH: &str = "idle start at 1060 step 25 until all spin, for 1 s, in 3 starts\n";

/// Willing, but deaf to so many invitations to put the craft level.
struct Careless {
    willing: Willing,
    deaf: u32,
    heard: u32,
}

impl Operator for Careless {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        self.willing.asked(question)
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        if matches!(gesture, Gesture::Level { .. }) {
            self.heard += 1;
            if self.heard <= self.deaf {
                return Vec::new();
            }
        }
        self.willing.invited(gesture)
    }
}

/// Plays on a craft that stands tilted; gives the play and how often level was asked for.
fn tilted(lines: &str, roll: f64, pitch: f64, deaf: u32) -> (Play, u32) {
    let config = WorldConfig { attitude: [roll, pitch, 40.0], ..WorldConfig::default() };
    let mut operator = Careless { willing: willing(&config), deaf, heard: 0 };
    let play = play_with(&script(lines), World::new(config), &mut operator, Disk::default());
    (play, operator.heard)
}

fn starts(play: &Play) -> u64 {
    let truth = play.rehearsed.board.truth();
    truth["motors"].as_array().unwrap().iter().map(|motor| motor["starts"].as_u64().unwrap()).sum()
}

#[test]
fn it_waits_until_the_craft_is_level() {
    for lines in [format!("require level within 2 deg\n{SEARCH}"), SEARCH.to_owned()] {
        let (play, heard) = tilted(&lines, 4.5, -1.0, 1);
        assert_eq!(play.rehearsed.result, Ok(()), "{:#?}", play.lines[play.lines.len().saturating_sub(12)..].to_vec());
        assert_eq!(heard, 2, "the first invitation is ignored, the second is followed");
        assert!(play.told("Raise the right side."));
        assert_eq!(play.rehearsed.idle.unwrap().kept, Pulse(1160));
    }
}

#[test]
fn a_craft_that_nobody_levels_turns_no_motor() {
    for lines in [format!("require level within 2 deg\n{SEARCH}"), SEARCH.to_owned()] {
        let (play, heard) = tilted(&lines, 4.5, -1.0, u32::MAX);
        let fault = play.rehearsed.result.clone().unwrap_err();
        assert!(matches!(fault, Fault::TimedOut { .. }), "{fault}");
        assert_eq!(fault.exit(), Exit::Stopped);
        assert!(heard > 1, "it is said more than once");
        assert_eq!(starts(&play), 0, "no motor was driven, in truth");
    }
}

/// A tilt that the recipe allows can still push the motors apart: such a start does not count, and the search goes
/// on once the craft stands better.
#[test]
fn a_start_against_the_stabiliser_does_not_count() {
    let (play, heard) = tilted(&format!("require level within 2 deg\n{SEARCH}"), 1.4, 1.2, 0);
    assert_eq!(play.rehearsed.result, Ok(()), "{:#?}", play.lines[play.lines.len().saturating_sub(12)..].to_vec());
    assert_eq!(heard, 1);
    assert!(
        play.told("This start does not count: the stabiliser works against a tilt. Raise the right side and the tail.")
    );
    assert_eq!(play.rehearsed.idle.unwrap().kept, Pulse(1160));

    let (play, _) = tilted(&format!("require level within 2 deg\n{SEARCH}"), 1.4, 1.2, u32::MAX);
    assert_eq!(play.rehearsed.result.unwrap_err().exit(), Exit::Stopped);
    assert!(!play.rehearsed.changed.contains_key("IDLE_US"), "the old idle is put back");
}
