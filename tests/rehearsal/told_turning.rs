//! Boards that tell no motor speeds: what is shown rests on what the operator says, and says so.

use super::kit::{Play, play, play_with, script};
use quadjig::rehearsal::operator::{Deed, Operator, Willing};
use quadjig::rehearsal::rehearse::willing;
use quadjig::rehearsal::simulated::Disk;
use quadjig::seam::Key;
use quadjig::seam::ui::{About, Gesture, Question};
use quadjig::virtual_board::{World, WorldConfig};
use std::time::Duration;

fn untold() -> WorldConfig {
    WorldConfig { speed_telemetry: false, ..WorldConfig::default() }
}

const SEARCH: &str = "idle start at 1090 step 10 until all spin, at most 1180\n";

#[test]
fn a_search_by_eye_finds_what_a_measured_one_does() {
    for config in [WorldConfig::default(), WorldConfig::default().late(3, 1134.0)] {
        let measured = play(&script(SEARCH), config.clone());
        let told = play(&script(SEARCH), WorldConfig { speed_telemetry: false, ..config });
        let kept = |play: &Play| play.rehearsed.idle.as_ref().and_then(|found| Some((found.lowest?, found.kept)));
        assert_eq!(told.rehearsed.result, Ok(()), "{:#?}", told.lines);
        assert!(kept(&told).is_some() && kept(&told) == kept(&measured), "{:?} {:?}", kept(&told), kept(&measured));
        assert!(told.told("Attested, \"At "), "{:#?}", told.lines);
        assert!(told.told("as you said: this board told no speeds"), "{:#?}", told.lines);
        assert!(!told.told("kept its speed, as measured"), "{:#?}", told.lines);
    }
}

/// An eye sees which motor begins after the others, where that takes 0.3 s or more; what takes less passes for at once, and
/// the question says so. One that is seen late has not started.
#[test]
fn an_eye_sees_a_motor_that_catches_late() {
    let search = script("idle start at 1060 step 25 until all spin, for 1 s, in 3 starts\n");
    for (twitches, is_seen) in [(0.35, true), (1.0, true), (0.25, false)] {
        let mut config = untold();
        (config.motors[2].prompt, config.motors[2].twitches) = (1155.0, twitches);
        let play = play(&search, config);
        assert_eq!(play.rehearsed.result, Ok(()), "{twitches}");
        let lowest = play.rehearsed.idle.as_ref().unwrap().lowest.unwrap();
        assert_eq!(lowest.0 >= 1155, is_seen, "{twitches} s late: {lowest}");
        assert!(play.told("An eye sees no start that is late by less than 0.3 s."), "{:#?}", play.lines);
    }
}

/// Presses a key at the first questions about what turned, then says what it saw.
struct Says {
    willing: Willing,
    keys: Vec<char>,
}

impl Operator for Says {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        if matches!(question.about, About::Told(_)) && !self.keys.is_empty() {
            return vec![(Duration::from_millis(900), Deed::Key(Key::Char(self.keys.remove(0))))];
        }
        self.willing.asked(question)
    }

    fn sees(&mut self, turned: &[(&'static str, bool)]) {
        self.willing.sees(turned);
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        self.willing.invited(gesture)
    }
}

fn says(lines: &str, keys: &[char]) -> Play {
    let config = untold();
    let mut operator = Says { willing: willing(&config), keys: keys.to_vec() };
    play_with(&script(lines), World::new(config), &mut operator, Disk::default())
}

/// Of each motor in each start that the run's log keeps: whether it turned.
fn kept(play: &Play) -> Vec<bool> {
    let log = play.rehearsed.disk.craft.iter().find(|(path, _)| path.starts_with("runs")).unwrap().1;
    let lines = std::str::from_utf8(log).unwrap().lines();
    let seen = lines.map(|line| serde_json::from_str::<serde_json::Value>(line).unwrap()["seen"].clone());
    let motors =
        seen.filter(|seen| seen["what"] == "start").flat_map(|seen| seen["motors"].as_array().unwrap().clone());
    motors.map(|motor| motor["turns"].as_bool().unwrap()).collect()
}

#[test]
fn again_counts_for_nothing_and_a_corner_that_is_named_fails() {
    let lines = "idle at 1150\nkeep\ntest idle in 2 starts\n";
    let again = says(lines, &['a']);
    assert_eq!(again.rehearsed.result, Ok(()), "{:#?}", again.lines);
    let words = again.lines.iter().filter(|line| line.contains("purpose: \"test of the idle\"")).count();
    assert_eq!(words, 2, "the start that is made again has its own word");
    assert!(again.told("2 of 2 starts, as you said"), "{:#?}", again.lines);
    assert_eq!(kept(&again), [true; 8], "what the page of the run draws");
    let failed = says(lines, &['3']);
    let told = format!("{:?}", failed.rehearsed.result);
    assert!(told.contains("rear right: failed, as you said"), "{told}");
}

/// A new motor signal, on a board that tells no speeds: each motor is asked about.
#[test]
fn a_signal_is_shown_by_word() {
    let lines = "signal dshot300 at 4 kHz\nkeep\npower cycle\n";
    let good = says(lines, &['a']);
    assert_eq!(good.rehearsed.result, Ok(()), "{:#?}", good.lines);
    assert!(good.told("Attested, \"Output 3 answers."), "{:#?}", good.lines);
    // What is written of the idle later takes nothing from it.
    let proofs = good.rehearsed.disk.craft.iter().find(|(path, _)| path.ends_with("proofs.jsonl")).unwrap().1;
    let proof: serde_json::Value = serde_json::from_slice(proofs).unwrap();
    let settings: Vec<&String> = proof["depends_on"].as_object().unwrap().keys().collect();
    assert_eq!(proof["subject"]["what"], "signal");
    assert_eq!(settings, ["MOTOR_SIGNAL"]);
    let bad = says(lines, &['t', 's', 's']);
    let told = format!("{:?}", bad.rehearsed.result);
    assert!(told.contains("no answer from output 2 (front right by the sheet)"), "{told}");
}
