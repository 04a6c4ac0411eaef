//! The whole job over packets as a person meets it: a recipe run, and statements at the prompt, on boards of both framings.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::seen::{Reply, Seen};
use super::super::desk::{Attended, Deed, willing};
use super::{CUT, run_arguments, whole};
use std::collections::VecDeque;
use std::time::{Duration, Instant};

/// Everything that is found, bound, kept and shown again, with a radio that goes off.
const ALL: &str = r#"
recipe "Wren 95, packets"
edition 1
craft quad x turning inward
board "Finch P"
require props off
require battery out
require throttle low
channels roll, pitch, throttle, yaw
find switch B with 3 positions
switch C on channel 7 rests at 1000, 2000 on link loss flagged
find link loss
bind arm to switch B position 2
bind buzzer to switch C position 1
at zero throttle spin
failsafe cut motors after 0.5 s
battery 2 cells lipo warn at 3.6 V per cell land at 3.4 V per cell
keep
test arm
test buzzer
require battery in
idle start at 1150 step 20 until all spin, at most 1200, for 1 s, in 1 starts, then add 20
keep
test idle in 1 starts
test cut within 800 ms
test failsafe within 1.5 s
"#;

fn held(board: &mut Board, settings: &[(&str, i32)]) {
    let is = board.settings();
    for (name, value) in settings {
        assert_eq!((&is[*name]["working"], &is[*name]["stored"]), (&(*value).into(), &(*value).into()), "{name}");
    }
    assert!(board.rests());
}

fn run(kind: &str, recipe: &str, kept: &[(&str, i32)]) {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", recipe);
    let mut board = Board::with(&["--board", kind]);
    let port = board.port.clone();
    let ended = Attended::start(&sandbox, &mut board, &run_arguments("wren.jig", &port)).end(willing);
    assert_eq!(ended.code, Some(0), "{kind}: {}", ended.screen);
    assert!(ended.screen.contains("Finished as asked"), "{kind}: {}", ended.screen);
    held(&mut board, kept);
    let second = sandbox.run(&["dry-run", "wren.jig", "--port", &port, "--records", "crafts"]);
    assert!(second.starts_with("exit code: 0\n"), "{kind}: {second}");
}

/// Statements by hand, one taken back, and a recipe of them at the end.
fn at_the_prompt() {
    let sandbox = Sandbox::new();
    let mut board = Board::with(&["--board", "finch-p"]);
    let port = board.port.clone();
    let mut lines: VecDeque<&str> = [
        "require props off",
        "require battery out",
        "find switch B with 3 positions",
        "bind arm to switch B position 2",
        "at zero throttle spin",
        "set \"LIGHT_LEVEL\" to 41",
        "keep",
        "test arm",
        "idle start at 1140 step 20 by hand, for 1 s, in 1 starts",
        "keep",
        "test cut within 800 ms",
        "require battery out",
        "failsafe cut motors after 1 s",
        "undo",
        "write packets.jig",
    ]
    .into();
    let mut keys: VecDeque<char> = ['h', 't', 'l'].into();
    let arguments = ["bench", "--port", &port, "--records", "crafts", "--title", "Wren 95"];
    let ended = Attended::start(&sandbox, &mut board, &arguments).end(|seen| match seen {
        Seen::Prompt(_) => {
            let line = lines.pop_front().unwrap_or("leave");
            vec![(Duration::from_millis(400), Deed::Type(format!("{line}\r").into_bytes()))]
        }
        Seen::Asked(asked) if asked.title.contains("Which idle next") || asked.title.contains("Leave the bench") => {
            let Reply::Keys(offered) = &asked.reply else { panic!("{asked:?}") };
            let key = keys.pop_front().unwrap_or(offered[0]);
            vec![(Duration::from_millis(400), Deed::Type(key.to_string().into_bytes()))]
        }
        other => willing(other),
    });
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    for said in ["Switch B drives channel 6", "idle = 1180 us", "Taking back: failsafe", "Written to"] {
        assert!(ended.screen.contains(said), "{said}\n{}", ended.screen);
    }
    held(&mut board, &[("IDLE_US", 1180), ("ARM_CHANNEL", 6), ("LIGHT_LEVEL", 41), ("LOSS_ACTION", 0)]);
    let recipe = std::fs::read_to_string(sandbox.path("packets.jig")).unwrap();
    assert!(recipe.contains("board \"Finch P\"") && recipe.contains("set \"LIGHT_LEVEL\" to 41"), "{recipe}");
}

/// Beside each other, as each is mostly hands.
#[test]
fn crafts_are_set_up_in_packets_by_a_run_and_at_the_prompt() {
    std::thread::scope(|scope| {
        let direct = [("ARM_CHANNEL", 6), ("BUZZ_CHANNEL", 7), ("LOSS_ACTION", 1), ("CELLS", 2), ("IDLE_US", 1170)];
        scope.spawn(move || run("finch-p", ALL, &direct));
        let rows = [("ROW1_FUNC", 1), ("ROW1_CHANNEL", 6), ("MOTOR_SIGNAL", 3), ("LOOP_HZ", 4000), ("IDLE_US", 1170)];
        let recipe = whole().replace("board \"Finch\"", "board \"Finch Q\"");
        let recipe = recipe.replace("\nkeep\ntest arm", "\nsignal dshot300 at 4 kHz\nkeep\ntest arm\npower cycle");
        scope.spawn(move || run("finch-q", &recipe, &rows));
        scope.spawn(at_the_prompt);
    });
}

/// A key stops motors that turn, whatever question waits for its answer.
#[test]
fn any_key_stops_over_packets() {
    std::thread::scope(|scope| {
        for (kind, name, bound) in [
            ("finch-p", "Finch P", &["ARM_CHANNEL 6", "ARM_FROM 1754", "ARM_TO 2146"][..]),
            ("finch-q", "Finch Q", &["ROW1_FUNC 1", "ROW1_CHANNEL 6", "ROW1_FROM 1754", "ROW1_TO 2146"]),
        ] {
            scope.spawn(move || {
                let sandbox = Sandbox::new();
                sandbox.write("cut.jig", &CUT.replace("board \"Finch\"", &format!("board \"{name}\"")));
                let mut board = Board::with(&["--board", kind]);
                for setting in bound.iter().chain(&["SPIN_AT_ZERO 1", "IDLE_US 1150"]) {
                    board.line(&format!("set {setting}"));
                }
                board.line("battery in");
                let port = board.port.clone();
                let mut run = Attended::start(&sandbox, &mut board, &run_arguments("cut.jig", &port));
                assert!(run.until(willing, |_, board| board.turns()), "no motor turned:\n{}", run.screen());
                run.type_now(b" ");
                let began = Instant::now();
                run.board.until(|board| !board.drives());
                assert!(began.elapsed() < Duration::from_millis(500), "{kind}: {:?}", began.elapsed());
                run.board.until(Board::rests);
                run.board.line("flip B 0");
                let ended = run.end(|_| Vec::new());
                assert_eq!(ended.code, Some(4), "{kind}: {}", ended.screen);
                assert!(ended.screen.contains("sent to the board: a key was pressed"), "{kind}: {}", ended.screen);
            });
        }
    });
}
