//! Recipes from the prompt: the run's own steps and questions, broken off by whatever may break them off, changed by
//! hand, gone on with, taken back and written out as one.

use super::kit::{Planned, Sat, Turn, session, turns};
use super::whole::{read, settings};
use quadjig::board::shipped;
use quadjig::language::recipe::Switch;
use quadjig::rehearsal::operator::Deed;
use quadjig::rehearsal::rehearse::{Script, rehearse, willing};
use quadjig::rehearsal::simulated::{Disk, TranscriptEvent};
use quadjig::seam::Key;
use quadjig::seam::ui::{Gesture, UiEvent};
use quadjig::virtual_board::{World, WorldConfig};

const FIRST: &str = include_str!("../../../recipes/first-craft.jig");
const GIVEN: &str = include_str!("../../../recipes/with-given.jig");
const RECEIVER: &str = include_str!("../../../recipes/common/receiver.jig");

/// Sets a few things with the battery out, and tests them.
const SMALL: &str = "recipe \"Wren 95, small\"
edition 1
craft quad x
board \"Finch\"
require firmware \"2.4\"

require battery out
require props off
require \"the radio is the bench radio\"
switch B on channel 6 rests at 1000, 1500, 2000
switch C on channel 7 rests at 1000, 2000
find link loss
bind arm to switch B position 2
bind buzzer to switch C position 1
at zero throttle spin
failsafe cut motors after 500 ms
keep
test arm
test buzzer
";

pub fn with_files(mut planned: Planned) -> Planned {
    for (name, text) in [
        ("first-craft.jig", FIRST),
        ("with-given.jig", GIVEN),
        ("common/receiver.jig", RECEIVER),
        ("small.jig", SMALL),
        ("smaller.jig", &SMALL.replace("failsafe cut motors after 500 ms\n", "")),
        ("wrong.jig", "recipe \"x\"\nedition 1\ncraft quad x\nboard \"Finch\"\nbind arm to switch Z position 0\n"),
        ("part.jig", "recipe \"a part\"\nedition 1\nrequire props off\n"),
        ("other.jig", "recipe \"x\"\nedition 1\ncraft quad x\nboard \"Heron\"\nrequire props off\n"),
        (
            "by-hand.jig",
            "recipe \"x\"\nedition 1\ncraft quad x\nboard \"Finch\"\nrequire battery out\nfailsafe cut motors after 1 s\nset \"NO_SUCH\" to 2\n",
        ),
    ] {
        planned.disk.named.insert(name.into(), text.as_bytes().to_vec());
    }
    planned
}

fn lines(lines: &[&'static str]) -> Planned {
    with_files(session(lines))
}

#[track_caller]
fn ends_well(sat: &Sat) {
    assert!(sat.result.is_ok(), "{:?}\n{}", sat.result, sat.text);
}

/// Titles of the steps, in the order in which they began.
fn steps(text: &str) -> Vec<String> {
    let step = |line: &str| {
        line.trim().strip_prefix("step ").and_then(|rest| rest.split_once("  ")).map(|(_, t)| t.trim().to_owned())
    };
    let bare = |title: String| title.strip_prefix("MOTORS CAN TURN: ").map_or(title.clone(), str::to_owned);
    text.lines().filter_map(step).map(bare).collect()
}

/// What the board holds, by its own truth.
fn stored(board: &World, name: &str) -> i64 {
    board.truth()["settings"][name]["stored"].as_i64().unwrap_or_else(|| panic!("{name}"))
}

#[test]
fn a_recipe_from_the_prompt_takes_the_very_steps_of_a_run() {
    let sat = lines(&["run first-craft.jig", "leave"]).sit();
    ends_well(&sat);
    sat.says("Goes through first-craft.jig, recipe hash")
        .says("What this run will do")
        .says("All of first-craft.jig is done");
    // Held against the run of the same recipe on the same craft.
    let config = WorldConfig::default();
    let script = Script { recipe: read(FIRST), sheets: vec![shipped::sheet("finch").unwrap().unwrap()], card: None };
    let mut titles = Vec::new();
    let mut operator = willing(&config);
    let ran = rehearse(&script, World::new(config), &mut operator, Disk::default(), |_, seen| {
        if let TranscriptEvent::Shown(UiEvent::StepBegins { title, .. }) = seen {
            titles.push(title.split_whitespace().collect::<Vec<_>>().join(" "));
        }
    });
    assert!(ran.result.is_ok(), "{:?}", ran.result);
    let taken: Vec<String> = steps(&sat.text);
    assert_eq!(taken.len(), titles.len(), "{taken:#?}\n{titles:#?}");
    for (taken, title) in taken.iter().zip(&titles) {
        assert!(title.starts_with(taken.as_str()), "{taken} is not {title}");
    }
    for (name, value) in &ran.changed {
        let same = stored(&sat.board, name);
        let there = value.as_f64().unwrap();
        // An idle is found anew, on the same craft near the same value.
        assert!((there - f64::from(i32::try_from(same).unwrap())).abs() < 51.0, "{name}: {same}, {there} by the run");
    }
}

#[test]
fn run_up_to_the_idle_stepped_by_hand_and_gone_on_with() {
    let sat = lines(&[
        "run first-craft.jig",
        "look",
        "idle start at 1100 step 25 by hand",
        "go on",
        "write wren-95.jig",
        "leave",
    ])
    .in_question("1100", Deed::Key(Key::Escape))
    .answers(&[("Which idle next", 'h'), ("Which idle next", 'h'), ("Which idle next", 't')])
    .sit();
    ends_well(&sat);
    sat.says("first-craft.jig is broken off: 22 of 28 statements done")
        .says("left idle start at 1100 step 25 until all spin");
    assert!(sat.after("look").contains("first-craft.jig, 6 of 28 statements left"), "{}", sat.text);
    let after = sat.after("go on");
    sat.says("Set by hand: idle at 1175 us (the recipe: idle start at 1100 step 25 until all spin)");
    // What was done is not done again, and the rest is.
    let taken = steps(after);
    assert!(!taken.iter().any(|title| title.starts_with("Find") || title.starts_with("Step the idle")), "{taken:?}");
    for title in ["Store", "Test the idle", "Test that switch B", "Test that the board stops"] {
        assert!(taken.iter().any(|taken| taken.starts_with(title)), "{title}: {taken:#?}");
    }
    sat.says("All of first-craft.jig is done");
    let text = sat.file("wren-95.jig");
    insta::assert_snapshot!(text);
    let recipe = read(&text);
    assert!(!text.contains("\nidle start"), "{text}");
    let script = Script { recipe, sheets: vec![shipped::sheet("finch").unwrap().unwrap()], card: None };
    let config = WorldConfig { seed: 77, ..WorldConfig::default() };
    let mut operator = willing(&config);
    let other = rehearse(&script, World::new(config), &mut operator, Disk::default(), |_, _| {});
    assert!(other.result.is_ok(), "{:?}", other.result);
}

#[test]
fn words_that_no_signal_can_tell_are_asked_anew_and_nothing_done_is_done_again() {
    let sat = lines(&["run small.jig", "go on", "leave"]).in_question("1050 arm", Deed::Key(Key::Escape)).sit();
    ends_well(&sat);
    let after = sat.after("go on");
    assert!(after.contains("the radio is the bench radio"), "{}", sat.text);
    let taken = steps(after);
    assert!(taken.iter().any(|title| title.starts_with("Test arm")), "{taken:?}");
    assert!(!taken.iter().any(|title| title.starts_with("Write") || title.starts_with("Find")), "{taken:?}");
}

#[test]
fn what_is_left_and_cannot_be_planned_any_more_is_refused_by_its_statement() {
    let planned = lines(&["run small.jig", "unbind buzzer", "go on", "leave"]);
    let sat = planned.in_question("1050 arm", Deed::Key(Key::Escape)).sit();
    ends_well(&sat);
    let after = sat.after("go on");
    assert!(after.contains("  mind this  `test buzzer`: `buzzer` is bound to no switch at this point."), "{after}");
}

#[test]
fn a_stop_leaves_the_session_at_the_prompt_and_the_rest_is_gone_on_with() {
    let on = Gesture::SwitchTo { switch: Switch("B".to_owned()), position: 2 };
    let mut planned = lines(&["run first-craft.jig", "look", "go on", "leave"]);
    // Battery out: it is found, then `test arm`. The next time motors turn.
    planned.typist.upsets.push((on.clone(), 700, Deed::World("flip B 2".to_owned())));
    planned.typist.upsets.push((on.clone(), 700, Deed::World("flip B 2".to_owned())));
    planned.typist.upsets.push((on.clone(), 700, Deed::World("flip B 2".to_owned())));
    planned.typist.upsets.push((on, 1500, Deed::Key(Key::Char('x'))));
    let sat = planned.sit();
    ends_well(&sat);
    sat.says("STOP sent to the board: a key was pressed").says("first-craft.jig is broken off");
    sat.says("All of first-craft.jig is done");
    assert_eq!(sat.board.truth()["armed"], false);
    let after = sat.after("go on");
    assert!(after.contains("Take the battery out."), "{}", sat.text);
}

#[test]
fn a_failed_test_leaves_the_session_at_the_prompt() {
    let mut planned = lines(&["run small.jig", "go on", "leave"]);
    planned.typist.answers.push_back(("buzzer heard", 'n'));
    let sat = planned.sit();
    ends_well(&sat);
    sat.says("small.jig is broken off: 12 of 13 statements done").says("left test buzzer");
    sat.says("All of small.jig is done");
}

#[test]
fn undo_takes_back_the_statements_of_a_recipe_one_by_one_and_they_are_left_again() {
    let sat = lines(&[
        "run small.jig",
        "undo",
        "look",
        "undo",
        "undo",
        "undo",
        "undo",
        "look changes",
        "go on",
        "look changes",
        "leave",
    ])
    .sit();
    ends_well(&sat);
    let first = sat.text.find("Taking back: failsafe cut motors after 500 ms").expect(&sat.text);
    let rest = &sat.text[first..];
    let order: Vec<usize> =
        ["at zero throttle spin", "bind buzzer to switch C position 1", "bind arm to switch B position 2"]
            .iter()
            .filter_map(|text| rest.find(&format!("Taking back: {text}")))
            .collect();
    assert!(order.len() == 3 && order.is_sorted(), "{order:?}\n{}", sat.text);
    assert!(sat.after("look").contains("small.jig, 4 of 13 statements left"), "{}", sat.text);
    assert!(sat.after("look changes").contains("none"), "{}", sat.text);
    sat.says("Nothing that this session wrote is left to take back").says("All of small.jig is done");
    assert_eq!(stored(&sat.board, "ARM_CHANNEL"), 6);
}

#[test]
fn what_the_board_lost_is_left_again() {
    let all = [
        Turn::Line("run unkept.jig"),
        Turn::Moves(vec![(1000, "restart")], "look"),
        Turn::Line("go on"),
        Turn::Line("leave"),
    ];
    let mut planned = with_files(turns(all.to_vec()));
    let unkept = SMALL.replace("keep\ntest arm", "test arm\nkeep");
    planned.disk.named.insert("unkept.jig".into(), unkept.into_bytes());
    let sat = planned.in_question("1050 arm", Deed::Key(Key::Escape)).sit();
    ends_well(&sat);
    sat.says("unkept.jig is broken off: 10 of 13 statements done");
    sat.says("Not on the board any more, and out of the recipe: failsafe cut motors after 500 ms");
    assert!(sat.after("look").contains("unkept.jig, 7 of 13 statements left"), "{}", sat.text);
    sat.says("All of unkept.jig is done");
    assert_eq!(stored(&sat.board, "ARM_CHANNEL"), 6);
}

#[test]
fn parameters_are_filled_in_and_written_out_as_values() {
    let sat = lines(&["run with-given.jig with idle-floor 1080 us, tries 2", "recipe", "leave"]).sit();
    ends_well(&sat);
    let recipe = sat.after("recipe");
    assert!(
        recipe.contains("idle start at 1080 us step 25 until all spin, for 2 s, in 2 starts, then add 25"),
        "{}",
        sat.text
    );
    let lines = recipe.lines().filter_map(|line| line.trim_start().strip_prefix('|'));
    read(&(lines.map(str::trim).collect::<Vec<_>>().join("\n") + "\n"));
}

#[test]
fn what_is_no_recipe_for_this_board_sends_nothing() {
    let sat = lines(&[
        "run nowhere.jig",
        "run wrong",
        "run part.jig",
        "run other.jig",
        "run small.jig with idle-floor 1100 us",
        "run small.jig with idle-floor",
        "run small.jig quickly",
        "run with-given.jig with idle-floor 1400 us",
        "run by-hand.jig",
        "run",
        "go",
        "go on",
        "leave",
    ])
    .sit();
    ends_well(&sat);
    sat.says("`nowhere.jig` cannot be read").says("the recipe has errors").says("names no craft or no board");
    sat.says("`quickly` is no value of a parameter").says("`idle-floor` is no value of a parameter");
    sat.says("`run` needs the file of a recipe")
        .says("`go` is no word here: `go on` does that")
        .says("No recipe was run in this session");
    sat.never_says("Goes through");
    let before = settings(&World::new(WorldConfig::default()));
    assert_eq!(settings(&sat.board), before);
}
