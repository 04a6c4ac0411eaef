//! What an earlier session wrote and did not keep: named before anything is stored, and stored by nobody who only asks and
//! tests.

use super::kit::{Sat, again, session};
use super::run_recipe::with_files;

/// A craft on which a session set something, and did not keep it.
fn not_kept() -> Sat {
    let sat = session(&["require battery out", "failsafe cut motors after 800 ms", "leave"]).sit();
    assert!(sat.result.is_ok(), "{}", sat.text);
    assert_eq!(wait(&sat), (800, 1000));
    sat
}

/// What it holds now, and after a restart.
fn wait(sat: &Sat) -> (i64, i64) {
    let wait = &sat.board.truth()["settings"]["LOSS_WAIT_MS"];
    (wait["working"].as_i64().unwrap(), wait["stored"].as_i64().unwrap())
}

/// Where a text stands for the first time.
#[track_caller]
fn at(sat: &Sat, what: &str) -> usize {
    sat.text.find(what).unwrap_or_else(|| panic!("{what}\n{}", sat.text))
}

const NAMED: &str = "What was written before and not kept is kept as well: link-loss-action = cut;";

#[test]
fn a_keep_names_what_an_earlier_session_left_before_it_stores() {
    let sat = again(not_kept(), &["require battery out", "idle at 1120 us", "keep", "leave"]).sit();
    assert!(sat.result.is_ok(), "{}", sat.text);
    assert!(at(&sat, NAMED) < at(&sat, "Store"), "{}", sat.text);
    // Its own is what it is for.
    assert!(!sat.text.contains("as well: idle"), "{}", sat.text);
    assert_eq!(wait(&sat), (800, 800));
}

#[test]
fn a_statement_that_stores_says_so_first_and_names_all_else_that_it_keeps() {
    let sat = again(not_kept(), &["require battery out", "idle at 1120 us", "signal dshot150 at 1 kHz", "leave"]).sit();
    assert!(sat.result.is_ok(), "{}", sat.text);
    let says = at(&sat, "This has the board store all its settings and restart.");
    let (named, store) = (at(&sat, "kept is kept as well:"), at(&sat, "Store"));
    assert!(says < named && named < store, "{}", sat.text);
    let step = at(&sat, "Write 2 settings");
    let words: String = sat.text[named..step].split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("idle = 1120 us") && words.contains("link-loss-wait = 800 ms"), "{words}");
    assert!(!words.contains("signal ="), "{words}");
    assert_eq!(wait(&sat), (800, 800));
}

/// A new session says what stands there and is not kept, whose it is, and so does the dry run of what would store it.
#[test]
fn what_an_earlier_session_left_is_named_at_the_beginning_and_by_a_dry_run() {
    let lines = ["dry-run signal dshot150 at 1 kHz", "dry-run idle at 1120 us", "leave"];
    let sat = again(not_kept(), &lines).sit();
    assert!(sat.result.is_ok(), "{}", sat.text);
    let words = sat.text.split_whitespace().collect::<Vec<_>>().join(" ");
    let (before, wrote) = words.split_once(" wrote these, and did not come to keep them over a restart: ").unwrap();
    // Whose it was, and when; what it is called in a recipe.
    let (_, run) = before.rsplit_once("The run of ").unwrap();
    assert!(run.contains("\" that began 1970-"), "{run}");
    assert!(wrote.starts_with("link-loss-"), "{wrote}");
    let as_well = |line: &str| sat.after(line).contains("What was written before and not kept is kept as well:");
    assert!(as_well(lines[0]) && !as_well(lines[1]), "{}", sat.text);
    assert_eq!(wait(&sat), (800, 1000));
}

#[test]
fn a_recipe_of_requires_and_tests_never_stores() {
    let lines = ["run tests.jig", "leave"];
    let mut planned = with_files(again(not_kept(), &lines));
    let recipe = "recipe \"Wren 95, tests\"\nedition 1\ncraft quad x\nboard \"Finch\"\n\nrequire battery out\n\
        require throttle low\nrequire disarmed\n";
    planned.disk.named.insert("tests.jig".into(), recipe.as_bytes().to_vec());
    let sat = planned.sit();
    assert!(sat.result.is_ok(), "{}", sat.text);
    sat.says("All of tests.jig is done").never_says("Store");
    assert_eq!(wait(&sat), (800, 1000));
}

#[test]
fn a_recipe_that_sets_something_names_what_else_it_keeps() {
    let sat = with_files(again(not_kept(), &["run smaller.jig", "leave"])).sit();
    assert!(sat.result.is_ok(), "{}", sat.text);
    assert!(at(&sat, NAMED) < at(&sat, "step 1/"), "{}", sat.text);
    assert_eq!(wait(&sat), (800, 800));
}

/// A recipe whose every value is on the board already writes nothing, and has no reason to store what others left.
#[test]
fn a_recipe_that_writes_nothing_keeps_nothing_that_it_does_not_ask_for() {
    let set = "recipe \"Wren 95, set\"\nedition 1\ncraft quad x\nboard \"Finch\"\n\nrequire battery out\n\
        switch C on channel 7 rests at 1000, 2000\nbind buzzer to switch C position 1\ntest buzzer\n";
    let with = |mut planned: super::kit::Planned| {
        planned.disk.named.insert("set.jig".into(), set.as_bytes().to_vec());
        planned
    };
    let sat = with(session(&["run set.jig", "leave"])).sit();
    assert!(sat.result.is_ok(), "{}", sat.text);
    sat.says("Store");
    let sat = again(sat, &["require battery out", "failsafe cut motors after 800 ms", "leave"]).sit();
    assert_eq!(wait(&sat), (800, 1000), "{}", sat.text);
    let sat = with(again(sat, &["run set.jig", "leave"])).sit();
    assert!(sat.result.is_ok(), "{}", sat.text);
    sat.says("All of set.jig is done").says("did not come to keep them").never_says("Store");
    assert_eq!(wait(&sat), (800, 1000));
    // Who asks for the very value keeps it.
    let asks = set.replace("test buzzer", "failsafe cut motors after 800 ms\ntest buzzer");
    let mut planned = again(sat, &["run asks.jig", "leave"]);
    planned.disk.named.insert("asks.jig".into(), asks.into_bytes());
    let sat = planned.sit();
    assert!(sat.result.is_ok(), "{}", sat.text);
    assert_eq!(wait(&sat), (800, 800), "{}", sat.text);
}
