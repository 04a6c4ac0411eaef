//! How a board sits and what it shows of the pack, as a person meets it: at a real terminal, on four kinds of board.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::seen::Seen;
use super::super::desk::{Attended, Deed, typed, willing};
use super::run_arguments;
use std::collections::VecDeque;
use std::time::Duration;

/// A board that sits turned and out of level, on a divider that its maker did not measure.
fn fitted(kind: &str) -> Board {
    let mut board = Board::with(&["--board", kind]);
    for line in ["mount 90", "seat 2.5 -1.5", "divider 12.2"] {
        board.line(line);
    }
    board
}

/// Who reads the meter, and does all else that is asked.
fn with_meter(seen: &Seen) -> Vec<(Duration, Deed)> {
    match seen {
        Seen::Asked(asked) if asked.title.contains("multimeter") => typed("7.88"),
        other => willing(other),
    }
}

fn put_right(board: &mut Board) {
    let settings = board.settings();
    assert_eq!(settings["BOARD_TURN"]["stored"], 90);
    let near = |name: &str, wanted: f64, by: f64| {
        let stored = settings[name]["stored"].as_f64().unwrap();
        assert!((stored - wanted).abs() < by, "{name}: {stored}");
    };
    // The craft itself stands at roll 0.3, pitch -0.2; the board's trims are counted in the craft's axes.
    near("LEVEL_ROLL", 2.8, 0.15);
    near("LEVEL_PITCH", -1.7, 0.15);
    near("VOLT_RATIO", 12.2, 0.06);
}

#[test]
fn a_board_is_fitted_by_rows_over_a_console_and_over_packets() {
    let one = |kind: &str, name: &str| {
        let sandbox = Sandbox::new();
        let recipe = format!(
            "recipe \"Wren 95, fitted\"\nedition 1\ncraft quad x\nboard \"{name}\"\nrequire props off\nrequire battery out\n\
             channels roll, pitch, throttle, yaw\nboard turned 90 deg\n\
             battery 2 cells liion warn at 3.1 V per cell land at 2.9 V per cell\nkeep\ntest attitude\n\
             calibrate level\nkeep\ncalibrate battery\nkeep\n"
        );
        sandbox.write("fitted.jig", &recipe);
        let mut board = fitted(kind);
        let port = board.port.clone();
        let ended = Attended::start(&sandbox, &mut board, &run_arguments("fitted.jig", &port)).end(with_meter);
        assert_eq!(ended.code, Some(0), "{name}: {}", ended.screen);
        put_right(&mut board);
        assert_eq!(board.settings()["CELL_KIND"]["stored"], 2, "{name}");
        let second = sandbox.run(&["dry-run", "fitted.jig", "--port", &port, "--records", "crafts", "--exit-code"]);
        assert!(second.starts_with("exit code: 0\n") && second.contains("What changes: nothing."), "{second}");
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
    let mut board = fitted("finch");
    let port = board.port.clone();
    let mut lines: VecDeque<&str> = [
        "require props off",
        "require battery out",
        "test attitude",
        "board turned 90 deg",
        "keep",
        "test attitude",
        "calibrate level",
        "undo",
        "calibrate level",
        "battery 2 cells warn at 3.6 V per cell land at 3.4 V per cell",
        "calibrate battery",
        "keep",
        "require battery out",
        "write fitted.jig",
    ]
    .into();
    let arguments = ["bench", "--port", &port, "--records", "crafts", "--title", "Wren 95"];
    let ended = Attended::start(&sandbox, &mut board, &arguments).end(|seen| match seen {
        Seen::Prompt(_) => {
            let line = lines.pop_front().unwrap_or("leave");
            // Each time the craft is turned it is put back before the next.
            let back = (Duration::from_millis(100), Deed::World("turn 40".to_owned()));
            vec![back, (Duration::from_millis(400), Deed::Type(format!("{line}\r").into_bytes()))]
        }
        other => with_meter(other),
    });
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    let screen = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
    for said in
        ["write `board turned 90 deg`", "Taking back: calibrate level", "The board sees the craft tilted and turned"]
    {
        assert!(screen.contains(said), "{said}\n{}", ended.screen);
    }
    put_right(&mut board);
    let recipe = std::fs::read_to_string(sandbox.path("fitted.jig")).unwrap();
    let at = |line: &str| recipe.find(line).unwrap_or_else(|| panic!("{line}: {recipe}"));
    assert!(at("\nboard turned 90 deg") < at("\ntest attitude") && at("\ntest attitude") < at("\ncalibrate level"));
    assert!(at("\ncalibrate level") < at("\ncalibrate battery"));
}
