//! A copy of all settings, and bringing it back.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::{Attended, willing};

/// Copies the board's settings into a file.
fn copied(sandbox: &Sandbox, board: &Board, file: &str) {
    let said = sandbox.run(&["snapshot", "--port", &board.port, "--output", file]);
    assert_eq!(said, format!("exit code: 0\n--- stdout\n80 settings copied into `{file}`\n"));
}

#[test]
fn a_copy_comes_back_whole() {
    let sandbox = Sandbox::new();
    let mut board = Board::new();
    let before = board.settings();
    copied(&sandbox, &board, "before.json");
    for setting in ["ARM_CHANNEL 6", "ARM_FROM 1754", "ARM_TO 2146", "IDLE_US 1150", "WARN_CELL_MV 3400"] {
        board.line(&format!("set {setting}"));
    }
    board.line("battery in");
    let port = board.port.clone();
    let arguments = ["restore", "before.json", "--port", &port, "--records", "crafts"];
    let ended = Attended::start(&sandbox, &mut board, &arguments).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    assert!(ended.screen.contains("Take the battery out."), "{}", ended.screen);
    assert!(ended.screen.contains("5 settings were changed, read back, and kept over a restart."), "{}", ended.screen);
    assert_eq!(board.settings(), before);
    // A second time there is nothing to do.
    let ended = Attended::start(&sandbox, &mut board, &arguments).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    assert!(ended.screen.contains("Nothing was changed on the board."), "{}", ended.screen);
}

/// All of it beforehand, and nothing of it done: every setting, and which switch would arm.
#[test]
fn a_dry_run_shows_what_a_copy_would_do() {
    let sandbox = Sandbox::new();
    let mut board = Board::new();
    for setting in ["ARM_CHANNEL 6", "ARM_FROM 1754", "ARM_TO 2146"] {
        board.line(&format!("set {setting}"));
    }
    copied(&sandbox, &board, "before.json");
    for setting in ["ARM_CHANNEL 0", "ARM_FROM 850", "ARM_TO 850", "IDLE_US 1150"] {
        board.line(&format!("set {setting}"));
    }
    let before = board.settings();
    let port = board.port.clone();
    let copy = std::fs::read_to_string(sandbox.path("before.json")).unwrap();
    let copy: serde_json::Value = serde_json::from_str(&copy).unwrap();
    let moment = copy["taken"].as_str().unwrap();
    let shows = |more: &[&str]| {
        let shown = sandbox.run(&[&["dry-run", "before.json", "--port", &port, "--records", "crafts"], more].concat());
        let print = shown.split_once("fingerprint  ").and_then(|(_, rest)| rest.lines().next()).unwrap_or("no print");
        shown.replace(print, "PRINT").replace(moment, "MOMENT")
    };
    insta::assert_snapshot!(shows(&["--radio", "bench", "--exit-code"]));
    assert_eq!(board.settings(), before);
    // A page has no review of a recipe that there is none of, and the same sentence.
    let page = shows(&["--radio", "bench", "--format", "html"]);
    assert!(page.contains("bind arm to switch B position 2") && !page.contains("Reviews"), "{page}");
    // Standing where it would arm, it is refused, and says so as JSON too.
    board.line("flip B 2");
    let refused = shows(&["--format", "json"]);
    assert!(refused.starts_with("exit code: 1") && refused.contains("plan-copy"), "{refused}");
    assert!(refused.contains("stands at"), "{refused}");
    // Against another copy nobody listens.
    let against = shows(&[]).lines().count();
    assert!(against > 0);
    let planned = sandbox.run(&["dry-run", "before.json", "--against", "before.json", "--records", "crafts"]);
    assert!(planned.contains("nothing will be written") && planned.contains("Afterwards, as now"), "{planned}");
}

#[test]
fn a_copy_of_another_kind_is_refused() {
    let sandbox = Sandbox::new();
    let other = Board::with(&["--board", "finch-r"]);
    let said = sandbox.run(&["snapshot", "--port", &other.port, "--output", "other.json"]);
    assert!(said.starts_with("exit code: 0\n"), "{said}");
    let mut board = Board::new();
    let before = board.settings();
    let port = board.port.clone();
    let ended = Attended::start(&sandbox, &mut board, &["restore", "other.json", "--port", &port]).end(willing);
    assert_eq!(ended.code, Some(1), "{}", ended.screen);
    let screen: String = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
    let words = "The snapshot is of a board of the kind \"Finch R\", and this is one of the kind \"Finch\"";
    assert!(screen.contains(words), "{}", ended.screen);
    assert_eq!(board.settings(), before);
}

#[test]
fn what_is_no_copy_is_told() {
    let sandbox = Sandbox::new();
    sandbox.write("notes.json", "{}");
    let board = Board::new();
    insta::assert_snapshot!(sandbox.run(&["restore", "notes.json", "--port", &board.port]));
}
