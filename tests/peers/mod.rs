//! Quadjig against software of other hands: the reference library of MAVLink, as a client and as a board; libraries of
//! statistics; a library and an editor as clients of the language server; packets by another hand; a browser that draws pages.
//!
//! The libraries are found in the environment that `tests/peers/install` makes, or by the interpreter that
//! `QUADJIG_PEERS` names. Without it a test says loudly that it was skipped, and `.ci/run` says it again at its end.

mod client;
mod dunnock;
mod editor;
mod golden;
mod kit;
mod packets;
mod pages;
mod redstart;
mod statistics;
mod wagtail;

use super::cli::Sandbox;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

fn project() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The interpreter that has the reference library; `None` after saying that this test is skipped.
pub fn python(test: &str) -> Option<PathBuf> {
    let usual = project().join("target/peers/bin/python");
    let python = std::env::var_os("QUADJIG_PEERS").map_or(usual, PathBuf::from);
    if python.exists() {
        return Some(python);
    }
    skipped(test, &format!("no {}; run tests/peers/install", python.display()));
    None
}

/// Says loudly that a test was skipped, and why.
fn skipped(test: &str, why: &str) {
    // Past the harness, which swallows what a test prints.
    let line = format!("*** SKIPPED: {test}: {why}\n");
    std::io::stderr().write_all(line.as_bytes()).unwrap();
    if let Some(list) = std::env::var_os("QUADJIG_SKIPPED") {
        let mut list = std::fs::OpenOptions::new().append(true).open(list).unwrap();
        list.write_all(format!("{test}\n").as_bytes()).unwrap();
    }
}

/// A program of the system by one of its names, or none after saying that this test is skipped.
pub fn found(test: &str, names: &[&str]) -> Option<PathBuf> {
    let path = std::env::var_os("PATH").unwrap_or_default();
    let places = || std::env::split_paths(&path);
    let found = names.iter().find_map(|name| places().map(|folder| folder.join(name)).find(|path| path.is_file()));
    if found.is_none() {
        skipped(test, &format!("no {} on the PATH", names.join(", ")));
    }
    found
}

/// A script of this folder, ready to run; nothing is written beside it.
pub fn script(python: &Path, name: &str, arguments: &[&str]) -> Command {
    let mut command = Command::new(python);
    command.arg("-B").arg(project().join("tests/peers").join(name)).args(arguments).stdin(Stdio::null());
    Sandbox::new().surround(&mut command);
    command.current_dir(project());
    command
}

/// Runs a script that must end well within a time; what it said.
pub fn run(python: &Path, name: &str, arguments: &[&str], longest: Duration) -> Output {
    let output = ended(script(python, name, arguments), longest);
    let said = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    let status = output.status;
    assert!(status.success(), "{name}: {status}\n{}{}", said(&output.stdout), said(&output.stderr));
    output
}

/// Runs a program to its end, or to its time's.
fn ended(mut command: Command, longest: Duration) -> Output {
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let deadline = Instant::now() + longest;
    let (stdout, stderr) = (gather(child.stdout.take().unwrap()), gather(child.stderr.take().unwrap()));
    let status = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        if Instant::now() > deadline {
            child.kill().unwrap();
            break child.wait().unwrap();
        }
        std::thread::sleep(Duration::from_millis(10));
    };
    Output { status, stdout: stdout.join().unwrap(), stderr: stderr.join().unwrap() }
}

fn gather(mut from: impl std::io::Read + Send + 'static) -> std::thread::JoinHandle<Vec<u8>> {
    std::thread::spawn(move || {
        let mut bytes = Vec::new();
        let _ = from.read_to_end(&mut bytes);
        bytes
    })
}
