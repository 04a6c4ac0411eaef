//! The whole attended run of a first craft as it stands on a terminal: how long it is, and what it must not leave out.

use quadjig::board::{shipped, vocabulary};
use quadjig::language::sources::Disk;
use quadjig::rehearsal::rehearse::{Script, rehearse, willing};
use quadjig::rehearsal::simulated::{Disk as Files, TranscriptEvent};
use quadjig::report::screen::{Screen, Style};
use quadjig::seam::Key;
use quadjig::seam::ui::{About, IdleFound, Motors, Question, StartedBy, UiEvent};
use quadjig::virtual_board::{World, WorldConfig};
use quadjig::world::screen::{Drawn, Screen as _};
use std::collections::BTreeMap;
use std::path::Path;

/// What an operator went through.
#[derive(Default)]
pub(super) struct Went {
    pub(super) lines: Vec<String>,
    pub(super) keys: usize,
    pub(super) questions: Vec<(Question, String)>,
    pub(super) idle: Option<IdleFound>,
}

impl Went {
    /// As the terminal has it: never two empty lines in a row.
    fn print(&mut self, lines: Vec<String>) {
        for line in lines {
            if !(line.is_empty() && self.lines.last().is_none_or(String::is_empty)) {
                self.lines.push(line);
            }
        }
    }
}

pub(super) fn went(recipe: &str, width: usize) -> Went {
    let reading = vocabulary::read(&Disk, Path::new(recipe), &[]);
    let sheets = vec![shipped::sheet("finch").unwrap().unwrap()];
    let script = Script { recipe: reading.recipe.unwrap(), sheets, card: None };
    let config = WorldConfig::default();
    let mut operator = willing(&config);
    let screen = Screen::new(Style::default());
    let mut went = Went::default();
    let (mut typed, mut prompt) = (String::new(), String::new());
    let rehearsed = rehearse(&script, World::new(config), &mut operator, Files::default(), |_, seen| match *seen {
        TranscriptEvent::Asked(question) => {
            let lines = screen.question(question, width);
            typed.clear();
            prompt = screen.prompt(question, width);
            went.questions.push((question.clone(), format!("{}\n{prompt}", lines.join("\n"))));
            went.print(lines);
        }
        TranscriptEvent::Pressed(key) => {
            went.keys += 1;
            if let Key::Char(c) = key {
                typed.push(c);
            }
        }
        TranscriptEvent::Answered(yes) => {
            went.print(vec![format!("{prompt}{typed}")]);
            went.print(screen.closed(yes));
        }
        TranscriptEvent::Shown(shown) => {
            if let UiEvent::Idle(found) = shown {
                went.idle = Some(found.clone());
            }
            if let Drawn::Lines(lines) | Drawn::Urgent(lines) = screen.shown(shown, width) {
                went.print(lines);
            }
        }
        _ => {}
    });
    assert_eq!(rehearsed.result, Ok(()));
    went
}

/// It took 677 lines before questions were drawn closer and those that come again in short.
#[test]
fn a_first_craft_is_set_up_within_half_the_lines() {
    let went = went("recipes/first-craft.jig", 80);
    insta::assert_snapshot!(went.lines.join("\n"));
    assert!(went.lines.len() <= 677 / 2, "{} lines", went.lines.len());
    assert!(went.lines.iter().all(|line| line.chars().count() <= 80));
    // No step goes by without its number.
    let number = |line: &String| line.trim_start().strip_prefix("step ")?.split_once('/')?.0.parse::<usize>().ok();
    let numbers: Vec<usize> = went.lines.iter().filter_map(number).collect();
    assert!(numbers.len() > 20 && numbers.iter().copied().eq(1..=numbers.len()), "{numbers:?}");
}

/// Every field of a motor question that `safety.md` names (prompts that are read), whole or asked again: highest pulse,
/// longest time, which motors, what to look at, how to stop, and that the battery plug is the emergency stop.
#[test]
fn every_motor_question_has_every_field() {
    let went = went("recipes/first-craft.jig", 80);
    let (mut whole, mut again) = (0, 0);
    let mut words: BTreeMap<String, String> = BTreeMap::new();
    for (question, text) in &went.questions {
        let About::Motor(step) = &question.about else { continue };
        let flat = text.split_whitespace().filter(|word| *word != "┃").collect::<Vec<_>>().join(" ");
        let look_at = step.look_at.split(':').next().unwrap().trim_end_matches('.');
        let mut fields = vec![
            step.pulse.to_string(),
            step.purpose.clone(),
            format!("look at {look_at}"),
            "to stop".to_owned(),
            "emergency stop".to_owned(),
            "hands clear".to_owned(),
            format!("Type {} and press Enter", step.word()),
            question.craft.clone(),
            "VIRTUAL".to_owned(),
        ];
        if !matches!(step.by, StartedBy::Change { .. } | StartedBy::WorkedSwitch) {
            fields.push(quadjig::report::words::time(step.bound()));
            fields.push(quadjig::plan::titles::count(step.starts, "start"));
        }
        match &step.motors {
            Motors::All => fields.push("all".to_owned()),
            Motors::None => fields.push("none".to_owned()),
            Motors::One(corner, _) => fields.push(format!("only {corner}")),
        }
        for field in fields {
            let has = flat.to_lowercase().contains(&field.to_lowercase());
            assert!(has, "{field:?} is not in\n{text}");
        }
        // A word typed for one start is good for no other in which more happens than that motors start.
        if matches!(step.by, StartedBy::Switch { .. }) {
            let plain = |purpose: &str| ["idle search", "test of the idle"].contains(&purpose);
            let other = words.insert(step.word(), step.purpose.clone()).filter(|other| *other != step.purpose);
            let alike = other.is_none_or(|other| plain(&other) && plain(&step.purpose));
            assert!(alike, "{} is the word of two: {words:?}", step.word());
        }
        *if question.before.is_some() { &mut again } else { &mut whole } += 1;
        assert!(!step.radio_off() || question.before.is_none(), "with the radio off everything is said each time");
    }
    assert!(whole >= 5 && again >= 5, "{whole} whole, {again} again");
}

/// The cautions stand on a small terminal together with the first question of the run.
#[test]
fn the_cautions_are_on_80_by_24_with_the_way_on() {
    let went = went("recipes/first-craft.jig", 80);
    let first = went.lines.iter().position(|line| line.contains("Before anything turns")).unwrap();
    let prompt = went.lines.iter().position(|line| line.starts_with("  ┗━")).unwrap();
    assert!(prompt + 1 - first < 24, "{} rows, and one for the strip", prompt + 1 - first);
}
