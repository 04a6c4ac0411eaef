//! A person who does not say yes: whatever is done with the keyboard instead, no motor turns.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::seen::{Asked, Reply, Seen};
use super::super::desk::{Attended, Deed, Ended, typed, willing};
use super::{CUT, ready, run_arguments};
use std::time::Duration;

type Deeds = Vec<(Duration, Deed)>;

/// The word of a motor question.
fn motor(seen: &Seen) -> Option<&str> {
    match seen {
        Seen::Asked(Asked { title, reply: Reply::Word(word), .. }) if title.contains("Motors will turn") => Some(word),
        _ => None,
    }
}

/// Runs with a person who does this at each motor question, and all else as asked.
fn declined(mut at_the_motors: impl FnMut(&str) -> Deeds) -> (Ended, usize) {
    let sandbox = Sandbox::new();
    sandbox.write("cut.jig", CUT);
    let mut board = ready();
    let before = board.settings();
    let port = board.port.clone();
    let mut asked = 0;
    let mut run = Attended::start(&sandbox, &mut board, &run_arguments("cut.jig", &port));
    run.until(
        |seen| match motor(seen) {
            Some(word) => {
                asked += 1;
                at_the_motors(word)
            }
            None => willing(seen),
        },
        |screen, board| {
            assert!(board.rests(), "a motor turns, or the craft is armed, although nobody said yes:\n{screen}");
            false
        },
    );
    let ended = run.end(willing);
    drop(run);
    assert_eq!(ended.code, Some(4), "{}", ended.screen);
    assert_eq!(board.settings(), before);
    (ended, asked)
}

fn later(ms: u64, bytes: &[u8]) -> Deeds {
    vec![(Duration::from_millis(ms), Deed::Type(bytes.to_vec()))]
}

fn told(ended: &Ended, words: &str) {
    let screen: String = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(screen.contains(words), "{words:?} is not on\n{}", ended.screen);
}

#[test]
fn a_wrong_word_is_asked_again_twice_and_then_declines() {
    let (ended, asked) = declined(|_| typed("yes"));
    assert_eq!(asked, 3, "{}", ended.screen);
    told(&ended, "`yes` is not the word asked for. Nothing was done. Asked again.");
    told(&ended, "Motors will turn: `yes` is not the word asked for");
}

#[test]
fn enter_alone_is_asked_again_twice_and_then_declines() {
    let (ended, asked) = declined(|_| typed(""));
    assert_eq!(asked, 3, "{}", ended.screen);
    told(&ended, "Motors will turn: Enter alone means no");
}

#[test]
fn escape_declines() {
    let (ended, _) = declined(|_| later(500, b"\x1b"));
    told(&ended, "Motors will turn: declined");
}

#[test]
fn what_is_typed_ahead_or_before_the_question_was_read_is_no_answer() {
    let (ended, asked) = declined(|word| {
        let mut deeds = later(0, word.as_bytes());
        deeds.extend(later(50, b"\r"));
        // Long after, the question still stands.
        deeds.extend(later(2500, b"\x1b"));
        deeds
    });
    assert_eq!(asked, 1, "{}", ended.screen);
    told(&ended, "Motors will turn: declined");
    assert!(!ended.screen.contains("ends it > 1"), "deaf until it was read:\n{}", ended.screen);
}

#[test]
fn a_marked_paste_is_no_answer() {
    let (ended, asked) = declined(|word| {
        let mut deeds = later(600, format!("\x1b[200~{word}\x1b[201~").as_bytes());
        deeds.extend(later(700, b"\r"));
        deeds
    });
    assert_eq!(asked, 3, "{}", ended.screen);
    told(&ended, "that was pasted, or came faster than a hand types; it has to be typed");
}

#[test]
fn what_comes_faster_than_a_hand_types_is_no_answer() {
    let (ended, asked) = declined(|word| later(600, format!("{word}\r").as_bytes()));
    assert_eq!(asked, 3, "{}", ended.screen);
    told(&ended, "that was pasted, or came faster than a hand types; it has to be typed");
}

#[test]
fn a_terminal_that_closes_at_the_question_declines() {
    let sandbox = Sandbox::new();
    sandbox.write("cut.jig", CUT);
    let mut board = ready();
    let port = board.port.clone();
    let mut run = Attended::start(&sandbox, &mut board, &run_arguments("cut.jig", &port));
    let person = |seen: &Seen| if motor(seen).is_some() { Vec::new() } else { willing(seen) };
    assert!(run.until(person, |screen, _| screen.contains("Motors will turn")), "{}", run.screen());
    run.close_terminal();
    run.until(willing, |_, board| {
        assert!(board.rests());
        false
    });
    assert_eq!(run.end(willing).code, Some(4));
}

/// The closing words say how to bring back what was there. Copied from a narrow screen, as the terminal breaks its rows, it
/// is one command of a shell, and its file is there.
#[test]
fn the_way_back_is_copied_whole_from_a_narrow_screen() {
    let sandbox = Sandbox::new();
    sandbox.write("cut.jig", CUT);
    // Everything is to be written, and the hand that is asked for then breaks it off.
    let mut board = Board::new();
    let port = board.port.clone();
    let arguments = ["run", "cut.jig", "--port", &port, "--records", "all crafts of the Wren's bench"];
    let mut run = Attended::start_on(60, &sandbox, &mut board, &arguments);
    let ended = run.end(|seen| if matches!(seen, Seen::Invited(_)) { later(300, b"\x03") } else { willing(seen) });
    assert_eq!(ended.code, Some(4), "{}", ended.screen);
    let path = ended.screen.lines().find_map(|line| line.trim_start().strip_prefix("quadjig restore "));
    let path = path.unwrap_or_else(|| panic!("no command by itself on\n{}", ended.screen));
    assert!(path.len() > 60, "{path}");
    let read = std::process::Command::new("/bin/sh").args(["-c", &format!("printf '%s.' {path}")]).output().unwrap();
    let file = String::from_utf8(read.stdout).unwrap();
    let dry = sandbox.run(&["dry-run", file.trim_end_matches('.'), "--port", &port]);
    assert!(file.matches("json.").count() == 1 && dry.starts_with("exit code: 0\n"), "{file}: {dry}");
}
