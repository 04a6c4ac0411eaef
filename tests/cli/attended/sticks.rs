//! Sticks as a person meets them: held over and let go at a real terminal, on four kinds of board.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::seen::Seen;
use super::super::desk::{Attended, Deed, willing};
use super::run_arguments;
use std::collections::VecDeque;
use std::time::Duration;

const FOUND: [&str; 2] = ["The roll stick moves channel 4.", "The pitch stick moves channel 2, reversed."];

/// The board takes roll from channel 1, and the radio has it on 4; pitch is reversed.
fn crossed(kind: &str) -> Board {
    let mut board = Board::with(&["--board", kind]);
    board.line("cross roll yaw");
    board.line("reverse pitch");
    board
}

#[test]
fn crossed_and_reversed_sticks_are_found_and_tested_by_rows_over_a_console_and_packets() {
    let one = |kind: &str, name: &str| {
        let sandbox = Sandbox::new();
        let recipe = format!(
            "recipe \"Wren 95, sticks\"\nedition 1\ncraft quad x\nboard \"{name}\"\nrequire props off\nrequire battery out\n\
             find sticks\nchannels yaw, pitch, throttle, roll\nkeep\ntest sticks\n"
        );
        sandbox.write("sticks.jig", &recipe);
        let mut board = crossed(kind);
        let port = board.port.clone();
        let ended = Attended::start(&sandbox, &mut board, &run_arguments("sticks.jig", &port)).end(willing);
        assert_eq!(ended.code, Some(0), "{name}: {}", ended.screen);
        for said in FOUND.into_iter().chain(["Every stick is as asked", "the sticks in another order"]) {
            assert!(ended.screen.contains(said), "{name}: {said}\n{}", ended.screen);
        }
        let settings = board.settings();
        assert_eq!((&settings["ROLL_CHANNEL"]["stored"], &settings["YAW_CHANNEL"]["stored"]), (&4.into(), &1.into()));
    };
    std::thread::scope(|scope| {
        for (kind, name) in [("finch-r", "Finch R"), ("finch-c", "Finch C"), ("finch-p", "Finch P")] {
            scope.spawn(move || one(kind, name));
        }
    });
}

#[test]
fn the_same_at_the_prompt() {
    let sandbox = Sandbox::new();
    let mut board = crossed("finch");
    let port = board.port.clone();
    let mut lines: VecDeque<&str> = [
        "require props off",
        "require battery out",
        "find sticks",
        "channels yaw, pitch, throttle, roll",
        "test sticks",
        "undo",
        "keep",
        "write sticks.jig",
    ]
    .into();
    let arguments = ["bench", "--port", &port, "--records", "crafts", "--title", "Wren 95"];
    let ended = Attended::start(&sandbox, &mut board, &arguments).end(|seen| match seen {
        Seen::Prompt(_) => {
            let line = lines.pop_front().unwrap_or("leave");
            vec![(Duration::from_millis(400), Deed::Type(format!("{line}\r").into_bytes()))]
        }
        other => willing(other),
    });
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    for said in FOUND.into_iter().chain(["Every stick is as asked", "Taking back: channels"]) {
        assert!(ended.screen.contains(said), "{said}\n{}", ended.screen);
    }
    assert_eq!(board.settings()["ROLL_CHANNEL"]["working"], 1, "taken back");
    let recipe = std::fs::read_to_string(sandbox.path("sticks.jig")).unwrap();
    assert!(
        recipe.contains("find sticks\n") && recipe.contains("roll on channel 4; pitch on channel 2, reversed"),
        "{recipe}"
    );
}
