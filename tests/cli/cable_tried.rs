//! A pulled cable tried on a craft at a real terminal: the port really goes, and comes back under its name.

use super::Sandbox;
use super::desk::board::Board;
use super::desk::seen::{Asked, Seen};
use super::desk::{Attended, Deed, Ended, willing};
use std::cell::Cell;
use std::time::{Duration, Instant};

/// The run that these sheets allow, and a little.
const ITS_TIME: Duration = Duration::from_millis(3600);

/// A board that does so with the time of a run.
fn board(kind: &str, lease: &str) -> Board {
    let mut board = Board::with(&["--board", kind]);
    board.line(&format!("lease {lease}"));
    board
}

/// A person who pulls the cable, and the battery where the motor goes on; puts the cable in again; and says what was so.
/// How long the motor really turned without its cable comes with it.
fn tried(board: &mut Board, kind: &str) -> (Ended, Duration) {
    let sandbox = Sandbox::new();
    let (before, port) = (board.settings(), board.port.clone());
    let arguments = ["check-sheet", kind, "--port", &port, "--try", "cable", "--records", "crafts"];
    let mut run = Attended::start(&sandbox, board, &arguments);
    let (out, turned) = (Cell::new(None::<Instant>), Cell::new(Duration::ZERO));
    let person = |seen: &Seen| match seen {
        Seen::Asked(Asked { title, .. }) if title.starts_with("Did motor 1 stop by itself") => {
            let key: &[u8] = if turned.get() > ITS_TIME { b"n" } else { b"y" };
            vec![(Duration::from_millis(700), Deed::Type(key.to_vec()))]
        }
        Seen::Invited(sentence) if sentence.starts_with("Pull the USB cable out") => {
            let world = |after, line: &str| (Duration::from_millis(after), Deed::World(line.to_owned()));
            vec![world(300, "usb out"), world(6000, "battery out"), world(7500, "usb in")]
        }
        other => willing(other),
    };
    run.until(person, |_, board| {
        let truth = board.truth();
        if truth["usb"] == false && truth["speeds"].as_array().unwrap().iter().any(|rpm| rpm.as_f64().unwrap() > 100.0)
        {
            let since = out.get().unwrap_or_else(Instant::now);
            out.set(Some(since));
            turned.set(since.elapsed());
        }
        false
    });
    let ended = run.end(|_| Vec::new());
    drop(run);
    board.until(Board::rests);
    assert_eq!(board.settings(), before, "{}", ended.screen);
    (ended, turned.get())
}

fn told(ended: &Ended, code: i32, words: &[&str]) {
    let screen = ended.screen.replace('┃', " ").split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(ended.code, Some(code), "{}", ended.screen);
    for words in words {
        assert!(screen.contains(words), "{words:?} is not on\n{}", ended.screen);
    }
}

/// Every word that matters for a hand, in the order in which it is needed.
#[test]
fn a_motor_without_its_cable_is_seen_to_stop_by_itself_over_every_link() {
    std::thread::scope(|scope| {
        for kind in ["finch", "finch-c", "finch-p"] {
            scope.spawn(move || {
                let (ended, turned) = tried(&mut board(kind, "kept"), kind);
                let words = [
                    "does motor 1, run once by command, stop by itself",
                    "does motor 1, run once more, stop by itself where you pull the cable out",
                    "this computer; the board is to end the start by itself; that is what is tried",
                    "FROM THEN ON NOTHING CAN STOP THE MOTOR but its own end and the battery plug",
                    "the battery plug, and nothing else: one hand is at it",
                    "Type motor 1 cable and press Enter",
                    "Pull the USB cable out NOW, the other hand at the battery plug.",
                    "CABLE OUT. HAND AT THE BATTERY PLUG. If the motor still turns after",
                    "motor-run: the sheet says up to 3 s; seen: it stopped by itself with its cable out, as you said.",
                    "Finished as asked",
                ];
                told(&ended, 0, &words);
                assert!(turned > Duration::from_secs(1) && turned < ITS_TIME, "{kind}: {turned:?}");
            });
        }
    });
}

#[test]
fn a_motor_that_goes_on_without_its_cable_is_found_over_every_link() {
    std::thread::scope(|scope| {
        for kind in ["finch", "finch-c", "finch-p"] {
            scope.spawn(move || {
                let (ended, turned) = tried(&mut board(kind, "unplugged"), kind);
                let lie = "CONTRADICTED: motor-run: by the sheet up to 3 s; seen: it went on with its cable out, as you said. \
                           Write no [motor-run] until its run ends by itself in time, whatever becomes of the link.";
                told(&ended, 6, &["SWITCH OFF. PULL THE BATTERY.", lie]);
                assert!(turned > ITS_TIME, "{kind}: {turned:?}");
            });
        }
    });
}

#[test]
fn a_wire_without_a_cable_and_a_run_too_short_are_refused_at_the_desk() {
    let sandbox = Sandbox::new();
    let sheet = quadjig::board::shipped::SHEETS.iter().find(|sheet| sheet.stem == "finch").unwrap().text;
    let (short, from) = (sheet.replace("longest = \"3 s\"", "longest = \"1.9 s\""), sheet);
    assert_ne!(short, from);
    sandbox.write("short.toml", &short);
    for (sheet, port, words) in [
        ("finch", "tcp:127.0.0.1:9", "a network address has no cable that can be pulled out"),
        ("finch", "udp:127.0.0.1:9", "a network address has no cable that can be pulled out"),
        ("short.toml", "/dev/null", "by the sheet a run by command lasts less than 2 s"),
    ] {
        let said = sandbox.run(&["check-sheet", sheet, "--port", port, "--try", "cable"]);
        assert!(said.starts_with("exit code: 1\n") && said.contains(words), "{port}: {said}");
    }
}
