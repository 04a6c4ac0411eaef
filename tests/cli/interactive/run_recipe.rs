//! A recipe run from the prompt at a real terminal: a test that fails leaves the session there, a hand changes what was
//! wrong, and the rest is gone on with.

use super::{READS, bench};
use crate::cli::Sandbox;
use crate::cli::desk::board::Board;
use crate::cli::desk::seen::{Reply, Seen};
use crate::cli::desk::{Deed, willing};
use std::collections::VecDeque;

const RECIPE: &str = "recipe \"Wren 95, buzzer\"
edition 1
craft quad x
board \"Finch\"
given place default 1 from 1 to 2 \"where the buzzer sounds\"

require battery out
require props off
switch D on channel 8 rests at 1000, 1500, 2000
failsafe cut motors after 500 ms
bind buzzer to switch D position place
keep
test buzzer
";

#[test]
fn broken_off_by_a_failed_test_changed_by_hand_gone_on_with_and_written_as_one() {
    let sandbox = Sandbox::new();
    sandbox.write("my recipes/buzzer.jig", RECIPE);
    let mut board = Board::new();
    let lines = [
        "run my\u{20}recipes/buzzer.jig",
        // Tab completes the path behind an open quote.
        "run \"my rec\tbuz\t\" with place 2",
        "switch C on channel 7 rests at 1000, 2000",
        "bind buzzer to switch C position 1",
        "go on",
        "undo",
        "go on",
        "write whole.jig",
        "leave",
    ];
    let mut lines: VecDeque<&str> = lines.into();
    let mut heard: VecDeque<char> = ['n', 'h', 'h'].into();
    let ended = bench(&sandbox, &mut board, &[]).end(move |seen| match seen {
        Seen::Prompt(_) => {
            let line = lines.pop_front().unwrap_or("leave");
            vec![(READS, Deed::Type(format!("{line}\r").into_bytes()))]
        }
        Seen::Asked(asked) if asked.title.contains("buzzer") => {
            let key = heard.pop_front().unwrap_or('h');
            vec![(READS, Deed::Type(key.to_string().into_bytes()))]
        }
        Seen::Asked(asked) if asked.title.contains("Leave the bench") => {
            assert!(matches!(&asked.reply, Reply::Keys(_)), "{asked:?}");
            vec![(READS, Deed::Type(b"l".to_vec()))]
        }
        other => willing(other),
    });
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    let flat = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
    for said in [
        "`recipes/buzzer.jig` is no value of a parameter",
        "Goes through my recipes/buzzer.jig, recipe hash",
        "Not shown: buzzer: not heard with switch D in position 2",
        "my recipes/buzzer.jig is broken off: 6 of 7 statements done",
        "left test buzzer",
        "All of my recipes/buzzer.jig is done",
        "Taking back: bind buzzer to switch C position 1",
        "Written to `whole.jig`",
    ] {
        assert!(flat.contains(said), "{said}\n{}", ended.screen);
    }
    assert!(board.rests());
    let text = std::fs::read_to_string(sandbox.path("whole.jig")).unwrap();
    assert!(text.contains("bind buzzer to switch D position 2") && !text.contains("given"), "{text}");
    // The record has the recipe's very text, under its hash.
    let inputs = sandbox.path("crafts");
    let kept = walk(&inputs).into_iter().any(|file| std::fs::read_to_string(&file).is_ok_and(|text| text == RECIPE));
    assert!(kept, "{:?}", walk(&inputs));
    let checked = sandbox.run(&["check", "whole.jig"]);
    assert!(checked.starts_with("exit code: 0\n"), "{checked}");
}

/// Every file below a folder.
fn walk(folder: &std::path::Path) -> Vec<std::path::PathBuf> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.path());
    entries.flat_map(|path| if path.is_dir() { walk(&path) } else { vec![path] }).collect()
}
