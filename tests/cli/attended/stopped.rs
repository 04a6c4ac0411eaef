//! Stops while motors turn: by any key, by every signal, by a terminal that closes.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::seen::Seen;
use super::super::desk::{Attended, Deed, willing};
use super::{CUT, ready, run_arguments};
use rustix::process::Signal;
use std::time::{Duration, Instant};

/// No motor is driven any more after so long, as the world has it: the program needs some
/// milliseconds of it, a machine that runs all tests at once the rest.
const CUT_OFF: Duration = Duration::from_millis(500);
/// And coasting is over: these motors coast for half a second and more.
const AT_REST: Duration = Duration::from_millis(1500);

/// A run whose motors turn, with the switch on.
fn turning(sandbox: &Sandbox, work: impl FnOnce(Attended<'_>)) {
    sandbox.write("cut.jig", CUT);
    let mut board = ready();
    let port = board.port.clone();
    let mut run = Attended::start(sandbox, &mut board, &run_arguments("cut.jig", &port));
    assert!(run.until(willing, |_, board| board.turns()), "no motor turned:\n{}", run.screen());
    work(run);
}

/// Stops, and plays on with a person who switches off once the motors were seen to stand.
fn stops(stop: impl FnOnce(&mut Attended<'_>), words: &str) {
    let sandbox = Sandbox::new();
    turning(&sandbox, |mut run| {
        stop(&mut run);
        let began = Instant::now();
        run.board.until(|board| !board.drives());
        let cut_off = began.elapsed();
        run.board.until(Board::rests);
        let at_rest = began.elapsed();
        assert!(cut_off <= CUT_OFF && at_rest <= AT_REST, "{cut_off:?}, {at_rest:?}:\n{}", run.screen());
        assert_eq!(run.board.truth()["radio"]["switches"]["B"]["position"], 2, "the switch is still on");
        run.board.line("flip B 0");
        let ended = run.end(|_| Vec::new());
        assert_eq!(ended.code, Some(4), "{}", ended.screen);
        assert!(ended.screen.contains(words), "{words:?} is not on\n{}", ended.screen);
        assert!(run.board.rests());
    });
}

#[test]
fn any_key_stops() {
    stops(|run| run.type_now(b" "), "sent to the board: a key was pressed");
}

#[test]
fn control_c_stops() {
    stops(|run| run.type_now(b"\x03"), "sent to the board: a key was pressed");
}

/// A paste that never ends stops, and the keyboard is not deaf after it: Ctrl-C still leaves a stop that the switch
/// keeps from being confirmed.
#[test]
fn a_paste_without_an_end_stops_and_deafens_nothing() {
    let sandbox = Sandbox::new();
    turning(&sandbox, |mut run| {
        run.type_now(b"\x1b[200~");
        let cut_off = run.board.until(|board| !board.drives());
        assert!(cut_off <= CUT_OFF, "{cut_off:?}:\n{}", run.screen());
        std::thread::sleep(Duration::from_millis(3500));
        run.type_now(b"\x03");
        let began = Instant::now();
        let ended = run.end(|_| Vec::new());
        assert_eq!(ended.code, Some(4), "{}", ended.screen);
        assert!(began.elapsed() < Duration::from_secs(3), "{:?}", began.elapsed());
        assert!(ended.screen.contains("sent to the board: something was pasted"), "{}", ended.screen);
    });
}

/// The paste began long before, at the first question, and nobody noticed.
#[test]
fn after_a_paste_without_an_end_control_c_stops() {
    let sandbox = Sandbox::new();
    sandbox.write("cut.jig", CUT);
    let mut board = ready();
    let port = board.port.clone();
    let mut run = Attended::start(&sandbox, &mut board, &run_arguments("cut.jig", &port));
    let mut first = true;
    let person = |seen: &Seen| {
        let mut deeds = willing(seen);
        if std::mem::take(&mut first) {
            deeds.insert(0, (Duration::from_millis(100), Deed::Type(b"\x1b[200~of".to_vec())));
        }
        deeds
    };
    assert!(run.until(person, |_, board| board.turns()), "no motor turned:\n{}", run.screen());
    run.type_now(b"\x03");
    let cut_off = run.board.until(|board| !board.drives());
    assert!(cut_off <= CUT_OFF, "{cut_off:?}:\n{}", run.screen());
    run.board.line("flip B 0");
    let ended = run.end(|_| Vec::new());
    assert!(ended.screen.contains("sent to the board: a key was pressed"), "{}", ended.screen);
}

#[test]
fn an_interrupt_stops() {
    stops(|run| run.signal(Signal::INT), "sent to the board: the program was interrupted");
}

#[test]
fn being_told_to_end_stops() {
    stops(|run| run.signal(Signal::TERM), "sent to the board: the program was told to end");
}

#[test]
fn a_hang_up_stops() {
    stops(|run| run.signal(Signal::HUP), "sent to the board: the terminal was closed");
}

#[test]
fn a_terminal_that_closes_stops() {
    stops(
        |run| {
            run.close_terminal();
        },
        "",
    );
}

/// What the motor question says of a computer that fails: when even the guardian is gone, only the switch and the plug
/// stop.
#[cfg(target_os = "linux")]
#[test]
fn after_both_are_killed_the_switch_and_the_plug_still_stop() {
    for by in ["flip B 0", "battery out"] {
        let sandbox = Sandbox::new();
        turning(&sandbox, |mut run| {
            let screen: String = run.screen().replace('┃', " ").split_whitespace().collect::<Vec<_>>().join(" ");
            let words = "all programs killed at once: only switch and plug stop them";
            assert!(screen.contains(words), "{screen}");
            // The guardian cannot even hear of it before it is killed itself.
            let guardian = super::super::guardian::guardian_of(&run.process_id()).expect("it has one");
            rustix::process::kill_process(guardian, Signal::STOP).unwrap();
            run.signal(Signal::KILL);
            rustix::process::kill_process(guardian, Signal::KILL).unwrap();
            assert_eq!(run.end(willing).code, None);
            run.board.line(by);
            // Without the battery an output may stay raised: nothing turns by it.
            let took = run.board.until(|board| !board.turns());
            assert!(took <= AT_REST, "{took:?}");
        });
    }
}
