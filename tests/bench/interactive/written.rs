//! What sessions write: each recipe checks without a warning, plans to nothing on the board that it was written on, and
//! sets up a bare craft of the same kind.

use super::kit::{Planned, Sat, again, session};
use super::run_recipe::with_files;
use super::whole::{SET_UP, read, read_for, settings};
use quadjig::board::radio_card::RadioCard;
use quadjig::board::sheet::Settings;
use quadjig::board::signals::Identity;
use quadjig::board::{radio_card_file, shipped};
use quadjig::plan::compile::compile;
use quadjig::plan::inputs::{Inputs, Progress};
use quadjig::record::{CraftRecord, folder};
use quadjig::rehearsal::operator::Deed;
use quadjig::rehearsal::rehearse::{Script, rehearse, willing};
use quadjig::rehearsal::simulated::Disk;
use quadjig::seam::Key;
use quadjig::virtual_board::{BoardKind, World, WorldConfig};
use std::path::Path;

const BY_HAND: &[(&str, char)] = &[("Which idle next", 'h'), ("Which idle next", 'h'), ("Which idle next", 't')];

/// Conditions that most sessions begin with.
const BEGINS: [&str; 3] = ["require props off", "require antenna on", "require battery out"];

fn lines(lines: &[&'static str]) -> Planned {
    let ends = ["write written.jig", "leave"];
    with_files(session(&[&BEGINS, lines, &ends].concat()))
}

/// A session on the craft that another one left.
fn after(first: Sat, lines: &[&'static str]) -> Planned {
    let ends = ["write written.jig", "leave"];
    with_files(again(first, &[&BEGINS, lines, &ends].concat()))
}

/// A craft that `first-craft.jig` set up.
fn set_up() -> Sat {
    let sat = with_files(session(&["run first-craft.jig", "leave"])).sit();
    assert!(sat.result.is_ok(), "{}", sat.text);
    sat
}

#[track_caller]
fn proves_itself(what: &str, sat: &Sat) -> String {
    assert!(sat.result.is_ok(), "{what}: {:?}\n{}", sat.result, sat.text);
    let text = sat.file("written.jig");
    let recipe = read(&text);
    // On the board that it was written on.
    let craft = |file: &str| sat.disk.craft.get(Path::new(file)).cloned();
    let contents = folder::Contents {
        journal: craft("journal.jsonl"),
        proofs: craft("measurements/proofs.jsonl"),
        link_loss: craft("measurements/link-loss.jsonl"),
        repairs: None,
        radio_card: craft(folder::RADIO_CARD),
    };
    let record = CraftRecord::from_contents(Path::new("craft"), &contents).unwrap();
    let card = record.radio_card.as_ref().map(|card| radio_card_file::read("card", card).unwrap()).unwrap_or_default();
    let config = WorldConfig::default();
    let identity =
        Identity { id: config.board_id(), firmware: "2.4.1".to_owned(), kind: "Finch".to_owned(), name: None };
    let sheet = shipped::sheet("finch").unwrap().unwrap();
    let bare = World::new(config);
    let inputs = |settings: &Settings, record: &CraftRecord| {
        let progress = Progress::start();
        let (recipe, sheet, card, identity) = (&recipe, &sheet, &card, &identity);
        compile(&Inputs { recipe, sheet, card, record, identity, settings, progress, by_hand: false })
    };
    let plan = inputs(&settings(&sat.board), &record);
    let plan = plan.unwrap_or_else(|errors| panic!("{what}: {errors:#?}\n{text}"));
    let (changes, unknown) = (&plan.changes, &plan.unknown);
    assert!(changes.is_empty() && unknown.is_empty(), "{what}: {changes:#?} {unknown:#?}\n{text}");
    // That it has something to do is seen on a bare one.
    let there = inputs(&settings(&bare), &CraftRecord::default()).unwrap();
    assert!(!there.changes.is_empty() || !there.unknown.is_empty(), "{what}\n{text}");
    // On a bare second craft.
    let script = Script { recipe: recipe.clone(), sheets: vec![sheet.clone()], card: None };
    let config = WorldConfig { seed: 77, ..WorldConfig::default() };
    let mut operator = willing(&config);
    let mut said = Vec::new();
    let other =
        rehearse(&script, World::new(config), &mut operator, Disk::default(), |_, seen| said.push(format!("{seen:?}")));
    assert!(other.result.is_ok(), "{what}: {:?}\n{text}\n{}", other.result, said.join("\n"));
    // And there it stands as here, in all that it says.
    let (here, there) = (settings(&sat.board), settings(&other.board));
    for change in inputs(&settings(&bare), &record).unwrap().changes {
        // Bands and an idle are measured anew.
        let near = (here[&change.on_board].real() - there[&change.on_board].real()).abs();
        assert!(
            near < 51.0,
            "{what}: {} is {} here, {} there",
            change.setting,
            here[&change.on_board],
            there[&change.on_board]
        );
    }
    text
}

#[test]
fn a_craft_set_up_by_hand() {
    let mut all: Vec<&'static str> = SET_UP.to_vec();
    for line in &mut all {
        if line.starts_with("write") {
            *line = "write written.jig";
        }
    }
    let sat = session(&all).answers(BY_HAND).sit();
    proves_itself("by hand", &sat);
}

#[test]
fn a_whole_recipe_from_the_prompt_comes_back_as_it_was_proved() {
    let sat = lines(&["run first-craft.jig"]).sit();
    let text = proves_itself("first-craft", &sat);
    insta::assert_snapshot!(text);
    let at = |line: &str| text.find(line).unwrap_or_else(|| panic!("{line}\n{text}"));
    assert!(at("test arm") < at("power cycle") && at("test buzzer") < at("power cycle"));
    assert!(at("keep") < at("test arm") && at("power cycle") < at("idle start"));
}

#[test]
fn a_recipe_broken_off_at_the_idle_and_stepped_by_hand() {
    let sat = lines(&["run first-craft.jig", "idle start at 1100 step 25 by hand", "go on"])
        .in_question("1100", Deed::Key(Key::Escape))
        .answers(BY_HAND)
        .sit();
    let text = proves_itself("stepped", &sat);
    assert!(text.contains("\nidle at 1175 us"), "{text}");
    // A copied idle is never called one that is searched anew, and the line to have in its place plans on a bare craft.
    assert!(!text.contains("searched and tested anew"), "{text}");
    let words = text.replace("\n#", "");
    assert!(
        words.contains("NOT SEARCHED ANEW: `idle at 1175 us` was set by hand, and is copied to every craft"),
        "{text}"
    );
    let search = text.lines().find(|line| line.starts_with("# idle start")).unwrap_or_else(|| panic!("{text}"));
    let searched = text.replace("\nidle at 1175 us", "");
    let searched = searched.replace(&format!("{search}\n# keep"), &format!("{}\nkeep", &search[2..]));
    let sheet = shipped::sheet("finch").unwrap().unwrap();
    let identity =
        Identity { id: WorldConfig::default().board_id(), firmware: "2.4.1".into(), kind: "Finch".into(), name: None };
    let settings = settings(&World::new(WorldConfig::default()));
    let (recipe, card, record) = (read(&searched), RadioCard::default(), CraftRecord::default());
    let inputs = Inputs {
        recipe: &recipe,
        sheet: &sheet,
        card: &card,
        record: &record,
        identity: &identity,
        settings: &settings,
        progress: Progress::start(),
        by_hand: false,
    };
    let plan = compile(&inputs).unwrap_or_else(|errors| panic!("{errors:#?}\n{searched}"));
    let is_search = |step: &quadjig::plan::step::Step| matches!(step.act, quadjig::plan::step::Action::IdleSearch(_));
    assert!(plan.steps.iter().any(is_search), "{searched}");
}

/// What nobody did is named as the recipe is written, and stands in it.
#[test]
fn a_recipe_that_is_left_before_its_end_names_what_is_not_done() {
    let sat = lines(&["run small.jig"]).in_question("1050 arm", Deed::Key(Key::Escape)).sit();
    assert!(sat.result.is_ok(), "{}", sat.text);
    sat.says("Not done yet of small.jig: `test arm`, `test buzzer`; `go on` does what is left.");
    let text = sat.file("written.jig");
    assert!(text.ends_with("# Not done yet on this craft:\n#     test arm\n#     test buzzer\n"), "{text}");
    // A recipe that was gone through has nothing to name.
    let whole = lines(&["run small.jig"]).sit();
    assert!(!whole.file("written.jig").contains("Not done yet") && !whole.text.contains("Not done yet"));
}

#[test]
fn a_small_recipe_and_one_with_parameters() {
    proves_itself("small", &lines(&["run smaller.jig"]).sit());
    let text = proves_itself("given", &lines(&["run with-given.jig with idle-floor 1080 us, tries 2"]).sit());
    assert!(text.contains("in 2 starts"), "{text}");
}

#[test]
fn a_test_of_what_was_bound_otherwise_since_is_not_in_it() {
    let sat = lines(&[
        "switch B on channel 6 rests at 1000, 1500, 2000",
        "switch C on channel 7 rests at 1000, 2000",
        "bind arm to switch B position 1",
        "test arm",
        "bind arm to switch B position 2",
        "keep",
    ])
    .sit();
    assert!(sat.result.is_ok(), "{}", sat.text);
    let text = sat.file("written.jig");
    assert!(!text.contains("test arm") && !text.contains("switch C"), "{text}");
    let sat = lines(&[
        "switch B on channel 6 rests at 1000, 1500, 2000",
        "bind arm to switch B position 1",
        "test arm",
        "bind arm to switch B position 2",
        "keep",
        "test arm",
    ])
    .sit();
    proves_itself("bound anew", &sat);
}

#[test]
fn on_a_craft_that_was_set_up_before_all_that_it_holds_is_in_it() {
    let sat = after(set_up(), &["find switch D", "bind buzzer to switch D position 2", "keep", "test buzzer"]).sit();
    let text = proves_itself("another buzzer", &sat);
    insta::assert_snapshot!(text);
    for line in [
        "find switch B with 3 positions",
        "bind arm to switch B position 2",
        "test arm",
        "failsafe cut motors after 500 ms",
    ] {
        assert!(text.contains(line), "{line}\n{text}");
    }
    assert!(!text.contains("bind buzzer to switch C"), "{text}");
}

#[test]
fn on_a_craft_that_was_set_up_before_an_idle_stepped_by_hand_stands_alone() {
    let sat = after(set_up(), &["idle start at 1150 step 25 by hand", "keep", "test idle"])
        .answers(&[("Which idle next", 't')])
        .sit();
    let text = proves_itself("idle alone", &sat);
    assert!(text.contains("bind arm to switch B position 2") && text.contains("at zero throttle spin"), "{text}");
    assert!(text.contains("\nidle at 1175 us") && !text.contains("\nidle start"), "{text}");
    assert!(
        text.contains("test arm") && text.contains("test failsafe") && text.matches("test idle").count() == 1,
        "{text}"
    );
}

#[test]
fn a_failsafe_and_a_battery_with_tests_made_with_the_battery_in() {
    let sat = lines(&[
        "find switch B with 3 positions",
        "find link loss",
        "bind arm to switch B position 2",
        "at zero throttle spin",
        "failsafe cut motors after 400 ms",
        "battery 2 cells lipo warn at 3.6 V per cell land at 3.4 V per cell",
        "idle at 1180 us",
        "keep",
        "power cycle",
        "require battery at least 3.7 V per cell",
        "test arm",
        "test failsafe",
        "test cut within 250 ms",
        "test idle in 2 starts",
    ])
    .sit();
    let text = proves_itself("battery in", &sat);
    let at = |line: &str| text.find(line).unwrap_or_else(|| panic!("{line}\n{text}"));
    assert!(at("power cycle") < at("test arm") && at("test arm") < at("test failsafe"), "{text}");
    assert!(at("test failsafe") < at("test cut") && at("test cut") < at("test idle"), "{text}");
}

/// The tenth: settings alone, with the battery out from beginning to end.
const DESK: [&str; 4] = [
    "channels roll, pitch, throttle, yaw",
    "signal dshot300 at 4 kHz",
    "battery 2 cells lipo warn at 3.6 V per cell land at 3.4 V per cell",
    "keep",
];

/// Without raw names only the `board` line says what kind of board it is for: by rows, and over a console.
#[test]
fn three_sessions_set_up_another_kind_with_only_the_board_line_changed() {
    let bound = ["find switch B with 3 positions", "bind arm to switch B position 2", "keep", "test arm"];
    let stepped = [
        "find switch B with 3 positions",
        "bind arm to switch B position 2",
        "at zero throttle spin",
        "keep",
        "test arm",
        "idle start at 1125 step 25 by hand",
        "keep",
    ];
    let sessions =
        [lines(&DESK).sit(), lines(&bound).sit(), lines(&stepped).answers(&[("Which idle next", 't')]).sit()];
    for sat in &sessions {
        let text = proves_itself("on its own kind", sat);
        for board in [BoardKind::FinchR, BoardKind::FinchC] {
            let other = text.replace("board \"Finch\"", &format!("board \"{}\"", board.name()));
            assert_eq!(other.lines().zip(text.lines()).filter(|(one, other)| one != other).count(), 1, "{other}");
            let sheet = shipped::sheet(board.name()).unwrap().unwrap();
            let script = Script { recipe: read_for(board.name(), &other), sheets: vec![sheet], card: None };
            let config = WorldConfig { board, seed: 78, ..WorldConfig::default() };
            let mut operator = willing(&config);
            let other = rehearse(&script, World::new(config), &mut operator, Disk::default(), |_, _| {});
            assert_eq!(other.result, Ok(()), "{}\n{text}", board.name());
        }
    }
}

#[test]
fn a_card_that_find_writes_is_named_for_the_radio() {
    let sat = lines(&["run first-craft.jig"]).sit();
    let card = std::str::from_utf8(&sat.disk.craft[Path::new(folder::RADIO_CARD)]).unwrap();
    assert!(card.contains("radio = \"radio with 16 channels\""), "{card}");
}
