//! The whole job over a console: the same recipe on a board that answers typed lines instead of MAVLink.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::relay::Relay;
use super::super::desk::{Attended, willing};
use super::{CUT, SMALL, run_arguments, whole};
use crate::spy::without_banner;
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

fn finch_c(recipe: &str) -> String {
    recipe.replace("board \"Finch\"", "board \"Finch C\"")
}

#[test]
fn a_recipe_runs_to_its_end_over_a_console() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", &finch_c(&whole()));
    let mut board = Board::with(&["--board", "finch-c"]);
    let port = board.port.clone();
    let ended = Attended::start(&sandbox, &mut board, &run_arguments("wren.jig", &port)).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    assert!(ended.screen.contains("Finished as asked"), "{}", ended.screen);
    let settings = board.settings();
    for (name, value) in [("ROW1_FUNC", 1), ("ROW1_CHANNEL", 6), ("SPIN_AT_ZERO", 1), ("CELLS", 2), ("IDLE_US", 1170)] {
        assert_eq!((&settings[name]["working"], &settings[name]["stored"]), (&value.into(), &value.into()), "{name}");
    }
    assert!(board.rests());
    let second = sandbox.run(&["dry-run", "wren.jig", "--port", &port, "--records", "crafts", "--exit-code"]);
    assert!(second.starts_with("exit code: 0\n") && second.contains("What changes: nothing."), "{second}");
}

/// A note in the midst of a line of the list leaves two pieces, of which the second looks like a setting.
#[test]
fn a_note_in_the_midst_of_the_list_makes_no_value() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", &finch_c(SMALL));
    let mut board = Board::on_tcp_as("finch-c");
    for setting in ["ROW1_FUNC 1", "ROW1_CHANNEL 6", "ROW1_FROM 1754", "ROW1_TO 2146"] {
        board.line(&format!("set {setting}"));
    }
    let cut = Arc::new(AtomicU32::new(0));
    let times = cut.clone();
    let relay = Relay::altering(&board, move |said| {
        let text = String::from_utf8(said.clone()).unwrap();
        if text.contains("2146 for ROW1_TO\r\n") && times.fetch_add(1, Ordering::SeqCst) == 0 {
            *said = text.replace("2146 for ROW1_TO", "21\r\n* Battery low\r\n46 for ROW1_TO").into_bytes();
        }
    });
    let ended = Attended::start(&sandbox, &mut board, &run_arguments("wren.jig", &relay.port)).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    assert!(cut.load(Ordering::SeqCst) > 1, "it was read again");
    let craft = std::fs::read_dir(sandbox.path("crafts")).unwrap().next().unwrap().unwrap().path();
    let copies: Vec<_> = std::fs::read_dir(craft.join("snapshots")).unwrap().map(|copy| copy.unwrap().path()).collect();
    assert_eq!(copies.len(), 2, "{copies:?}");
    for copy in copies {
        let copy: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(copy).unwrap()).unwrap();
        assert_eq!(copy["settings"]["ROW1_TO"], 2146, "{copy}");
    }
}

/// A console that says nothing when it starts, on an adapter: its port stays there all the time.
fn silent_start(sandbox: &Sandbox) -> Board {
    let sheet = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/recipes/boards/finch-c.toml")).unwrap();
    sandbox.write("wren.jig", &finch_c(SMALL)).write("silent.toml", &without_banner(&sheet));
    let mut board = Board::with(&["--board", "finch-c"]);
    board.line("banner off");
    board.line("port stays");
    board
}

#[test]
fn a_restart_that_only_silence_shows_is_told_as_such() {
    let sandbox = Sandbox::new();
    let mut board = silent_start(&sandbox);
    let port = board.port.clone();
    let arguments = [&run_arguments("wren.jig", &port)[..], &["--sheet", "silent.toml"]].concat();
    let ended = Attended::start(&sandbox, &mut board, &arguments).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    assert!(ended.screen.contains("Restarted, as far as silence shows"), "{}", ended.screen);
    assert!(ended.screen.contains("shown by its silence alone"), "{}", ended.screen);
    let truth = board.truth();
    assert_eq!((&truth["board"]["starts"], &truth["settings"]["ROW1_FUNC"]["stored"]), (&2.into(), &1.into()));
}

#[test]
fn a_restart_that_is_swallowed_is_not_shown_by_anything() {
    let sandbox = Sandbox::new();
    let mut board = silent_start(&sandbox);
    board.line("deed restart hollow");
    let port = board.port.clone();
    let arguments = [&run_arguments("wren.jig", &port)[..], &["--sheet", "silent.toml"]].concat();
    let ended = Attended::start(&sandbox, &mut board, &arguments).end(willing);
    assert_ne!(ended.code, Some(0), "{}", ended.screen);
    assert!(ended.screen.contains("The restart was accepted, not shown"), "{}", ended.screen);
    assert!(!ended.screen.contains("Restarted"), "{}", ended.screen);
    assert_eq!(board.truth()["board"]["starts"], 1);
}

/// A key stops motors that turn, and the lines of the stop are the first that leave after it.
#[test]
fn any_key_stops_over_a_console() {
    let sandbox = Sandbox::new();
    sandbox.write("cut.jig", &finch_c(CUT));
    let mut board = Board::with(&["--board", "finch-c"]);
    for setting in ["ROW1_FUNC 1", "ROW1_CHANNEL 6", "ROW1_FROM 1754", "ROW1_TO 2146", "SPIN_AT_ZERO 1", "IDLE_US 1150"]
    {
        board.line(&format!("set {setting}"));
    }
    board.line("battery in");
    let port = board.port.clone();
    let mut run = Attended::start(&sandbox, &mut board, &run_arguments("cut.jig", &port));
    assert!(run.until(willing, |_, board| board.turns()), "no motor turned:\n{}", run.screen());
    run.type_now(b" ");
    let began = Instant::now();
    run.board.until(|board| !board.drives());
    assert!(began.elapsed() < Duration::from_millis(500), "{:?}", began.elapsed());
    run.board.until(Board::rests);
    run.board.line("flip B 0");
    let ended = run.end(|_| Vec::new());
    assert_eq!(ended.code, Some(4), "{}", ended.screen);
    assert!(ended.screen.contains("sent to the board: a key was pressed"), "{}", ended.screen);
}

/// With sheets of both links at hand, nothing is sent before the wire was listened to; then it is found out.
#[test]
fn without_a_sheet_the_wire_is_listened_to_first() {
    let sandbox = Sandbox::new();
    for (kind, link) in [("finch", "MAVLink"), ("finch-c", "a console")] {
        let mut board = Board::on_tcp_as(kind);
        let before = board.settings();
        let relay = Relay::before(&board);
        let began = Instant::now();
        let (done, first) = std::thread::scope(|scope| {
            let snapshot = scope.spawn(|| sandbox.run(&["snapshot", "--port", &relay.port, "--records", "crafts"]));
            while relay.sent().is_empty() && !snapshot.is_finished() {
                std::thread::sleep(Duration::from_millis(5));
            }
            let first = began.elapsed();
            (snapshot.join().unwrap(), first)
        });
        assert!(done.starts_with("exit code: 0\n"), "{link}: {done}");
        if link == "a console" {
            assert!(first > Duration::from_millis(2400), "asked after {first:?}");
            let sent = String::from_utf8(relay.sent()).unwrap();
            assert!(sent.starts_with("\u{3}\r\rarmed\r") && sent.ends_with("leave\r"), "{sent:?}");
            let asked = ["armed", "who", "list", " ", "leave"];
            for line in sent.replace('\u{3}', "").split('\r').filter(|line| !line.is_empty()) {
                assert!(line.split(' ').all(|word| word.is_empty() || asked.contains(&word)), "{line:?} only looks");
            }
        }
        assert_eq!(board.settings(), before);
    }
}
