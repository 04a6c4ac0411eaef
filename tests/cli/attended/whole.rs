//! A whole run to its end, and what a second look says.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::{Attended, willing};
use super::{SMALL, run_arguments, whole};

#[test]
fn a_recipe_runs_to_its_end_and_is_satisfied_after() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", &whole());
    let mut board = Board::new();
    let port = board.port.clone();
    let dry_run = || sandbox.run(&["dry-run", "wren.jig", "--port", &port, "--records", "crafts", "--exit-code"]);

    let first = dry_run();
    assert!(first.starts_with("exit code: 3\n"), "{first}");
    let ended = Attended::start(&sandbox, &mut board, &run_arguments("wren.jig", &port)).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    assert!(ended.screen.contains("Finished as asked"), "{}", ended.screen);
    let settings = board.settings();
    for (name, value) in [("ARM_CHANNEL", 6), ("SPIN_AT_ZERO", 1), ("CELLS", 2), ("IDLE_US", 1170)] {
        assert_eq!((&settings[name]["working"], &settings[name]["stored"]), (&value.into(), &value.into()), "{name}");
    }
    assert!(board.rests());

    let second = dry_run();
    assert!(second.starts_with("exit code: 0\n"), "{second}");
    assert!(second.contains("What changes: nothing."), "{second}");
    board.line("set WARN_CELL_MV 3400");
    let third = dry_run();
    assert!(third.starts_with("exit code: 3\n"), "{third}");
    let changes: Vec<&str> = third.lines().filter(|line| line.contains("wren.jig:") && line.contains('_')).collect();
    let only = "  battery-warn  WARN_CELL_MV  3.4 V per cell  3.6 V per cell  wren.jig:13:1";
    assert_eq!(changes, [only], "{third}");
    assert_eq!(board.settings()["WARN_CELL_MV"]["working"], 3400, "a dry run writes nothing");
}

/// The third run of any recipe writes nothing; where nothing was searched, the second.
#[test]
fn a_second_run_proves_again_and_writes_nothing() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", SMALL);
    let mut board = Board::new();
    let port = board.port.clone();
    let mut told = Vec::new();
    for _ in 0..2 {
        let ended = Attended::start(&sandbox, &mut board, &run_arguments("wren.jig", &port)).end(willing);
        assert_eq!(ended.code, Some(0), "{}", ended.screen);
        told.push((ended.screen, board.truth()["board"]["starts"].clone(), board.settings()));
    }
    assert!(told[0].0.contains("7 settings were changed, read back, and kept over a restart."), "{}", told[0].0);
    assert!(told[1].0.contains("Nothing was changed on the board."), "{}", told[1].0);
    assert!(told[1].0.contains("Switch B arms in position 2 and nowhere else."), "{}", told[1].0);
    assert_eq!((&told[0].1, &told[0].2), (&told[1].1, &told[1].2), "no restart, and no other setting");
}
