//! A mistake of the program's own while motors turn: whatever thread breaks down, the stop leaves and the program ends.
#![cfg(debug_assertions)]

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::{Attended, Ended, willing};
use super::{CUT, ready, run_arguments};
use rustix::process::Signal;
use std::time::{Duration, Instant};

/// As for a key: the program needs some milliseconds of it, a busy machine the rest.
const CUT_OFF: Duration = Duration::from_millis(500);
/// Where a thread that breaks down looks whether it is the one.
const BREAKS: &str = "breaks";

fn run<'b>(sandbox: &Sandbox, board: &'b mut Board) -> Attended<'b> {
    sandbox.write("cut.jig", CUT);
    let port = board.port.clone();
    let shell = format!("export QUADJIG_TEST_BREAKS={BREAKS}");
    Attended::start_after(&shell, sandbox, board, &run_arguments("cut.jig", &port))
}

fn says_whose_mistake(ended: &Ended) {
    assert_eq!(ended.code, Some(70), "{}", ended.screen);
    assert!(ended.screen.contains("this is a mistake in quadjig itself"), "{}", ended.screen);
}

/// Breaks this thread down while motors turn.
fn breaks(thread: &str, also: impl FnOnce(&mut Attended<'_>)) {
    let sandbox = Sandbox::new();
    let mut board = ready();
    let mut run = run(&sandbox, &mut board);
    assert!(run.until(willing, |_, board| board.turns()), "no motor turned:\n{}", run.screen());
    sandbox.write(BREAKS, thread);
    also(&mut run);
    let began = Instant::now();
    run.board.until(|board| !board.drives());
    let cut_off = began.elapsed();
    assert!(cut_off <= CUT_OFF, "{thread}, {cut_off:?}:\n{}", run.screen());
    assert_eq!(run.board.truth()["radio"]["switches"]["B"]["position"], 2, "the switch is still on");
    let ended = run.end(|_| Vec::new());
    says_whose_mistake(&ended);
    assert!(ended.screen.contains("SWITCH OFF. PULL THE BATTERY."), "{thread}:\n{}", ended.screen);
    run.board.until(Board::rests);
}

#[test]
fn the_core() {
    breaks("main", |_| {});
}

#[test]
fn the_keys() {
    breaks("keys", |_| {});
}

/// Which can send nothing any more: somebody else does it.
#[test]
fn the_writer() {
    breaks("writer", |_| {});
}

#[test]
fn the_reader() {
    breaks("reader", |_| {});
}

/// Nothing is shown while motors just turn: it breaks down on the words of a stop.
#[test]
fn the_screen() {
    breaks("screen", |run| run.type_now(b" "));
}

#[test]
fn the_signals() {
    breaks("signals", |run| run.signal(Signal::TERM));
}

/// The disk has nothing to do while motors turn; where it breaks down before, none does.
#[test]
fn the_files() {
    let sandbox = Sandbox::new();
    let mut board = ready();
    sandbox.write(BREAKS, "files");
    let mut run = run(&sandbox, &mut board);
    let turned = run.until(willing, |_, board| !board.rests());
    assert!(!turned, "{}", run.screen());
    says_whose_mistake(&run.end(willing));
}
