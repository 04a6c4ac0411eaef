//! What the boards of other hands share: their recipes, the program's run at each, and what has to be so of all.
//!
//! Must not be here: what only one of them does.

use super::{project, python, script};
use crate::cli::Sandbox;
use crate::cli::desk::board::Board;
use crate::cli::desk::{Attended, willing};
use serde_json::Value;
use std::time::{Duration, Instant};

/// A board of another hand: its name, by which its script, its sheet and its recipes go as well.
pub struct Peer(pub &'static str);

impl Peer {
    fn file(&self, end: &str) -> String {
        format!("{}.{end}", self.0.to_lowercase())
    }

    /// The board on its pseudo-terminal, its script told what else it takes; `None` without the peers' environment.
    pub fn board(&self, test: &str, more: &[&str]) -> Option<Board> {
        let python = python(&format!("peers::{} {test}", self.0.to_lowercase()))?;
        let folder = tempfile::tempdir().unwrap();
        let port = folder.path().join("board").display().to_string();
        let arguments: Vec<&str> = [port.as_str()].iter().chain(more).copied().collect();
        let command = script(&python, &self.file("py"), &arguments);
        Some(Board::by(command, port, folder))
    }

    /// A recipe of these lines for a craft with it.
    pub fn recipe(&self, lines: &str) -> String {
        format!("recipe \"Wren 95\"\nedition 1\ncraft quad x\nboard \"{}\"\nrequire props off\n{lines}", self.0)
    }

    /// A sandbox with its sheet and a recipe of these lines.
    pub fn sandbox(&self, lines: &str) -> Sandbox {
        let sandbox = Sandbox::new();
        let sheet = std::fs::read_to_string(project().join("tests/peers").join(self.file("toml"))).unwrap();
        sandbox.write("wren.jig", &self.recipe(lines)).write("sheet.toml", &sheet);
        sandbox
    }

    /// What its first set-up begins with; `ends` is what is left of it once `test arm` is done.
    pub fn set_up(ends: &str) -> String {
        format!(
            "require battery out\n{CHANNELS}switch L on channel 8 rests at 1020, 1980 on link loss flagged\n\
             bind buzzer to switch L position 1\nfailsafe cut motors after 500 ms\n\
             battery 2 cells lipo warn at 3.6 V per cell land at 3.4 V per cell\nkeep\nrequire throttle low\ntest arm\n{ends}"
        )
    }
}

/// Motors run alone no longer than this, whatever its sheet allows: twenty runs of two seconds show no more.
pub fn short_runs(sandbox: &Sandbox) {
    let sheet = std::fs::read_to_string(sandbox.path("sheet.toml")).unwrap();
    assert_eq!(sheet.matches("longest = \"2 s\"").count(), 1);
    sandbox.write("sheet.toml", &sheet.replace("longest = \"2 s\"", "longest = \"0.8 s\""));
}

/// Its sticks and the switch that arms.
pub const CHANNELS: &str = "channels throttle, roll, pitch, yaw
switch K on channel 7 rests at 1012, 1497, 1988 on link loss flagged
bind arm to switch K position 2
at zero throttle spin
";

/// What a board that has all of it already has one motor step to do.
pub fn cut() -> String {
    format!("{CHANNELS}require battery in\ntest cut within 800 ms\n")
}

/// Of a board that is attended or looked at: the command, its recipe and its port.
pub fn arguments<'a>(command: &'a str, port: &'a str, more: &[&'a str]) -> Vec<&'a str> {
    let shared = [command, "wren.jig", "--sheet", "sheet.toml", "--port", port, "--records", "crafts"];
    shared.iter().chain(more).copied().collect()
}

/// Whether a dry run finds all that the recipe asks for.
pub fn has_it_all(sandbox: &Sandbox, port: &str) {
    let said = sandbox.run(&arguments("dry-run", port, &["--exit-code"]));
    assert!(said.starts_with("exit code: 0\n") && said.contains("What changes: nothing."), "{said}");
}

/// A copy holds what each setting really is.
pub fn copies(sandbox: &Sandbox, board: &mut Board, more: &[&str]) -> Value {
    let copy = ["snapshot", "--port", &board.port, "--output", "copy.json"];
    let said = sandbox.run(&[&copy, more].concat());
    assert!(said.starts_with("exit code: 0\n"), "{said}");
    let copy: Value = serde_json::from_str(&std::fs::read_to_string(sandbox.path("copy.json")).unwrap()).unwrap();
    let truth = board.settings();
    let (truth, copied) = (truth.as_object().unwrap(), copy["settings"].as_object().unwrap());
    assert_eq!(copied.len(), truth.len());
    for (name, values) in truth {
        assert_eq!(copied[name].as_f64(), values["working"].as_f64(), "{name}");
    }
    copy
}

/// Every setting has this value, in use and stored.
pub fn holds(board: &mut Board, wanted: &[(&str, i64)]) {
    let settings = board.settings();
    for (name, wanted) in wanted {
        let now = &settings[*name];
        assert_eq!((now["working"].as_i64(), now["stored"].as_i64()), (Some(*wanted), Some(*wanted)), "{name}");
    }
}

/// Gives a board what [`cut`] asks for, with its battery in.
pub fn give(board: &mut Board) {
    for line in ["IN_PUSH 1", "IN_LEAN 2", "IN_NOSE 3", "LIVE_IN 7", "LIVE_LO 1750", "LIVE_HI 2100"] {
        board.line(&format!("set {line}"));
    }
    for line in ["set STICK_AT_BOTTOM 1", "set LOWEST_DRIVE 1140", "battery in"] {
        board.line(line);
    }
}

/// Any key stops its motors.
pub fn a_key_stops(peer: &Peer, board: &mut Board) {
    give(board);
    let sandbox = peer.sandbox(&cut());
    let port = board.port.clone();
    let mut run = Attended::start(&sandbox, board, &arguments("run", &port, &[]));
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
