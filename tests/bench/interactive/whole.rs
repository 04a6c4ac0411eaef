//! A whole session: find a switch, bind arm, step the idle, keep, test, take one thing back, write it out, leave.
//! The recipe then checks, plans to nothing on the same board, and runs to its end on another craft.

use super::kit::{Sat, session};
use quadjig::board::radio_card_file;
use quadjig::board::signals::Identity;
use quadjig::board::value::{Number, SettingName};
use quadjig::board::{radio_card::RadioCard, sheet::Settings, shipped, vocabulary};
use quadjig::language::format::format;
use quadjig::language::recipe::Recipe;
use quadjig::language::sources::Memory;
use quadjig::plan::compile::compile;
use quadjig::plan::inputs::{Inputs, Progress};
use quadjig::record::{CraftRecord, folder};
use quadjig::rehearsal::rehearse::{Script, rehearse, willing};
use quadjig::rehearsal::simulated::Disk;
use quadjig::virtual_board::{World, WorldConfig};
use std::path::Path;

pub const SET_UP: &[&str] = &[
    "require props off",
    "require antenna on",
    "require battery out",
    "find switch B with 3 positions",
    "bind arm to switch B position 1",
    "bind arm to switch B position 2",
    "find switch C",
    "bind buzzer to switch C position 1",
    "at zero throttle spin",
    "failsafe cut motors after 500 ms",
    "keep",
    "test arm",
    "test buzzer",
    "idle start at 1100 step 25 by hand",
    "keep",
    "test idle",
    "test cut",
    "test failsafe",
    "require battery out",
    "bind self-level to switch C position 0",
    "undo",
    "write wren-95.jig",
    "leave",
];

fn set_up() -> Sat {
    let sat = session(SET_UP)
        .answers(&[
            ("Which idle next", 'h'),
            ("Which idle next", 'h'),
            ("Which idle next", 'l'),
            ("Which idle next", 'h'),
            ("Which idle next", 't'),
        ])
        .sit();
    assert!(sat.result.is_ok(), "{:?}\n{}", sat.result, sat.text);
    sat
}

#[track_caller]
pub fn read(text: &str) -> Recipe {
    read_for("finch", text)
}

/// The same for another kind of board.
pub fn read_for(board: &str, text: &str) -> Recipe {
    let reading = vocabulary::read(&Memory::of([("wren-95.jig", text)]), Path::new("wren-95.jig"), &[]);
    let sheet = shipped::sheet(board).unwrap().unwrap();
    let findings = quadjig::plan::checks::reading(&reading, &[sheet], None);
    let bad: Vec<_> = findings.iter().filter(|f| f.severity != quadjig::language::finding::Severity::Hint).collect();
    assert!(bad.is_empty(), "{bad:#?}\n{text}");
    reading.recipe.unwrap()
}

/// What the board holds, by its own truth.
pub fn settings(board: &World) -> Settings {
    let truth = board.truth();
    let number =
        |value: &serde_json::Value| value.as_i64().map(Number::Whole).or_else(|| value.as_f64().map(Number::Real));
    let all = truth["settings"].as_object().unwrap();
    all.iter().filter_map(|(name, value)| Some((SettingName::new(name)?, number(&value["working"])?))).collect()
}

#[test]
fn the_recipe_of_a_session_reads_like_one() {
    let text = set_up().file("wren-95.jig");
    insta::assert_snapshot!(text);
    assert_eq!(format(&text).unwrap(), text);
    read(&text);
}

#[test]
fn on_the_same_board_it_plans_to_nothing() {
    let sat = set_up();
    let recipe = read(&sat.file("wren-95.jig"));
    let contents = folder::Contents {
        journal: sat.disk.craft.get(Path::new("journal.jsonl")).cloned(),
        proofs: sat.disk.craft.get(Path::new("measurements/proofs.jsonl")).cloned(),
        link_loss: None,
        repairs: None,
        radio_card: sat.disk.craft.get(Path::new(folder::RADIO_CARD)).cloned(),
    };
    let record = CraftRecord::from_contents(Path::new("craft"), &contents).unwrap();
    let card = radio_card_file::read("card", record.radio_card.as_ref().unwrap()).unwrap();
    let config = WorldConfig::default();
    let identity =
        Identity { id: config.board_id(), firmware: "2.4.1".to_owned(), kind: "Finch".to_owned(), name: None };
    let sheet = shipped::sheet("finch").unwrap().unwrap();
    let plan = compile(&Inputs {
        recipe: &recipe,
        sheet: &sheet,
        card: &card,
        record: &record,
        identity: &identity,
        settings: &settings(&sat.board),
        progress: Progress::start(),
        by_hand: false,
    })
    .unwrap();
    assert!(plan.is_satisfied(), "{:#?}", plan.changes);
    // It is the board that holds it: a fresh one has everything still to do.
    let fresh = compile(&Inputs {
        recipe: &recipe,
        sheet: &sheet,
        card: &card,
        record: &CraftRecord::default(),
        identity: &identity,
        settings: &settings(&World::new(config)),
        progress: Progress::start(),
        by_hand: false,
    });
    assert!(!fresh.unwrap().is_satisfied());
}

#[test]
fn on_another_craft_it_runs_to_its_end() {
    let recipe = read(&set_up().file("wren-95.jig"));
    let sheets = vec![shipped::sheet("finch").unwrap().unwrap()];
    let script = Script { recipe, sheets, card: None };
    let config = WorldConfig { seed: 77, ..WorldConfig::default() };
    let mut operator = willing(&config);
    let mut lines = Vec::new();
    let other = rehearse(&script, World::new(config), &mut operator, Disk::default(), |_, seen| {
        lines.push(format!("{seen:?}"));
    });
    assert!(other.result.is_ok(), "{:?}\n{}", other.result, lines.join("\n"));
    for name in ["ARM_CHANNEL", "BUZZ_CHANNEL", "IDLE_US"] {
        assert!(other.changed.contains_key(name), "{name}: {:?}", other.changed);
    }
}

#[test]
fn what_was_said_and_shown_on_the_way() {
    let sat = set_up();
    sat.says("idle front left front right rear right rear left 1100 us ")
        .says("Nothing turns. Which idle next?")
        .says("chosen 1150 us");
    sat.says("Taking back: bind self-level to switch C position 0").says("cannot be taken back");
    // A card stands where nobody named one: the craft's own.
    let card = sat.disk.craft.get(Path::new(folder::RADIO_CARD)).unwrap();
    let card: RadioCard = radio_card_file::read("card", std::str::from_utf8(card).unwrap()).unwrap();
    assert_eq!(card.switches.len(), 2);
    assert!(sat.prompts.iter().all(|prompt| prompt.contains("VIRTUAL")), "{:?}", sat.prompts);
    assert!(sat.prompts[6].contains("not kept"), "{:?}", sat.prompts);
}
