//! A board sheet of somebody's own: nothing is opened before its lines were shown and its hash was accepted.
//!
//! The hash is made here by itself (SHA-256, FIPS 180-4), over the bytes of the file.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::relay::Relay;
use super::super::desk::seen::{Asked, Reply, Seen};
use super::super::desk::{Attended, Ended, typed, willing};
use super::{CUT, SMALL, ready};

const QUESTION: &str = "Accept this board sheet?";
const KEPT: &str = "crafts/accepted-sheets.jsonl";

fn shipped(stem: &str) -> String {
    let file = format!("{}/recipes/boards/{stem}.toml", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(file).unwrap()
}

/// A recipe for a board of one's own, whose sheet lies in `boards/` at the root.
fn bench(recipe: &str, sheet: &str) -> Sandbox {
    let sandbox = Sandbox::new();
    sandbox
        .write("all/quadjig.toml", "edition = 1\n")
        .write("all/boards/siskin.toml", sheet)
        .write("all/wren.jig", &recipe.replace("board \"Finch\"", "board \"Siskin\""));
    sandbox
}

fn siskin(stem: &str, name: &str) -> String {
    shipped(stem).replace(&format!("board = \"{name}\""), "board = \"Siskin\"")
}

/// Runs it, with what a person says to the question; whether it was asked, and for which word.
fn run(sandbox: &Sandbox, board: &mut Board, port: &str, says: impl Fn(&str) -> String) -> (Ended, Option<String>) {
    let mut asked = None;
    let arguments = ["run", "all/wren.jig", "--port", port, "--records", "crafts"];
    let ended = Attended::start(sandbox, board, &arguments).end(|seen| match seen {
        Seen::Asked(Asked { title, reply: Reply::Word(word), .. }) if title == QUESTION => {
            asked = Some(word.clone());
            typed(&says(word))
        }
        seen => willing(seen),
    });
    (ended, asked)
}

#[test]
fn a_sheet_that_is_new_is_accepted_by_its_hash_and_a_changed_one_anew() {
    let text = siskin("finch", "Finch");
    let sandbox = bench(CUT, &text);
    let mut board = ready();
    let port = board.port.clone();
    let (ended, asked) = run(&sandbox, &mut board, &port, str::to_owned);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    let hash = |text: &str| quadjig::language::canonical::sha256(text);
    assert_eq!(asked.as_deref(), Some(&hash(&text)[..8]), "{}", ended.screen);
    // The last line of the sheet was on the screen before.
    let last = text.lines().rfind(|line| line.contains('=')).unwrap().split('#').next().unwrap().trim();
    let shown = ended.screen.find(last).unwrap_or_else(|| panic!("{last} is not on\n{}", ended.screen));
    assert!(shown < ended.screen.find(QUESTION).unwrap(), "{}", ended.screen);
    let kept = std::fs::read_to_string(sandbox.path(KEPT)).unwrap();
    assert!(kept.contains(&hash(&text)) && kept.lines().count() == 1, "{kept}");
    // Known now.
    let (again, asked) = run(&sandbox, &mut board, &port, str::to_owned);
    assert_eq!((again.code, asked), (Some(0), None), "{}", again.screen);
    // One line otherwise: it is shown with what it was, and no line far from it.
    let changed = text.replace("most-current = \"6 A\"", "most-current = \"5 A\"");
    assert_ne!(changed, text);
    sandbox.write("all/boards/siskin.toml", &changed);
    let (anew, asked) = run(&sandbox, &mut board, &port, str::to_owned);
    assert_eq!((anew.code, asked.as_deref()), (Some(0), Some(&hash(&changed)[..8])), "{}", anew.screen);
    let flat = anew.screen.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("Another sheet of this board was accepted here at"), "{}", anew.screen);
    let before = flat.split_once(QUESTION).unwrap().0;
    assert!(
        before.contains("-most-current = \"6 A\"") && before.contains("+most-current = \"5 A\""),
        "{}",
        anew.screen
    );
    assert!(!before.contains("must-have"), "{}", anew.screen);
}

#[test]
fn before_a_sheet_is_accepted_nothing_is_sent() {
    let sandbox = bench(CUT, &siskin("finch", "Finch"));
    let mut board = Board::on_tcp();
    let relay = Relay::before(&board);
    let (ended, asked) = run(&sandbox, &mut board, &relay.port, |_| "yes".to_owned());
    assert_eq!(ended.code, Some(4), "{}", ended.screen);
    assert!(asked.is_some(), "{}", ended.screen);
    assert_eq!(relay.sent(), [0_u8; 0], "nothing was accepted, and something was sent");
    assert!(!sandbox.path(KEPT).exists());
}

/// What a console's sheet says is sent to a board: it is tried first, and its answers have to be understood.
#[test]
fn a_console_sheet_is_tried_before_it_is_accepted() {
    let sheet = siskin("finch-c", "Finch C");
    let odd = sheet.replace("answer = 'channels (none|", "answer = 'kanals (none|");
    assert_ne!(odd, sheet);
    for (text, code) in [(&odd, 4), (&sheet, 0)] {
        let sandbox = bench(SMALL, text);
        let mut board = Board::with(&["--board", "finch-c"]);
        let (port, before) = (board.port.clone(), board.settings());
        let (ended, asked) = run(&sandbox, &mut board, &port, str::to_owned);
        assert_eq!(ended.code, Some(code), "{}", ended.screen);
        assert!(asked.is_some(), "{}", ended.screen);
        assert_eq!(sandbox.path(KEPT).exists(), code == 0, "{}", ended.screen);
        let flat = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
        if code == 0 {
            assert!(flat.contains("Tried on the board: every answer was understood."), "{}", ended.screen);
        } else {
            assert!(flat.contains("is not accepted: channels: no answer"), "{}", ended.screen);
            assert_eq!(board.settings(), before);
        }
    }
}
