//! What is wrong with the port, the documents, the disk or the board: the whole message, the code, and
//! a board on which nothing has changed.

use super::super::Sandbox;
use super::super::desk::Attended;
use super::super::desk::board::Board;
use super::super::desk::willing;
use super::{SMALL, run_arguments};
use quadjig::seam::OpenError;
use quadjig::seam::fault::Fault;
use rustix::fs::{Mode, OFlags};
use std::fmt::Write as _;
use std::os::unix::fs::PermissionsExt;

/// A sandbox with the small recipe.
fn sandbox() -> Sandbox {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", SMALL);
    sandbox
}

/// What a dry run with these options says.
fn dry(sandbox: &Sandbox, more: &[&str]) -> String {
    let mut arguments = vec!["dry-run", "wren.jig", "--records", "crafts"];
    arguments.extend(more);
    sandbox.run(&arguments)
}

/// How a run at a terminal ends: from the words `Not finished` on, or whole where it has none.
fn ends(sandbox: &Sandbox, board: &mut Board, arguments: &[&str]) -> String {
    told(sandbox, Attended::start(sandbox, board, arguments))
}

fn told(sandbox: &Sandbox, mut run: Attended<'_>) -> String {
    let port = run.board.port.clone();
    let ended = run.end(willing);
    let from = ended.screen.find("  Not finished").unwrap_or(0);
    let screen = ended.screen[from..].replace(&sandbox.path("").display().to_string(), "SANDBOX/");
    // In one line: where lines break depends on how long the machine's paths are.
    let words: Vec<&str> = screen.split_whitespace().collect();
    format!("exit code: {}\n{}\n", ended.code.unwrap(), words.join(" ").replace(&port, "PORT"))
}

/// Without the moment in a snapshot's file name.
fn undated(said: &str) -> String {
    let (before, rest) = said.split_once("/snapshots/").unwrap();
    let (_, after) = rest.split_once(".json").unwrap();
    format!("{before}/snapshots/MOMENT.json{after}")
}

/// At a terminal that shows colours, they are colours and nobody's escapes.
#[test]
fn what_is_wrong_with_a_recipe_is_read_at_a_terminal() {
    let sandbox = sandbox();
    sandbox.write("wrong.jig", &SMALL.replace("keep", "kept"));
    let mut board = Board::new();
    let port = board.port.clone();
    let ended = Attended::start(&sandbox, &mut board, &["run", "wrong.jig", "--port", &port]).end(willing);
    assert_eq!(ended.code, Some(1), "{}", ended.screen);
    assert!(ended.screen.contains("error[") && ended.screen.contains("kept"), "{}", ended.screen);
    assert!(!ended.screen.contains("u{1b}"), "{}", ended.screen);
}

#[test]
fn ports_that_are_none() {
    let sandbox = sandbox();
    sandbox.write("notes.txt", "mine");
    let mut said = String::new();
    let udp = "udp:127.0.0.1:14550";
    for port in
        ["/dev/no-such-port", "/dev/null", "notes.txt", ".", "tcp:127.0.0.1:1", udp, "virtual:nowhere", "udp:", ""]
    {
        writeln!(said, "## --port {port:?}\n{}", dry(&sandbox, &["--port", port])).unwrap();
    }
    insta::assert_snapshot!(said);
    assert_eq!(std::fs::read_to_string(sandbox.path("notes.txt")).unwrap(), "mine");
}

#[test]
fn a_run_tells_a_port_that_is_none_as_a_dry_run_does() {
    let sandbox = sandbox();
    let mut board = Board::new();
    insta::assert_snapshot!(ends(&sandbox, &mut board, &run_arguments("wren.jig", "/dev/no-such-port")));
}

/// A pseudo-terminal with nobody behind it, and its path.
fn silent() -> (pty_process::blocking::Pty, String) {
    let (board, _) = pty_process::blocking::open().unwrap();
    let path = rustix::pty::ptsname(&board, Vec::new()).unwrap().into_string().unwrap();
    (board, path)
}

#[test]
fn a_port_on_which_nobody_answers() {
    let (_board, path) = silent();
    insta::assert_snapshot!(dry(&sandbox(), &["--port", &path]).replace(&path, "PORT"));
}

/// Whether the system lets us into everything, so that nothing can be denied to us.
fn superuser() -> bool {
    rustix::process::geteuid().is_root()
}

#[test]
#[expect(clippy::print_stderr, reason = "a test that is left out says so")]
fn a_port_that_another_program_has_open() {
    if superuser() {
        eprintln!("SKIPPED: the system lets the superuser into ports that are in use");
        return;
    }
    let sandbox = sandbox();
    let board = Board::new();
    let flags = OFlags::RDWR | OFlags::NOCTTY;
    let other = rustix::fs::open(board.port.as_str(), flags, Mode::empty()).unwrap();
    rustix::termios::ioctl_tiocexcl(&other).unwrap();
    let said = dry(&sandbox, &["--port", &board.port]).replace(&board.port, "PORT");
    let whole = "exit code: 5\n--- stderr\nerror: PORT is in use by another program\n  do: end the program that has it open, \
                 then start again\nNothing was written to the board.\n";
    assert_eq!(said, whole);
}

#[test]
#[expect(clippy::print_stderr, reason = "a test that is left out says so")]
fn a_port_that_is_not_ours() {
    let (_board, path) = silent();
    if superuser() {
        eprintln!("SKIPPED in part: nothing is denied to the superuser; what would be said is held all the same");
        let denied = OpenError::Denied { port: "/dev/ttyACM0".to_owned(), hint: "ask the group dialout".to_owned() };
        let fault = Fault::from(denied);
        let said = (fault.to_string(), fault.hint(), fault.exit().code());
        let what = "the system does not let you open /dev/ttyACM0".to_owned();
        assert_eq!(said, (what, Some("ask the group dialout".to_owned()), 5));
        return;
    }
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o000)).unwrap();
    let said = dry(&sandbox(), &["--port", &path]);
    assert!(said.starts_with("exit code: 5\n--- stderr\nerror: the system does not let you open "), "{said}");
    assert!(said.contains("\n  do: ") && said.ends_with("Nothing was written to the board.\n"), "{said}");
}

#[test]
fn documents_that_do_not_fit() {
    let sandbox = sandbox();
    let mut board = Board::new();
    let before = board.settings();
    sandbox.write("broken.toml", "edition = 1\nradio = \"Bench\"\n[switches.B]\nchanel = 6\n");
    sandbox.write(
        "lights.jig",
        &SMALL.replace(
            "board \"Finch\"",
            "board \"Finch\"\nfind switch D with 3 positions\nbind lamp to switch D position 1",
        ),
    );
    sandbox.write("other.jig", &SMALL.replace("board \"Finch\"", "board \"Finch R\""));
    sandbox.write("large.jig", &"# x\n".repeat(300_000));
    std::fs::write(sandbox.path("binary.jig"), b"recipe \"Wren\"\n\xff\xfe\n").unwrap();
    std::fs::create_dir(sandbox.path("folder.jig")).unwrap();
    let port = board.port.clone();
    let mut said = String::new();
    for arguments in [
        &["wren.jig", "--sheet", "finch-r"][..],
        &["wren.jig", "--sheet", "fynch"],
        &["wren.jig", "--radio", "broken.toml"],
        &["wren.jig", "--radio", "benched"],
        &["wren.jig", "--with", "idle-floor=1120us"],
        &["no-such.jig"],
        &["large.jig"],
        &["binary.jig"],
        &["folder.jig"],
        &["lights.jig"],
        &["other.jig"],
    ] {
        let all = [&["dry-run"][..], arguments, &["--port", &port, "--records", "crafts"]].concat();
        writeln!(said, "## {}\n{}", arguments.join(" "), sandbox.run(&all)).unwrap();
    }
    insta::assert_snapshot!(said);
    assert_eq!(board.settings(), before);
}

#[test]
fn a_board_of_another_kind_ends_a_run_before_it_writes() {
    let sandbox = sandbox();
    sandbox.write("other.jig", &SMALL.replace("board \"Finch\"", "board \"Finch R\""));
    let mut board = Board::new();
    let before = board.settings();
    let port = board.port.clone();
    insta::assert_snapshot!(ends(&sandbox, &mut board, &run_arguments("other.jig", &port)));
    assert_eq!(board.settings(), before);
}

/// Without leave for a file longer than a block the disk is as good as full (setrlimit(2), `EFBIG`).
const FULL: &str = "trap '' XFSZ; ulimit -f 1";

#[test]
fn a_disk_that_takes_nothing_ends_a_run_before_it_writes() {
    let mut board = Board::new();
    let before = board.settings();
    let id = board.truth()["board"]["id"].as_str().unwrap().to_owned();
    let port = board.port.clone();
    let arguments = run_arguments("wren.jig", &port);
    let mut said = String::new();

    let full = sandbox();
    writeln!(said, "## full\n{}", told(&full, Attended::start_after(FULL, &full, &mut board, &arguments))).unwrap();
    assert_eq!(board.settings(), before);

    let no_folder = sandbox();
    no_folder.write("crafts", "a file");
    writeln!(said, "## a file in place of the folder\n{}", ends(&no_folder, &mut board, &arguments)).unwrap();
    assert_eq!(board.settings(), before);

    let unreadable = sandbox();
    let later = r#"{"event":"begin","schema":"quadjig.journal/9","run":"r","at":"t","recipe":"w","fingerprint":"f","snapshot":"s","board":{"id":"7669727400000001","firmware":"","kind":""}}"#;
    unreadable.write(&format!("crafts/{id}/journal.jsonl"), &format!("{later}\n"));
    writeln!(said, "## a journal of another version\n{}", ends(&unreadable, &mut board, &arguments)).unwrap();
    assert_eq!(board.settings(), before);

    let device = sandbox();
    std::fs::create_dir_all(device.path("crafts").join(&id)).unwrap();
    std::os::unix::fs::symlink("/dev/zero", device.path("crafts").join(&id).join("journal.jsonl")).unwrap();
    writeln!(said, "## a device in place of the journal\n{}", ends(&device, &mut board, &arguments)).unwrap();
    assert_eq!(board.settings(), before);
    insta::assert_snapshot!(undated(&said.replace(&id, "ID")));
}

#[test]
fn a_craft_that_another_run_holds() {
    let mut board = Board::with(&["--seed", "3"]);
    let other = sandbox();
    let mut held = Board::with(&["--seed", "3"]);
    // Two virtual boards with one id stand for one craft on two cables.
    let (first_port, second_port) = (held.port.clone(), board.port.clone());
    let sandbox = sandbox();
    let crafts = other.path("crafts").display().to_string();
    let mut first =
        Attended::start(&other, &mut held, &["run", "wren.jig", "--port", &first_port, "--records", &crafts]);
    assert!(first.until(|_| Vec::new(), |screen, _| screen.contains("Are the propellers off?")), "{}", first.screen());
    let before = board.settings();
    let said = ends(&sandbox, &mut board, &["run", "wren.jig", "--port", &second_port, "--records", &crafts]);
    let machine = std::fs::read_to_string("/proc/sys/kernel/hostname").unwrap();
    let said = said.replace(&format!("{} on {}", first.process_id(), machine.trim()), "NUMBER on MACHINE");
    insta::assert_snapshot!(said);
    assert_eq!(board.settings(), before);
}
