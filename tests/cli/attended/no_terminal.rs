//! Without a terminal and a person at it: an attended command says so before anything is opened.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::{SMALL, run_arguments};
use std::os::unix::process::CommandExt;

/// A recipe that asks nothing: it must not be run by nobody either.
const ASKS_NOTHING: &str = r#"
recipe "Wren 95, pack"
edition 1
craft quad x
board "Finch"
battery 2 cells lipo warn at 3.6 V per cell land at 3.4 V per cell
"#;

#[test]
fn a_run_without_a_terminal_is_refused_and_nothing_is_touched() {
    let mut board = Board::new();
    let before = board.settings();
    let port = board.port.clone();
    let mut said = Vec::new();
    for recipe in [SMALL, ASKS_NOTHING] {
        let sandbox = Sandbox::new();
        sandbox.write("wren.jig", recipe);
        // A group of its own is in the background of whatever terminal the tests have.
        let output = sandbox.command(&run_arguments("wren.jig", &port)).process_group(0).output().unwrap();
        said.push(sandbox.shown(&output));
        assert!(!sandbox.path("crafts").exists(), "no record is begun");
    }
    assert_eq!(board.settings(), before);
    assert_eq!(said[0], said[1]);
    insta::assert_snapshot!(said[0], @r"
        exit code: 4
        --- stderr
        error: this needs a terminal with a person at it, who is asked before anything can turn a motor; no port was opened and nothing was sent
          do: start it in a terminal, in the foreground; what it would do is shown by `quadjig dry-run`
        ");
}
