//! A run that was killed between writing and keeping: the next one says so, and what is on the board.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::seen::{Asked, Reply, Seen};
use super::super::desk::{Attended, Deed, willing};
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

const WRITTEN: &str = "arm: channel (ARM_CHANNEL), arm: from (ARM_FROM), arm: to (ARM_TO), battery-cells (CELLS), \
                       battery-land (LAND_CELL_MV), zero-throttle (SPIN_AT_ZERO), battery-warn (WARN_CELL_MV)";
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

/// Recovers at the terminal by this key; the screen in one line.
fn recover(sandbox: &Sandbox, board: &mut Board, key: &'static str) -> String {
    let port = board.port.clone();
    let person = move |seen: &Seen| match seen {
        Seen::Asked(Asked { reply: Reply::Keys(keys), .. }) if keys.contains(&'b') || keys.contains(&'f') => {
            vec![(std::time::Duration::from_millis(500), Deed::Type(key.as_bytes().to_vec()))]
        }
        other => willing(other),
    };
    let arguments = ["recover", "--port", &port, "--records", "crafts"];
    let ended = Attended::start(sandbox, board, &arguments).end(person);
    assert_eq!(ended.code, Some(if key == "n" { 4 } else { 0 }), "{}", ended.screen);
    ended.screen.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn stored(board: &mut Board) -> Vec<f64> {
    let settings = board.settings();
    settings.as_object().unwrap().values().map(|value| value["stored"].as_f64().unwrap()).collect()
}

/// Every command on the craft says so, declining settles nothing, and then it is put back.
#[test]
fn it_is_said_everywhere_until_it_was_put_back() {
    let (sandbox, mut board) = cut_off();
    let before = stored(&mut board);
    let port = board.port.clone();
    let said = |sandbox: &Sandbox, arguments: &[&str]| {
        let output = sandbox.command(arguments).output().unwrap();
        let text = [output.stdout, output.stderr].concat();
        String::from_utf8(text).unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let open = |sandbox: &Sandbox, what: &str| {
        let dry_run = ["dry-run", "wren.jig", "--port", &port, "--records", "crafts"];
        let file = format!("{what}.json");
        let snapshot = ["snapshot", "--port", &port, "--records", "crafts", "--output", &file];
        // A copy is taken without a sheet, which has the words.
        for (arguments, first) in [(&dry_run[..], "arm: channel (ARM_CHANNEL)"), (&snapshot, "ARM_CHANNEL")] {
            let text = said(sandbox, arguments);
            assert!(text.contains("mind this: The run of \"Wren 95, arm\" that began"), "{what}: {text}");
            let wrote = format!("wrote these, and did not come to keep them over a restart: {first}");
            assert!(text.contains(&wrote), "{what}: {text}");
            assert!(text.contains("quadjig recover"), "{what}: {text}");
        }
        for words in [&["list"][..], &["show", "7669727400000001"]] {
            let text = said(sandbox, &[&["craft"], words, &["--records", "crafts"]].concat());
            assert!(text.contains("`quadjig recover` finishes it or puts it back"), "{what}: {text}");
        }
    };
    open(&sandbox, "cut off");
    let screen = recover(&sandbox, &mut board, "n");
    assert!(screen.contains("New, and not seen after a restart"), "{screen}");
    open(&sandbox, "declined");
    // A run that is declined begins and ends in the journal, and settles nothing either.
    let mut run = Attended::start(&sandbox, &mut board, &run_arguments("wren.jig", &port));
    assert!(run.until(|_| Vec::new(), |screen, _| screen.contains("Are the propellers off?")), "{}", run.screen());
    std::thread::sleep(std::time::Duration::from_millis(500));
    run.type_now(b"\x1b");
    assert_eq!(run.end(|_| Vec::new()).code, Some(4));
    drop(run);
    open(&sandbox, "a run declined");
    recover(&sandbox, &mut board, "b");
    assert_eq!((board.settings()["CELLS"]["working"].as_f64(), stored(&mut board)), (Some(1.0), before));
    let text = said(&sandbox, &["dry-run", "wren.jig", "--port", &port, "--records", "crafts"]);
    assert!(!text.contains("mind this") && !text.contains("recover"), "{text}");
    let screen = recover_nothing(&sandbox, &mut board);
    assert!(screen.contains("there is nothing to recover"), "{screen}");
}

fn recover_nothing(sandbox: &Sandbox, board: &mut Board) -> String {
    let port = board.port.clone();
    let ended = Attended::start(sandbox, board, &["recover", "--port", &port, "--records", "crafts"]).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    ended.screen.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Finished by the recipe as the record has it, which may lie nowhere else any more.
#[test]
fn it_is_finished_without_the_recipes_file() {
    let (sandbox, mut board) = cut_off();
    std::fs::remove_file(sandbox.path("wren.jig")).unwrap();
    let screen = recover(&sandbox, &mut board, "f");
    assert!(screen.contains("finish \"Wren 95, arm\""), "{screen}");
    let settings = board.settings();
    for (name, value) in [("ARM_CHANNEL", 6), ("CELLS", 2), ("WARN_CELL_MV", 3600)] {
        assert_eq!((&settings[name]["working"], &settings[name]["stored"]), (&value.into(), &value.into()), "{name}");
    }
    let screen = recover_nothing(&sandbox, &mut board);
    assert!(screen.contains("there is nothing to recover"), "{screen}");
}

/// Killed while the motors turn: the guardian stops them, and both ways are open.
#[test]
fn killed_while_motors_turn_it_is_put_back() {
    let sandbox = Sandbox::new();
    let mut board = Board::new();
    sandbox.write("wren.jig", &super::whole());
    let before = stored(&mut board);
    let port = board.port.clone();
    let mut run = Attended::start(&sandbox, &mut board, &run_arguments("wren.jig", &port));
    assert!(run.until(willing, |_, board| board.turns()), "{}", run.screen());
    run.signal(Signal::KILL);
    assert_eq!(run.end(|_| Vec::new()).code, None);
    drop(run);
    board.line("flip B 0");
    board.until(Board::rests);
    assert_ne!(stored(&mut board), before);
    // The guardian goes on stopping for its time.
    std::thread::sleep(std::time::Duration::from_secs(11));
    recover(&sandbox, &mut board, "b");
    assert_eq!(stored(&mut board), before);
}
