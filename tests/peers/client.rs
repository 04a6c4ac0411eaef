//! The reference library as the client of a virtual board, on a pseudo-terminal and on TCP, in both encodings.

use super::{python, run};
use std::time::Duration;

fn client(test: &str, arguments: &[&str]) {
    let Some(python) = python(test) else { return };
    let arguments = [&[env!("CARGO_BIN_EXE_quadjig")], arguments].concat();
    run(&python, "client.py", &arguments, Duration::from_secs(120));
}

#[test]
fn a_virtual_board_serves_the_reference_on_a_pseudo_terminal() {
    client("peers::client on a pseudo-terminal", &["pty", "finch", "bytewise"]);
}

#[test]
fn a_virtual_board_serves_the_reference_on_tcp() {
    client("peers::client on TCP", &["tcp", "finch-r", "cast"]);
}

#[test]
fn a_virtual_board_that_signs_trusts_the_reference_with_its_key_alone() {
    client("peers::client signed", &["pty", "finch", "bytewise", "signed"]);
}
