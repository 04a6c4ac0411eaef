//! A run that was killed between writing and keeping: the next one says so, and what is on the board.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::seen::{Asked, Reply, Seen};
use super::super::desk::{Attended, willing};
use super::{SMALL, run_arguments};
use rustix::process::Signal;

/// A sandbox and a board on which a run was killed after its writes, before it kept them.
fn cut_off() -> (Sandbox, Board) {
    let sandbox = Sandbox::new();
    let pause = "pause \"Have a look.\"\nkeep";
    sandbox.write("wren.jig", &SMALL.replace("keep", pause));
    let mut board = Board::new();
    let port = board.port.clone();
    let mut run = Attended::start(&sandbox, &mut board, &run_arguments("wren.jig", &port));
    let pauses = |seen: &Seen| matches!(seen, Seen::Asked(Asked { reply: Reply::Enter, .. }));
    let person = |seen: &Seen| if pauses(seen) { Vec::new() } else { willing(seen) };
    assert!(run.until(person, |screen, _| screen.contains("Press Enter to go on")), "{}", run.screen());
    run.signal(Signal::KILL);
    assert_eq!(run.end(willing).code, None);
    drop(run);
    let settings = board.settings();
    assert_eq!((&settings["CELLS"]["working"], &settings["CELLS"]["stored"]), (&2.into(), &1.into()));
    (sandbox, board)
}

/// Runs again to the end; the screen in one line.
fn again(sandbox: &Sandbox, board: &mut Board) -> String {
    let port = board.port.clone();
    let ended = Attended::start(sandbox, board, &run_arguments("wren.jig", &port)).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    let settings = board.settings();
    for (name, value) in [("ARM_CHANNEL", 6), ("CELLS", 2), ("WARN_CELL_MV", 3600)] {
        assert_eq!((&settings[name]["working"], &settings[name]["stored"]), (&value.into(), &value.into()), "{name}");
    }
    ended.screen.split_whitespace().collect::<Vec<_>>().join(" ")
}

const WRITTEN: &str = "ARM_CHANNEL, ARM_FROM, ARM_TO, CELLS, LAND_CELL_MV, SPIN_AT_ZERO, WARN_CELL_MV";
const SAYS: &str = "mind this The run of \"Wren 95, arm\" that began ";

#[test]
fn the_next_run_says_so_and_keeps_what_was_only_written() {
    let (sandbox, mut board) = cut_off();
    let screen = again(&sandbox, &mut board);
    assert!(screen.contains(&format!("did not come to keep them over a restart: {WRITTEN}.")), "{screen}");
    assert!(screen.contains("7 settings of an earlier run, written and not kept then, kept over a restart now."));
    assert!(screen.contains(SAYS) && screen.contains("on this craft was cut off before its end."), "{screen}");
    // The one after that has nothing to say.
    let screen = again(&sandbox, &mut board);
    assert!(!screen.contains("cut off"), "{screen}");
}

#[test]
fn after_a_restart_the_old_values_are_back_and_are_written_anew() {
    let (sandbox, mut board) = cut_off();
    board.line("restart");
    std::thread::sleep(std::time::Duration::from_millis(2500));
    assert_eq!(board.settings()["CELLS"]["working"], 1);
    let screen = again(&sandbox, &mut board);
    assert!(screen.contains(SAYS), "{screen}");
    assert!(screen.contains(&format!("and they are not on the board any more: {WRITTEN}.")), "{screen}");
    assert!(screen.contains("7 settings were changed, read back, and kept over a restart."), "{screen}");
}

/// The way back that the next run names is one that can be gone.
#[test]
fn the_way_back_that_is_named_leads_back() {
    let (sandbox, mut board) = cut_off();
    let stored = |board: &mut Board| -> Vec<f64> {
        let settings = board.settings();
        settings.as_object().unwrap().values().map(|value| value["stored"].as_f64().unwrap()).collect()
    };
    let before = stored(&mut board);
    let port = board.port.clone();
    let mut run = Attended::start(&sandbox, &mut board, &run_arguments("wren.jig", &port));
    // Whoever reads this declines the first question, and goes back.
    assert!(run.until(|_| Vec::new(), |screen, _| screen.contains("Are the propellers off?")), "{}", run.screen());
    let screen = run.screen().split_whitespace().collect::<Vec<_>>().join(" ");
    std::thread::sleep(std::time::Duration::from_millis(500));
    run.type_now(b"\x1b");
    assert_eq!(run.end(|_| Vec::new()).code, Some(4));
    drop(run);
    let way = screen.split_once("To go back instead: quadjig ").unwrap().1;
    let way: Vec<&str> = way.split(' ').take(2).chain(["--port", &port, "--records", "crafts"]).collect();
    let ended = Attended::start(&sandbox, &mut board, &way).end(willing);
    assert_eq!(ended.code, Some(0), "{way:?}: {}", ended.screen);
    assert_eq!((board.settings()["CELLS"]["working"].as_f64(), stored(&mut board)), (Some(1.0), before));
}
