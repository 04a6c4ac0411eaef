//! Claims of a sheet tried on a craft at a real terminal: over every link, with sheets that are true and that are not.
//!
//! What is so is read from the virtual board's own truth, and what a person says of motors from what they really do.

use super::Sandbox;
use super::desk::board::Board;
use super::desk::relay::Relay;
use super::desk::seen::{Asked, Reply, Seen};
use super::desk::{Attended, Deed, Ended, willing};
use std::cell::Cell;
use std::time::Duration;

const DIRECT: [&str; 3] = ["ARM_CHANNEL 6", "ARM_FROM 1754", "ARM_TO 2146"];
const ROWS: [&str; 4] = ["ROW1_FUNC 1", "ROW1_CHANNEL 6", "ROW1_FROM 1754", "ROW1_TO 2146"];

/// A board of which a switch of the bench's radio arms it.
fn bound(options: &[&str], rows: bool) -> Board {
    binds(Board::with(options), rows)
}

fn binds(mut board: Board, rows: bool) -> Board {
    for setting in if rows { &ROWS[..] } else { &DIRECT } {
        board.line(&format!("set {setting}"));
    }
    board.line("set SPIN_AT_ZERO 1");
    // What USB gives turns a motor only at a higher pulse than a pack does.
    board.line("set IDLE_US 1200");
    board
}

fn shipped(stem: &str) -> &'static str {
    quadjig::board::shipped::SHEETS.iter().find(|sheet| sheet.stem == stem).unwrap().text
}

fn arguments<'a>(sheet: &'a str, claim: &'a str, port: &'a str) -> [&'a str; 10] {
    ["check-sheet", sheet, "--port", port, "--try", claim, "--radio", "bench", "--records", "crafts"]
}

/// Tries a claim with a person who says of the motors what they did. Nothing stays changed, whatever it comes to.
fn tried(sandbox: &Sandbox, board: &mut Board, sheet: &str, claim: &str) -> (Ended, bool) {
    let (before, port) = (board.settings(), board.port.clone());
    let turned = Cell::new(false);
    let mut run = Attended::start(sandbox, board, &arguments(sheet, claim, &port));
    let person = |seen: &Seen| match seen {
        Seen::Asked(Asked { title, .. }) if title.starts_with("Did any motor turn") => {
            let key: &[u8] = if turned.get() { b"y" } else { b"n" };
            vec![(Duration::from_millis(500), Deed::Type(key.to_vec()))]
        }
        other => willing(other),
    };
    run.until(person, |_, board| {
        turned.set(turned.get() || board.turns());
        false
    });
    let ended = run.end(|_| Vec::new());
    drop(run);
    board.until(Board::rests);
    assert_eq!(board.settings(), before, "{}", ended.screen);
    assert_eq!(board.truth()["board"]["starts"], 1, "{}", ended.screen);
    (ended, turned.get())
}

fn told(ended: &Ended, code: i32, words: &[&str]) {
    let screen = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(ended.code, Some(code), "{}", ended.screen);
    for words in words {
        assert!(screen.contains(words), "{words:?} is not on\n{}", ended.screen);
    }
}

const KINDS: [(&str, bool); 3] = [("finch", false), ("finch-c", true), ("finch-p", false)];

#[test]
fn what_is_true_of_usb_is_seen_over_every_link_and_nothing_is_written() {
    std::thread::scope(|scope| {
        for (kind, rows) in KINDS {
            scope.spawn(move || {
                let mut board = bound(&["--board", kind], rows);
                if kind == "finch" {
                    // Its sensor is then seen working, and the word asked for all the same.
                    board.line("battery in");
                }
                let (ended, turned) = tried(&Sandbox::new(), &mut board, kind, "usb");
                assert_eq!(ended.screen.contains("USB may feed the motors, so this is asked"), kind == "finch");
                let arms = "arming.arms-on-usb: the sheet says true; seen: it armed with the battery out.";
                let motors = "usb.motors: the sheet says false; seen: no motor turned at idle, as you said";
                told(&ended, 0, &[arms, motors, "Nothing was changed on the board."]);
                assert!(!turned);
            });
        }
    });
}

/// The sensor sees nothing of motors that USB feeds; speeds do where they are told, and eyes where they are not.
#[test]
fn what_is_a_lie_of_usb_is_found_over_every_link() {
    std::thread::scope(|scope| {
        scope.spawn(|| {
            let mut board = bound(&["--board", "finch"], false);
            board.line("feed usb");
            let (ended, turned) = tried(&Sandbox::new(), &mut board, "finch", "usb");
            let lie =
                "CONTRADICTED: usb.motors: by the sheet false; seen: a motor turned with the battery out, and was";
            told(&ended, 4, &["a motor turns", lie]);
            assert!(turned);
        });
        scope.spawn(|| {
            let sandbox = Sandbox::new();
            let silent = shipped("finch-c").replace("speed-telemetry = true", "speed-telemetry = false");
            sandbox.write("silent.toml", &silent);
            let mut board = bound(&["--board", "finch-c"], true);
            board.line("feed usb");
            board.line("speeds off");
            let (ended, turned) = tried(&sandbox, &mut board, "silent.toml", "usb");
            let lie =
                "CONTRADICTED: usb.motors: by the sheet false; seen: a motor turned with the battery out, as you said";
            told(&ended, 6, &[lie, "arming.arms-on-usb: the sheet says true; seen: it armed"]);
            assert!(turned);
        });
        scope.spawn(|| {
            let sandbox = Sandbox::new();
            let refuses = shipped("finch-p").replace("arms-on-usb = true", "arms-on-usb = false");
            sandbox.write("refuses.toml", &refuses);
            let sheet = sandbox.path("refuses.toml").display().to_string();
            let mut board = bound(&["--sheet", &sheet], false);
            let (ended, _) = tried(&sandbox, &mut board, "finch-p", "usb");
            let lie = "CONTRADICTED: arming.arms-on-usb: by the sheet true; seen: it did not arm with switch B on";
            told(&ended, 6, &[lie, "usb.motors: the sheet says false; seen: nothing, as it did not arm"]);
        });
        // A bit that is never set: what is armed shows by the outputs alone.
        scope.spawn(|| {
            let sandbox = Sandbox::new();
            let flag = "fields.armed = { at = 0, type = \"u8\", bit = ";
            let never = shipped("finch-p").replace(&format!("{flag}0 }}"), &format!("{flag}5 }}"));
            assert_ne!(never, shipped("finch-p"));
            sandbox.write("never.toml", &never);
            let (ended, _) = tried(&sandbox, &mut bound(&["--board", "finch-p"], false), "never.toml", "usb");
            let lie = "CONTRADICTED: the armed flag: by the sheet where it stands; seen: the outputs are up";
            told(&ended, 6, &[lie]);
        });
        // The cautious value of every template, on a board that arms.
        scope.spawn(|| {
            let sandbox = Sandbox::new();
            sandbox.write("cautious.toml", &shipped("finch-p").replace("arms-on-usb = true", "arms-on-usb = false"));
            let (ended, _) = tried(&sandbox, &mut bound(&["--board", "finch-p"], false), "cautious.toml", "usb");
            let lie = "Finished as asked CONTRADICTED: arming.arms-on-usb: by the sheet false; seen: it armed with the \
                       battery out. Write `arms-on-usb = true` under [arming].";
            told(&ended, 6, &[lie]);
            assert!(!ended.screen.contains("NOT SHOWN"), "{}", ended.screen);
        });
    });
}

/// One link beside the other, and the liars after the others, so that not too many run at a time.
#[test]
fn a_motor_that_is_run_by_command_is_seen_to_stop_by_itself_or_not_over_every_link() {
    let one = |kind: &str, rows: bool, lease: &str, code: i32, words: &[&str]| {
        let mut board = bound(&["--board", kind], rows);
        board.line(&format!("lease {lease}"));
        let (ended, turned) = tried(&Sandbox::new(), &mut board, kind, "motor-run");
        told(&ended, code, words);
        assert!(turned, "{kind}");
    };
    let ends =
        "motor-run: the sheet says up to 3 s; seen: it ran for 1.5 s, as it was asked to, and stopped by itself.";
    let lie = "CONTRADICTED: motor-run: by the sheet up to 3 s; seen: it went on after its time, until it was stopped.";
    let stopped = "the motors are driven although nothing asks for it any more";
    for (lease, code, words) in [("kept", 0, &[ends][..]), ("ignored", 4, &[stopped, lie])] {
        std::thread::scope(|scope| {
            for (kind, rows) in KINDS {
                scope.spawn(move || one(kind, rows, lease, code, words));
            }
        });
    }
}

/// The line that runs a motor on this console begins with `spin`, by its sheet.
#[test]
fn without_its_word_no_motor_is_run() {
    let sandbox = Sandbox::new();
    let mut board = binds(Board::on_tcp_as("finch-c"), true);
    let (before, relay) = (board.settings(), Relay::before(&board));
    let mut asked = false;
    let ended =
        Attended::start(&sandbox, &mut board, &arguments("finch-c", "motor-run", &relay.port)).end(|seen| match seen {
            Seen::Asked(Asked { title, reply: Reply::Word(_), .. }) if title.contains("Motors will turn") => {
                asked = true;
                vec![(Duration::from_millis(500), Deed::Type(b"\x1b".to_vec()))]
            }
            other => willing(other),
        });
    assert!(asked && board.rests(), "{}", ended.screen);
    told(&ended, 4, &["Motors will turn: declined"]);
    let sent = String::from_utf8_lossy(&relay.sent()).into_owned();
    assert!(sent.contains("outputs") && !sent.contains("spin"), "{sent}");
    assert_eq!(board.settings(), before);
}

#[test]
fn what_cannot_be_tried_is_said_before_anything_is_sent() {
    let sandbox = Sandbox::new();
    sandbox.write("dark.toml", &shipped("finch-c").replace("receiver = true", "receiver = false"));
    sandbox.write("closed.toml", &shipped("finch-c").replace("arms-while-open = true", "arms-while-open = false"));
    let (from, to) = shipped("finch-c").split_once("[motor-run]").unwrap();
    sandbox.write("no-run.toml", &format!("{from}[motors]{}", to.split_once("[motors]").unwrap().1));
    let board = Board::on_tcp_as("finch-c");
    let relay = Relay::before(&board);
    for (sheet, claim, words) in [
        ("dark.toml", "usb", "by the sheet USB feeds no receiver"),
        ("closed.toml", "usb", "by the sheet the board does not arm while its console is open"),
        ("no-run.toml", "motor-run", "by the sheet no motor is run by command"),
    ] {
        let said = sandbox.run(&["check-sheet", sheet, "--port", &relay.port, "--try", claim]);
        assert!(said.starts_with("exit code: 1\n"), "{said}");
        let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains(&format!("there is nothing to try: {words}")), "{words}: {said}");
    }
    let said = sandbox.run(&["check-sheet", "finch-c", "--try", "usb"]);
    assert!(said.starts_with("exit code: 2\n") && said.contains("--port"), "{said}");
    // Without a terminal nobody is there to answer.
    let said = sandbox.run(&["check-sheet", "finch-c", "--port", &relay.port, "--try", "usb"]);
    assert!(said.starts_with("exit code: 4\n") && said.contains("no port was opened"), "{said}");
    assert!(relay.sent().is_empty());
}

/// Without a card nothing tells which switch sends the channel that arm is bound to.
#[test]
fn a_switch_that_nobody_knows_is_asked_for_by_its_channel() {
    let mut board = bound(&["--board", "finch-p"], false);
    let port = board.port.clone();
    let arguments = ["check-sheet", "finch-p", "--port", &port, "--try", "usb", "--records", "crafts"];
    let ended = Attended::start(&Sandbox::new(), &mut board, &arguments).end(willing);
    let bound = "No known switch arms this craft: arm is bound to channel 6, 1754 us to 2146 us, and no switch is known on \
                 it. Name the card of your radio with `--radio CARD`, or run a recipe with `find switch` first";
    told(&ended, 4, &[bound]);
}

/// What is not understood of a board is put right first.
#[test]
fn nothing_is_tried_on_a_board_that_the_sheet_does_not_understand() {
    let sandbox = Sandbox::new();
    sandbox.write("wrong.toml", &shipped("finch-c").replace("answer = 'tilt roll ", "answer = 'tilt: "));
    let mut board = bound(&["--board", "finch-c"], true);
    let (ended, turned) = tried(&sandbox, &mut board, "wrong.toml", "motor-run");
    told(&ended, 1, &["NOT UNDERSTOOD", "Nothing was tried on the craft"]);
    assert!(!turned && !ended.screen.contains("Motors will turn"));
}
