//! The bench prompt as a person meets it: a real terminal, a real board on a pseudo-terminal, from end to end.

mod run_recipe;

use super::Sandbox;
use super::desk::board::Board;
use super::desk::seen::{Reply, Seen};
use super::desk::{Attended, Deed, willing};
use std::collections::VecDeque;
use std::time::Duration;

/// A hand reads the prompt for so long.
const READS: Duration = Duration::from_millis(320);

/// Types these lines, one a prompt; at a question it does what is asked, with `keys` for those choices in turn.
fn typist<'l>(lines: &'l [&'l str], keys: &'l [char]) -> impl FnMut(&Seen) -> Vec<(Duration, Deed)> + 'l {
    let (mut lines, mut keys) = (lines.iter().collect::<VecDeque<_>>(), keys.iter().collect::<VecDeque<_>>());
    move |seen| match seen {
        Seen::Prompt(_) => {
            let line = lines.pop_front().copied().unwrap_or("leave");
            vec![(READS, Deed::Type(format!("{line}\r").into_bytes()))]
        }
        Seen::Asked(asked) if asked.title.contains("Which idle next") || asked.title.contains("Leave the bench") => {
            let Reply::Keys(offered) = &asked.reply else { panic!("{asked:?}") };
            let key = keys.pop_front().copied().unwrap_or(offered[0]);
            assert!(offered.contains(&key), "{key} of {offered:?}");
            vec![(READS, Deed::Type(key.to_string().into_bytes()))]
        }
        other => willing(other),
    }
}

/// The program at a terminal that can redraw.
fn bench<'b>(sandbox: &Sandbox, board: &'b mut Board, more: &[&str]) -> Attended<'b> {
    let port = board.port.clone();
    let mut arguments = vec!["bench", "--port", &port, "--records", "crafts", "--title", "Wren 95"];
    arguments.extend(more);
    Attended::start_after("export TERM=xterm", sandbox, board, &arguments)
}

/// Digits differ from run to run: speeds, volts, times.
fn without_digits(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars().map(|c| if c.is_ascii_digit() { '#' } else { c }) {
        if !(c == '#' && out.ends_with('#')) {
            out.push(c);
        }
    }
    out
}

#[test]
fn a_whole_session_writes_a_recipe_that_does_it_again() {
    let sandbox = Sandbox::new();
    let mut board = Board::new();
    let lines = [
        "require props off",
        "require battery out",
        "find switch B with 3 positions",
        "bind arm to switch B position 2",
        "at zero throttle spin",
        "battery 2 cells warn at 3.6 V per cell land at 3.4 V per cell",
        "keep",
        "idle start at 1140 step 20 by hand, for 1 s, in 1 starts",
        "keep",
        "test cut within 800 ms",
        "require battery out",
        "failsafe cut motors after 1 s",
        "undo",
        "write wren-95.jig",
        "leave",
    ];
    let ended = bench(&sandbox, &mut board, &[]).end(typist(&lines, &['h', 't', 'l']));
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    for said in ["Switch B drives channel 6", "Idle chosen", "idle = 1180 us", "Taking back: failsafe", "Written to"] {
        assert!(ended.screen.contains(said), "{said}\n{}", ended.screen);
    }
    assert!(board.rests());
    assert_eq!(board.settings()["IDLE_US"]["stored"], 1180);
    let recipe = std::fs::read_to_string(sandbox.path("wren-95.jig")).unwrap();
    insta::assert_snapshot!("recipe", without_digits(&recipe));

    let checked = sandbox.run(&["check", "wren-95.jig"]);
    assert!(checked.starts_with("exit code: 0\n"), "{checked}");
    let port = board.port.clone();
    let here = sandbox.run(&["dry-run", "wren-95.jig", "--port", &port, "--records", "crafts", "--exit-code"]);
    assert!(here.starts_with("exit code: 0\n"), "{here}");
    drop(board);
    let other = sandbox.run(&["rehearse", "wren-95.jig", "--seed", "4"]);
    assert!(other.starts_with("exit code: 0\n"), "{other}");
}

#[test]
fn the_screen_of_a_short_session() {
    let sandbox = Sandbox::new();
    let mut board = Board::new();
    let lines = [
        "bind buzzer",
        "require battery out",
        "failsafe cut motors after 1 s",
        "look changes",
        "undo",
        "look",
        "leave",
    ];
    let ended = bench(&sandbox, &mut board, &[]).end(typist(&lines, &['l']));
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    let shown = ended.screen.split_once("One statement at a time").unwrap().1;
    let shown = shown.replace(&board.port, "PORT").replace(&sandbox.path("crafts").display().to_string(), "CRAFTS");
    insta::assert_snapshot!(without_digits(&shown));
}

#[test]
fn plain_lines_for_a_screen_reader() {
    let sandbox = Sandbox::new();
    let mut board = Board::new();
    let lines = ["look switches", "failsafe cut motors for ever", "leave"];
    let mut session = bench(&sandbox, &mut board, &["--plain"]);
    assert!(session.until(typist(&lines, &[]), |screen, _| screen.contains("your answer:")), "{}", session.screen());
    std::thread::sleep(READS);
    session.type_now(b"l");
    let ended = session.end(|_| Vec::new());
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    assert!(!ended.screen.contains('┃'), "{}", ended.screen);
    assert!(ended.screen.contains("arm: channel 5, 1698 to 2098 us"), "{}", ended.screen);
}

#[test]
fn typed_lines_are_there_again_in_the_next_session() {
    let sandbox = Sandbox::new();
    let mut board = Board::new();
    let first = bench(&sandbox, &mut board, &[]).end(typist(&["look outputs", "leave"], &['l']));
    assert_eq!(first.code, Some(0), "{}", first.screen);
    // Up twice: before `leave` stands what was looked at.
    let second = bench(&sandbox, &mut board, &[]).end(typist(&["\u{1b}[A\u{1b}[A", "leave"], &['l']));
    assert_eq!(second.code, Some(0), "{}", second.screen);
    assert!(second.screen.contains("Wren 95 VIRTUAL> look outputs"), "{}", second.screen);
}

#[test]
fn a_second_terminal_on_the_same_craft_is_told_who_holds_it() {
    let sandbox = Sandbox::new();
    let mut board = Board::new();
    let port = board.port.clone();
    let mut first = bench(&sandbox, &mut board, &[]);
    assert!(first.until(|_| Vec::new(), |screen, _| screen.contains("Wren 95 VIRTUAL>")), "{}", first.screen());
    let holder = first.process_id();
    let other = sandbox.run(&["snapshot", "--port", &port, "--records", "crafts"]);
    assert!(other.starts_with("exit code: 5\n"), "{other}");
    assert!(other.contains(&holder), "who holds the port: {other}");
    let _left = first.end(typist(&["leave"], &['l']));
}
