//! Boards whose packets are wrong, met by a command over a pseudo-terminal: each its own sentence, in bounded time.

use super::super::Sandbox;
use super::super::attended::{SMALL, run_arguments};
use super::super::desk::board::Board;
use super::super::desk::{Attended, willing};
use super::port::Port;
use super::{ending, says};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

const KINDS: [&str; 2] = ["finch-p", "finch-q"];

/// A board of this kind, and what is wrong with its packets of settings.
fn board(kind: &str, fault: &str) -> Board {
    let mut board = Board::with(&["--board", kind]);
    board.line(&format!("packets {fault}"));
    board
}

#[test]
fn wrong_packets_end_a_command_in_their_own_sentence() {
    let faults = [
        // Which of the packets is told first is chance where several are asked for together.
        ("length", "bytes, and the layout in [packets.settings."),
        ("sum", "no answer was understood; what came was a packet whose checksum is wrong"),
        ("endless", "no answer was understood; what came was a packet "),
        ("other", "which is the answer to another question"),
    ];
    std::thread::scope(|scope| {
        for (kind, (fault, why)) in KINDS.into_iter().flat_map(|kind| faults.map(|fault| (kind, fault))) {
            scope.spawn(move || {
                let board = board(kind, fault);
                let arguments = ["snapshot", "--sheet", kind, "--output", "copy.json"];
                let said = says(&Sandbox::new(), &arguments, &board.port, Duration::from_secs(12));
                let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
                assert!(
                    words.starts_with("exit code: 5 --- stderr error: reading all settings: "),
                    "{kind} {fault}: {said}"
                );
                assert!(words.contains(why), "{kind} {fault}: {said}");
                assert!(words.ends_with("Nothing was written to the board."), "{kind} {fault}: {said}");
            });
        }
    });
}

/// What changed besides is named; the run ends there, and says of each setting what is known.
#[test]
fn a_neighbour_that_changes_with_a_write_ends_a_run() {
    std::thread::scope(|scope| {
        for (kind, name) in KINDS.into_iter().zip(["Finch P", "Finch Q"]) {
            scope.spawn(move || {
                let sandbox = Sandbox::new();
                sandbox.write("wren.jig", &SMALL.replace("board \"Finch\"", &format!("board \"{name}\"")));
                let mut board = board(kind, "neighbour");
                let port = board.port.clone();
                let ended = Attended::start(&sandbox, &mut board, &run_arguments("wren.jig", &port)).end(willing);
                assert_ne!(ended.code, Some(0), "{kind}: {}", ended.screen);
                let told = ending(&ended.screen);
                assert!(
                    told.contains("was written, and with it ") && told.contains(" changed, which was not meant"),
                    "{kind}: {told}"
                );
                assert!(board.rests(), "{kind}");
            });
        }
    });
}

/// Somebody else's terminal, which shows whatever is typed at it: few bytes of questions, and the words are of no link that
/// was not asked for.
#[test]
fn a_terminal_that_echoes_is_asked_little_and_no_board() {
    std::thread::scope(|scope| {
        for kind in ["finch-p", "finch-q", "finch-c"] {
            scope.spawn(move || {
                let mut port = Port::new();
                let path = port.path.display().to_string();
                let over = AtomicBool::new(false);
                std::thread::scope(|inner| {
                    let echoes = inner.spawn(|| {
                        let mut sent = 0;
                        while !over.load(Ordering::SeqCst) {
                            let came = port.work();
                            sent += came.len();
                            port.say(&came);
                            std::thread::sleep(Duration::from_millis(2));
                        }
                        sent
                    });
                    let arguments = ["snapshot", "--sheet", kind, "--output", "copy.json"];
                    let said = says(&Sandbox::new(), &arguments, &path, Duration::from_secs(12));
                    over.store(true, Ordering::SeqCst);
                    let sent = echoes.join().unwrap();
                    assert!(said.contains("open and something comes in, but no board answers on it"), "{kind}: {said}");
                    assert!(said.contains("what comes in is not understood"), "{kind}: {said}");
                    assert!((1..600).contains(&sent), "{kind}: {sent} bytes");
                });
            });
        }
    });
}
