//! A buzzer that the motors sound: a motor step of its own on three kinds of board, and what ends it.

use super::kit::{HEAD, Play, play, play_with};
use quadjig::board::{sheet_file, shipped, vocabulary};
use quadjig::language::sources::Memory;
use quadjig::rehearsal::operator::{Deed, Operator, Willing};
use quadjig::rehearsal::played::make_of;
use quadjig::rehearsal::rehearse::{Script, willing};
use quadjig::rehearsal::simulated::Disk;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, Gesture, Question, StartedBy};
use quadjig::virtual_board::{World, WorldConfig};
use std::path::Path;
use std::time::Duration;

const BOUND: &str =
    "switch C on channel 7 rests at 1000, 2000 on link loss flagged\nbind buzzer to switch C position 1\n";

/// A recipe for a board whose motors sound its buzzer.
fn script(stem: &str, lines: &str) -> Script {
    script_with(HEAD, stem, lines)
}

fn script_with(head: &str, stem: &str, lines: &str) -> Script {
    let shipped = shipped::SHEETS.iter().find(|sheet| sheet.stem == stem).unwrap();
    let text = shipped.text.replace("buzzer-by = \"buzzer\"", "buzzer-by = \"motors\"");
    assert_ne!(text, shipped.text);
    let sheet = sheet_file::read("sounding.toml", &text).unwrap();
    let head = head.replace("board \"Finch\"", &format!("board \"{}\"", shipped.name));
    let files = Memory::of([("wren.jig", format!("{head}{BOUND}keep\n{lines}"))]);
    let reading = vocabulary::read(&files, Path::new("wren.jig"), &[]);
    assert!(reading.findings.is_empty(), "{:#?}", reading.findings);
    Script { recipe: reading.recipe.unwrap(), sheets: vec![sheet], card: None }
}

fn world(script: &Script) -> WorldConfig {
    WorldConfig::default().made(make_of(&script.sheets[0]).unwrap())
}

fn stopped(play: &Play) -> String {
    match &play.rehearsed.result {
        Err(Fault::Stopped { reason, .. }) => reason.clone(),
        other => panic!(
            "{other:?}: {:#?}",
            play.lines.iter().filter(|line| !line.contains("Strip(")).rev().take(12).collect::<Vec<_>>()
        ),
    }
}

#[test]
fn it_is_heard_on_every_board_under_a_word_of_its_own() {
    for stem in ["finch", "finch-r", "finch-c"] {
        let script = script(stem, "test buzzer\n");
        let play = play(&script, world(&script));
        assert_eq!(play.rehearsed.result, Ok(()), "{stem}: {:#?}", play.lines);
        assert!(play.told("The buzzer is heard with switch C in position 1."), "{stem}");
        let asked =
            |line: &&String| line.contains("Asked(") && line.contains("by: Sound") && line.contains("Word(\"sound\")");
        assert_eq!(play.lines.iter().filter(asked).count(), 1, "{stem}");
        // It is asked before the switch is put on, and with the battery in.
        let first = |what: &str| play.lines.iter().position(|line| line.contains(what));
        let (word, on, plugged) = (first("by: Sound"), first("line: \"flip C 1\""), first("line: \"battery in\""));
        assert!(plugged < word && word < on && plugged.is_some(), "{stem}: {plugged:?} {word:?} {on:?}");
    }
}

/// Does all that is asked but what `Amiss` says.
enum Amiss {
    NotHeard,
    LeavesItOn,
    Arms,
}

struct Hand(Willing, Amiss, bool);

impl Operator for Hand {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        if let About::Motor(step) = &question.about {
            self.2 |= matches!(step.by, StartedBy::Sound { .. });
        }
        match (&question.about, &self.1) {
            (About::Buzzer, Amiss::NotHeard) => {
                vec![(Duration::from_millis(900), Deed::Key(quadjig::seam::Key::Char('n')))]
            }
            _ => self.0.asked(question),
        }
    }

    fn sees(&mut self, turned: &[(&'static str, bool)]) {
        self.0.sees(turned);
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        let mut deeds = self.0.invited(gesture);
        let to = |position: u32| matches!(gesture, Gesture::SwitchTo { switch, position: at } if switch.0 == "C" && *at == position);
        match self.1 {
            Amiss::LeavesItOn if self.2 && to(0) => deeds.clear(),
            Amiss::Arms if self.2 && to(1) => {
                deeds.push((Duration::from_millis(1200), Deed::World("flip B 2".to_owned())));
            }
            _ => {}
        }
        deeds
    }
}

fn with(amiss: Amiss) -> Play {
    played_by(&script("finch", "test buzzer\n"), amiss)
}

fn played_by(script: &Script, amiss: Amiss) -> Play {
    let config = world(script);
    let mut hand = Hand(willing(&config), amiss, false);
    play_with(script, World::new(config), &mut hand, Disk::default())
}

#[test]
fn what_is_not_heard_is_not_proved() {
    let play = with(Amiss::NotHeard);
    assert!(
        matches!(&play.rehearsed.result, Err(Fault::Unproved(why)) if why.contains("not heard")),
        "{:?}",
        play.rehearsed.result
    );
}

#[test]
fn a_switch_that_is_left_on_is_stopped_after_three_seconds() {
    assert_eq!(stopped(&with(Amiss::LeavesItOn)), "the motors were to sound for 3 s at most");
}

#[test]
fn an_arming_while_they_sound_is_stopped() {
    // The flag or the outputs, whichever is heard first.
    let why = stopped(&with(Amiss::Arms));
    assert!(
        why == "the board armed where the motors were to sound" || why.contains("motor is driven at 1050 us"),
        "{why}"
    );
}

/// On a craft whose motors rest at zero throttle no output tells of it.
#[test]
fn an_arming_that_turns_nothing_is_stopped_too() {
    let head = HEAD.replace("at zero throttle spin", "at zero throttle rest");
    let play = played_by(&script_with(&head, "finch", "test buzzer\n"), Amiss::Arms);
    assert_eq!(stopped(&play), "the board armed where the motors were to sound");
}

#[test]
fn a_motor_that_turns_by_its_sound_is_stopped() {
    let script = script("finch", "test buzzer\n");
    let mut config = world(&script);
    config.conduct.sound_turns = true;
    assert_eq!(stopped(&play(&script, config)), "a motor turns where it was to sound");
}

/// Puts the buzzer's switch on as the radio is proved before a plug-in.
struct On(Willing);

impl Operator for On {
    fn asked(&mut self, question: &Question) -> Vec<(Duration, Deed)> {
        self.0.asked(question)
    }

    fn invited(&mut self, gesture: &Gesture) -> Vec<(Duration, Deed)> {
        let mut deeds = self.0.invited(gesture);
        if matches!(gesture, Gesture::WiggleRoll) {
            deeds.push((Duration::ZERO, Deed::World("flip C 1".to_owned())));
        }
        deeds
    }
}

/// The battery goes in under the same condition as for an arm switch: nothing sounds at a plug-in.
#[test]
fn no_battery_goes_in_while_its_switch_is_on() {
    let script = script("finch", "require battery in\n");
    let config = world(&script);
    let mut operator = On(willing(&config));
    let play = play_with(&script, World::new(config), &mut operator, Disk::default());
    let why = format!("{:?}", play.rehearsed.result);
    assert!(why.contains("buzzer's switch, which has the motors sound, is on"), "{why}");
    assert!(!play.told("line: \"battery in\""), "{why}");
}
