//! A board that a sheet of one's own describes, played by every command that takes a virtual one.

use super::Sandbox;
use super::desk::board::Board;
use super::desk::relay::Relay;
use super::desk::seen::Seen;
use super::desk::{Attended, Deed, Ended, willing};
use crate::rehearsal::any_board::filled;
use std::time::Duration;

const RECIPE: &str = "recipe \"Wren 95\"\nedition 1\ncraft quad x\nboard \"My board\"\nrequire props off\nrequire battery out\n\
                      idle at 1100\nkeep\n";

/// The templates filled in, as sheets of one's own.
fn sandbox() -> Sandbox {
    let sandbox = Sandbox::new();
    sandbox.write("mine.jig", RECIPE);
    for template in ["mavlink", "console", "packets"] {
        sandbox.write(&format!("{template}.toml"), &filled(template));
    }
    sandbox
}

#[test]
fn a_sheet_is_the_board_at_the_port_virtual() {
    let sandbox = sandbox();
    for sheet in ["mavlink.toml", "console.toml", "packets.toml"] {
        let said = sandbox.run(&["dry-run", "mine.jig", "--sheet", sheet, "--port", "virtual", "--records", "crafts"]);
        assert!(said.starts_with("exit code: 0\n"), "{sheet}: {said}");
        assert!(said.contains("MY_IDLE") && said.contains("VIRTUAL"), "{sheet}: {said}");
        let played = sandbox.run(&["rehearse", "mine.jig", "--sheet", sheet]);
        assert!(played.starts_with("exit code: 0\n"), "{sheet}: {played}");
    }
    // The one board of a recipe is the one that is played, shipped or not.
    sandbox.write("q.jig", &RECIPE.replace("My board", "Finch Q"));
    let said = sandbox.run(&["dry-run", "q.jig", "--port", "virtual", "--records", "crafts"]);
    assert!(said.starts_with("exit code: 0\n") && said.contains("Finch Q"), "{said}");
}

/// The board of a sheet at the port `virtual`, in the program's own process: another stands beside it, and is not touched.
fn beside(arguments: &[&str], person: impl FnMut(&Seen) -> Vec<(Duration, Deed)>) -> Ended {
    let sandbox = sandbox();
    let mut board = Board::new();
    let before = board.settings();
    let more = ["--sheet", "console.toml", "--port", "virtual", "--records", "crafts"];
    let ended = Attended::start(&sandbox, &mut board, &[arguments, &more].concat()).end(person);
    assert_eq!(board.settings(), before);
    ended
}

fn sets_its_idle(ended: &Ended) {
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    for words in ["My board", "VIRTUAL", "MY_IDLE"] {
        assert!(ended.screen.contains(words), "{words}:\n{}", ended.screen);
    }
}

#[test]
fn a_run_at_the_port_virtual_is_on_the_board_of_its_sheet() {
    let ended = beside(&["run", "mine.jig"], willing);
    sets_its_idle(&ended);
    assert!(ended.screen.contains("1 setting was changed, read back, and kept over a restart."), "{}", ended.screen);
}

#[test]
fn the_prompt_at_the_port_virtual_is_on_the_board_of_its_sheet() {
    let mut lines = ["require props off", "require battery out", "idle at 1100", "keep", "leave"].into_iter();
    let ended = beside(&["bench"], |seen| match seen {
        Seen::Prompt(_) => vec![(
            Duration::from_millis(400),
            Deed::Type(format!("{}\r", lines.next().unwrap_or("leave")).into_bytes()),
        )],
        other => willing(other),
    });
    sets_its_idle(&ended);
    assert!(ended.screen.contains("the same board is back, 1 setting still there"), "{}", ended.screen);
}

#[test]
fn a_sheet_of_packets_is_served_at_a_port() {
    let sandbox = sandbox();
    let sheet = sandbox.path("packets.toml").display().to_string();
    let board = Board::on_tcp_with(&["--sheet", &sheet]);
    let relay = Relay::before(&board);
    let arguments = ["dry-run", "mine.jig", "--sheet", "packets.toml", "--port", &relay.port, "--records", "crafts"];
    let said = sandbox.run(&arguments);
    assert!(said.starts_with("exit code: 0\n") && said.contains("MY_IDLE"), "{said}");
    assert!(!relay.sent().is_empty());
}

#[test]
fn what_cannot_be_played_is_said_before_a_port_is_opened() {
    let sandbox = sandbox();
    let short = filled("packets").replace("type = \"hex\", count = 12", "type = \"hex\", count = 4");
    sandbox.write("short.toml", &short);
    for arguments in [
        &["dry-run", "mine.jig", "--sheet", "short.toml", "--port", "virtual"][..],
        &["virtual", "--sheet", "short.toml"],
        &["rehearse", "mine.jig", "--sheet", "short.toml"],
    ] {
        let said = sandbox.run(arguments);
        assert!(said.starts_with("exit code: 1\n"), "{said}");
        let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains("its id has 4 bytes, and that of a virtual board takes 8"), "{said}");
    }
}

#[test]
fn what_a_virtual_board_does_not_do_of_its_sheet_is_said() {
    let sandbox = sandbox();
    sandbox.write("sticks.toml", &filled("packets").replace("sticks-can-arm = false", "sticks-can-arm = true"));
    for arguments in [
        &["dry-run", "mine.jig", "--sheet", "sticks.toml", "--port", "virtual", "--records", "crafts"][..],
        &["rehearse", "mine.jig", "--sheet", "sticks.toml"],
    ] {
        let said = sandbox.run(arguments);
        assert!(said.starts_with("exit code: 0\n"), "{said}");
        let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains("what sticks do on the real one is not played"), "{said}");
    }
}

/// A port of this computer is written as it is said.
#[test]
fn a_control_port_is_taken_as_it_is_said_and_refused_with_words() {
    let sandbox = sandbox();
    let said = sandbox.run(&["virtual", "--control", "example.org:7000"]);
    let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.starts_with("exit code: 2") && words.contains("write the number of a port of this computer"),
        "{said}"
    );
}
