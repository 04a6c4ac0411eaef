//! The Redstart, a board whose packets nobody here's codec makes, set up by the program itself at a terminal.

use super::{project, python, script};
use crate::cli::Sandbox;
use crate::cli::desk::board::Board;
use crate::cli::desk::{Attended, willing};
use serde_json::Value;
use std::time::{Duration, Instant};

/// All that this board can be asked; its settings are the Wagtail's.
const RECIPE: &str = r#"
recipe "Wren 95 with a Redstart"
edition 1
craft quad x
board "Redstart"
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
require battery in
idle start at 1112 step 12 until all spin, at most 1180, for 1 s, in 1 starts, then add 12
keep
test cut within 800 ms
test failsafe
"#;

/// The same with the battery in at once, and one motor step.
const CUT: &str = r#"
recipe "Wren 95 with a Redstart, cut"
edition 1
craft quad x
board "Redstart"
require props off
channels throttle, roll, pitch, yaw
switch K on channel 7 rests at 1012, 1497, 1988 on link loss flagged
bind arm to switch K position 2
at zero throttle spin
require battery in
test cut within 800 ms
"#;

const WANTED: [(&str, i64); 8] = [
    ("IN_PUSH", 1),
    ("IN_LEAN", 2),
    ("LIVE_IN", 7),
    ("HORN_IN", 8),
    ("EVEN_IN", -1),
    ("SILENCE_DOES", 4),
    ("PACK_CALLS", 360),
    ("GLOW_SHADE", -30),
];

/// The board on its pseudo-terminal; `None` without the peers' environment.
fn redstart(test: &str) -> Option<Board> {
    let python = python(test)?;
    let folder = tempfile::tempdir().unwrap();
    let port = folder.path().join("redstart").display().to_string();
    let command = script(&python, "redstart.py", &[&port, "0.004"]);
    Some(Board::by(command, port, folder))
}

fn sandbox() -> Sandbox {
    let sandbox = Sandbox::new();
    let sheet = std::fs::read_to_string(project().join("tests/peers/redstart.toml")).unwrap();
    sandbox.write("wren.jig", RECIPE).write("cut.jig", CUT).write("redstart.toml", &sheet);
    sandbox
}

#[test]
fn a_copy_holds_every_setting_of_every_packet() {
    let Some(mut board) = redstart("peers::redstart snapshot") else { return };
    let sandbox = sandbox();
    let arguments = ["snapshot", "--sheet", "redstart.toml", "--port", &board.port, "--output", "redstart.json"];
    let said = sandbox.run(&arguments);
    assert!(said.starts_with("exit code: 0\n"), "{said}");
    let copy: Value = serde_json::from_str(&std::fs::read_to_string(sandbox.path("redstart.json")).unwrap()).unwrap();
    let truth = board.settings();
    let (truth, copied) = (truth.as_object().unwrap(), copy["settings"].as_object().unwrap());
    assert_eq!(copied.len(), truth.len());
    for (name, values) in truth {
        assert_eq!(copied[name].as_f64(), values["working"].as_f64(), "{name}");
    }
    assert_eq!((&copy["board"]["kind"], &copy["board"]["firmware"]), (&"Redstart".into(), &"1.7".into()));
}

#[test]
fn a_craft_with_a_packet_board_of_other_hands_is_set_up_from_end_to_end() {
    let Some(mut board) = redstart("peers::redstart run") else { return };
    let sandbox = sandbox();
    let port = board.port.clone();
    let shared = ["wren.jig", "--sheet", "redstart.toml", "--port", &port, "--records", "crafts"];
    let arguments: Vec<&str> = ["run"].into_iter().chain(shared).collect();
    let ended = Attended::start(&sandbox, &mut board, &arguments).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    let settings = board.settings();
    for (name, wanted) in WANTED {
        let now = &settings[name];
        assert_eq!((now["working"].as_i64(), now["stored"].as_i64()), (Some(wanted), Some(wanted)), "{name}");
    }
    // The lowest step at which every motor starts, and 12 us on top.
    let highest_start = board.truth()["highest_start"].as_i64().unwrap();
    let idle = settings["LOWEST_DRIVE"]["working"].as_i64().unwrap();
    assert!((highest_start + 12..highest_start + 24).contains(&idle), "{idle}: {}", ended.screen);
    assert!(board.rests());
    let arguments: Vec<&str> = ["dry-run"].into_iter().chain(shared).chain(["--exit-code"]).collect();
    let second = sandbox.run(&arguments);
    assert!(second.starts_with("exit code: 0\n") && second.contains("What changes: nothing."), "{second}");
}

#[test]
fn any_key_stops_the_motors_of_a_packet_board_of_other_hands() {
    let Some(mut board) = redstart("peers::redstart stop") else { return };
    for line in ["IN_PUSH 1", "IN_LEAN 2", "IN_NOSE 3", "LIVE_IN 7", "LIVE_LO 1750", "LIVE_HI 2100"] {
        board.line(&format!("set {line}"));
    }
    for line in ["set STICK_AT_BOTTOM 1", "set LOWEST_DRIVE 1140", "battery in"] {
        board.line(line);
    }
    let sandbox = sandbox();
    let port = board.port.clone();
    let arguments = ["run", "cut.jig", "--sheet", "redstart.toml", "--port", &port, "--records", "crafts"];
    let mut run = Attended::start(&sandbox, &mut board, &arguments);
    assert!(run.until(willing, |_, board| board.turns()), "no motor turned:\n{}", run.screen());
    run.type_now(b" ");
    let began = Instant::now();
    run.board.until(|board| !board.drives());
    assert!(began.elapsed() < Duration::from_millis(500), "{:?}:\n{}", began.elapsed(), run.screen());
    run.board.until(Board::rests);
    run.board.line("flip K 0");
    let ended = run.end(|_| Vec::new());
    assert_eq!(ended.code, Some(4), "{}", ended.screen);
}
