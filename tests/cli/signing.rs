//! Keys on the command line: a board that signs is worked with, and whatever does not fit is said in a sentence.

use super::Sandbox;
use super::desk::board::Board;

const OURS: &str = "00112233445566778899aabbccddeeff00112233445566778899AABBCCDDEEFF\n";
const THEIRS: &str = "ff112233445566778899aabbccddeeff00112233445566778899aabbccddeeff";

fn sandbox() -> Sandbox {
    let sandbox = Sandbox::new();
    sandbox.write("ours.key", OURS).write("theirs.key", THEIRS).write("short.key", &OURS[..20]);
    sandbox.write("other.key", &OURS.replace("dd", "dg"));
    sandbox
}

/// What a snapshot says, the port and the moment left out.
fn snapshot(sandbox: &Sandbox, port: &str, more: &[&str]) -> String {
    let mut arguments = vec!["snapshot", "--port", port, "--records", "crafts"];
    arguments.extend(more);
    sandbox.run(&arguments).replace(port, "PORT")
}

#[test]
fn a_board_with_our_key_is_read_and_nothing_of_the_key_is_shown() {
    let sandbox = sandbox();
    let key = sandbox.path("ours.key").display().to_string();
    let board = Board::with(&["--signing-key", &key]);
    let said = snapshot(&sandbox, &board.port, &["--signing-key", "ours.key"]);
    assert!(said.starts_with("exit code: 0\n"), "{said}");
    assert!(!said.to_lowercase().contains("22334455"), "{said}");
    for file in walk(&sandbox.path("crafts")) {
        assert!(!std::fs::read_to_string(file).unwrap().to_lowercase().contains("22334455"));
    }
}

fn walk(folder: &std::path::Path) -> Vec<std::path::PathBuf> {
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() { files.extend(walk(&path)) } else { files.push(path) }
    }
    files
}

#[test]
fn keys_that_do_not_fit_are_said_to() {
    let sandbox = sandbox();
    let key = sandbox.path("theirs.key").display().to_string();
    let signing = Board::with(&["--signing-key", &key]);
    let plain = Board::new();
    insta::assert_snapshot!(
        [
            snapshot(&sandbox, &signing.port, &["--signing-key", "ours.key"]),
            snapshot(&sandbox, &plain.port, &["--signing-key", "ours.key"]),
            snapshot(&sandbox, &signing.port, &[]),
        ]
        .join("\n")
    );
}

#[test]
fn files_that_hold_no_key_are_refused_before_a_port_is_opened() {
    let sandbox = sandbox();
    let said: Vec<String> = ["none.key", "short.key", "other.key", "."]
        .into_iter()
        .map(|file| snapshot(&sandbox, "/dev/no-such-port", &["--signing-key", file]))
        .collect();
    insta::assert_snapshot!(said.join("\n"));
}
