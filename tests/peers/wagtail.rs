//! The Wagtail, a board that speaks through the reference library, set up by the program itself at a terminal.

use super::{project, python, script};
use crate::cli::Sandbox;
use crate::cli::desk::board::Board;
use crate::cli::desk::{Attended, willing};
use serde_json::Value;
use std::time::{Duration, Instant};

/// All that this board can be asked, but for the idle: nothing of it is as on a Finch.
const RECIPE: &str = r#"
recipe "Wren 95 with a Wagtail"
edition 1
craft quad x
board "Wagtail"
require props off
require battery out
channels throttle, roll, pitch, yaw
switch K on channel 7 rests at 1012, 1497, 1988 on link loss flagged
switch L on channel 8 rests at 1020, 1980 on link loss flagged
bind arm to switch K position 2
bind buzzer to switch L position 1
at zero throttle spin
failsafe cut motors after 500 ms
battery 2 cells lipo warn at 3.6 V per cell land at 3.4 V per cell
keep
require throttle low
test arm
test buzzer
power cycle
idle start at 1110 step 10 until all spin, at most 1180, for 1 s, in 1 starts, then add 10
keep
test cut within 800 ms
test failsafe
"#;

/// One motor step, on a board that has all of it already.
const CUT: &str = r#"
recipe "Wren 95 with a Wagtail, cut"
edition 1
craft quad x
board "Wagtail"
require props off
channels throttle, roll, pitch, yaw
switch K on channel 7 rests at 1012, 1497, 1988 on link loss flagged
bind arm to switch K position 2
at zero throttle spin
require battery in
test cut within 800 ms
"#;

/// What the recipe has to come to on the board, in the board's own numbers. The idle is found below.
const WANTED: [(&str, i64); 17] = [
    ("IN_PUSH", 1),
    ("IN_LEAN", 2),
    ("IN_NOSE", 3),
    ("IN_SWING", 4),
    ("LIVE_IN", 7),
    ("LIVE_HI", 2100),
    ("HORN_IN", 8),
    ("HORN_HI", 2100),
    ("EVEN_IN", -1),
    ("STICK_AT_BOTTOM", 1),
    ("SILENCE_DOES", 4),
    ("SILENCE_AFTER", 5),
    ("PACK_COUNT", 2),
    ("PACK_SORT", 1),
    ("PACK_CALLS", 360),
    ("PACK_ENDS", 340),
    ("GLOW_SHADE", -30),
];

/// How long an answer takes, in seconds: well under what lets a motor turn, and over it.
const QUICK: &str = "0.2";
const SLOW: &str = "0.6";

/// The board on its pseudo-terminal, signing with a key if it has one; `None` without the reference library.
fn wagtail(test: &str, answers: &str, key: Option<&str>) -> Option<Board> {
    let python = python(test)?;
    let folder = tempfile::tempdir().unwrap();
    let port = folder.path().join("wagtail").display().to_string();
    let arguments: Vec<&str> = [port.as_str(), answers].into_iter().chain(key).collect();
    let command = script(&python, "wagtail.py", &arguments);
    Some(Board::by(command, port, folder))
}

fn sandbox() -> Sandbox {
    let sandbox = Sandbox::new();
    let sheet = std::fs::read_to_string(project().join("tests/peers/wagtail.toml")).unwrap();
    sandbox.write("wren.jig", RECIPE).write("wagtail.toml", &sheet);
    sandbox
}

#[test]
fn a_copy_holds_every_setting_whatever_order_they_come_in() {
    let Some(mut board) = wagtail("peers::wagtail snapshot", SLOW, None) else { return };
    let sandbox = sandbox();
    let said = sandbox.run(&["snapshot", "--port", &board.port, "--output", "wagtail.json"]);
    assert!(said.starts_with("exit code: 0\n"), "{said}");
    let copy: Value = serde_json::from_str(&std::fs::read_to_string(sandbox.path("wagtail.json")).unwrap()).unwrap();
    let truth = board.settings();
    let truth = truth.as_object().unwrap();
    let copied = copy["settings"].as_object().unwrap();
    assert_eq!(copied.len(), truth.len());
    for (name, values) in truth {
        assert_eq!(copied[name].as_f64(), values["working"].as_f64(), "{name}");
    }
    // First 64 bits of the SHA-256 of the long id, by another implementation.
    assert_eq!(copy["board"]["id"], "ee967a1b1060e433");
}

#[test]
fn a_craft_with_a_board_of_other_hands_is_set_up_from_end_to_end() {
    let Some(mut board) = wagtail("peers::wagtail run", QUICK, None) else { return };
    let sandbox = sandbox();
    let port = board.port.clone();
    let shared = ["wren.jig", "--sheet", "wagtail.toml", "--port", &port, "--records", "crafts"];
    let dry_run = || {
        let arguments: Vec<&str> = ["dry-run"].into_iter().chain(shared).chain(["--exit-code"]).collect();
        sandbox.run(&arguments)
    };
    let before = board.settings();
    let first = dry_run();
    assert!(first.starts_with("exit code: 3\n"), "{first}");
    assert_eq!(board.settings(), before, "a dry run writes nothing");

    let arguments: Vec<&str> = ["run"].into_iter().chain(shared).collect();
    let ended = Attended::start(&sandbox, &mut board, &arguments).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    // The battery was never in before it was said to be out, and a restart that was announced takes nobody's word away.
    for (question, planned) in
        [("Are the propellers off?", "Propellers off, and no other craft"), ("Is the battery out?", "  Battery out")]
    {
        let (asked, planned) = (ended.screen.matches(question).count(), first.matches(planned).count());
        assert!((1..=planned).contains(&asked), "{question} {asked} times, planned {planned}:\n{}", ended.screen);
    }
    let truth = board.truth();
    let paths = truth["paths"].as_array().unwrap();
    assert_eq!(paths.len(), 3, "two restarts");
    assert!(paths.windows(2).all(|pair| pair[0] != pair[1]), "back under another path each time: {paths:?}");
    let settings = board.settings();
    for (name, wanted) in WANTED {
        let now = &settings[name];
        assert_eq!((now["working"].as_i64(), now["stored"].as_i64()), (Some(wanted), Some(wanted)), "{name}");
    }
    // Position 2 of switch K rests at 1988 µs and is inside, position 1 at 1497 µs is not; so for switch L.
    for (name, above, at_most) in [("LIVE_LO", 1497, 1988), ("HORN_LO", 1020, 1980)] {
        let low = settings[name]["working"].as_i64().unwrap();
        assert!(above < low && low <= at_most && low % 10 == 0, "{name} is {low}");
    }
    // The lowest step of 10 µs at which every motor starts, and 10 µs on top.
    let highest_start = board.truth()["highest_start"].as_i64().unwrap();
    assert_eq!(settings["LOWEST_DRIVE"]["working"], (highest_start + 9) / 10 * 10 + 10);
    assert!(board.rests());

    let second = dry_run();
    assert!(second.starts_with("exit code: 0\n"), "{second}");
    assert!(second.contains("What changes: nothing."), "{second}");
}

#[test]
fn a_board_that_signs_is_read_with_its_key_and_with_no_other() {
    let key = "6b".repeat(32);
    let Some(board) = wagtail("peers::wagtail signed", SLOW, Some(&key)) else { return };
    let sandbox = sandbox();
    sandbox.write("its.key", &key).write("another.key", &"6c".repeat(32));
    let copy = |more: &[&str]| {
        let arguments = ["snapshot", "--port", &board.port, "--output", "wagtail.json"];
        sandbox.run(&[&arguments, more].concat())
    };
    let said = copy(&[]);
    assert!(said.starts_with("exit code: 5\n") && said.contains("it may take only signed ones"), "{said}");
    let said = copy(&["--signing-key", "another.key"]);
    assert!(said.starts_with("exit code: 5\n") && said.contains("it signs its frames with another key"), "{said}");
    let said = copy(&["--signing-key", "its.key"]);
    assert_eq!(said, "exit code: 0\n--- stdout\n51 settings copied into wagtail.json\n");
}

/// One that has all of it already, with its battery in.
fn set_up(test: &str, answers: &str) -> Option<Board> {
    let mut board = wagtail(test, answers, None)?;
    for line in ["IN_PUSH 1", "IN_LEAN 2", "IN_NOSE 3", "LIVE_IN 7", "LIVE_LO 1750", "LIVE_HI 2100"] {
        board.line(&format!("set {line}"));
    }
    for line in ["set STICK_AT_BOTTOM 1", "set LOWEST_DRIVE 1140", "battery in"] {
        board.line(line);
    }
    Some(board)
}

#[test]
fn any_key_stops_the_motors_of_a_board_of_other_hands() {
    let Some(mut board) = set_up("peers::wagtail stop", QUICK) else { return };
    let sandbox = sandbox();
    sandbox.write("cut.jig", CUT);
    let port = board.port.clone();
    let arguments = ["run", "cut.jig", "--sheet", "wagtail.toml", "--port", &port, "--records", "crafts"];
    let mut run = Attended::start(&sandbox, &mut board, &arguments);
    assert!(run.until(willing, |_, board| board.turns()), "no motor turned:\n{}", run.screen());
    run.type_now(b" ");
    let began = Instant::now();
    run.board.until(|board| !board.drives());
    // The program needs some milliseconds of it, a machine that runs all tests at once the rest.
    assert!(began.elapsed() < Duration::from_millis(500), "{:?}:\n{}", began.elapsed(), run.screen());
    run.board.until(Board::rests);
    run.board.line("flip K 0");
    let ended = run.end(|_| Vec::new());
    assert_eq!(ended.code, Some(4), "{}", ended.screen);
    assert!(ended.screen.contains("sent to the board: a key was pressed"), "{}", ended.screen);
}

#[test]
fn over_a_slow_link_no_motor_turns() {
    let Some(mut board) = set_up("peers::wagtail slow", SLOW) else { return };
    let sandbox = sandbox();
    sandbox.write("cut.jig", CUT);
    let port = board.port.clone();
    let arguments = ["run", "cut.jig", "--sheet", "wagtail.toml", "--port", &port, "--records", "crafts"];
    let ended = Attended::start(&sandbox, &mut board, &arguments).end(willing);
    assert_eq!(ended.code, Some(4), "{}", ended.screen);
    let words = "This link is slow: an answer takes ";
    let told = ended.screen.split_once(words).unwrap_or_else(|| panic!("{}", ended.screen)).1;
    let trip: u32 = told.split_once(" ms").unwrap().0.parse().unwrap();
    assert!(trip >= 600, "{trip}:\n{}", ended.screen);
    assert!(!ended.screen.contains("Switch K to position 2"), "a start was invited:\n{}", ended.screen);
    assert!(board.rests());
}
