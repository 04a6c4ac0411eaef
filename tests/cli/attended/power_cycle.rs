//! A craft whose board its battery alone feeds: USB carries data, and the port goes with the battery.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::seen::{Asked, Seen};
use super::super::desk::{Attended, Deed, Ended, willing};
use super::run_arguments;
use std::time::Duration;

const RECIPE: &str = r#"
recipe "Wren 95, power cycle"
edition 1
craft quad x turning inward
board "Finch"
require props off
require throttle low
channels roll, pitch, throttle, yaw
switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged
bind arm to switch B position 2
at zero throttle spin
idle at 1150
keep
power cycle
test cut within 800 ms
"#;

/// Runs [`RECIPE`] with this person.
fn run(board: &mut Board, person: impl FnMut(&Seen) -> Vec<(Duration, Deed)>) -> Ended {
    let sandbox = Sandbox::new();
    let sheet = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/recipes/boards/finch.toml")).unwrap();
    let dark = sheet.replace("receiver = true", "receiver = false");
    assert_ne!(sheet, dark);
    sandbox.write("wren.jig", RECIPE).write("dark.toml", &dark);
    let port = board.port.clone();
    let arguments = [&run_arguments("wren.jig", &port)[..], &["--sheet", "dark.toml"]].concat();
    Attended::start(&sandbox, board, &arguments).end(person)
}

/// Plugged in; from here on the battery alone feeds it.
fn board() -> Board {
    let mut board = Board::new();
    board.line("battery in");
    board.line("power battery");
    board
}

#[test]
fn a_board_that_goes_dark_with_its_battery_is_power_cycled() {
    power_cycled(board());
}

/// An adapter keeps the port there, and the board behind it only falls silent.
#[test]
fn a_board_that_goes_dark_behind_an_adapter_is_power_cycled() {
    let mut board = board();
    board.line("port stays");
    power_cycled(board);
}

#[track_caller]
fn power_cycled(mut board: Board) {
    let ended = run(&mut board, willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    let screen = &ended.screen;
    let when = |words: &str| screen.find(words).unwrap_or_else(|| panic!("{words}:\n{screen}"));
    assert!(when("The board went dark with its battery") < when("Is everything off, before the battery goes in?"));
    assert!(when("Is everything off, before") < when("The same board is back: not armed, throttle low"));
    let props: Vec<usize> = screen.match_indices("Are the propellers off?").map(|(at, _)| at).collect();
    assert_eq!(props.len(), 2, "once before, and anew of the craft that came back:\n{screen}");
    assert!(props[1] > when("The same board is back"), "{screen}");
    let truth = board.truth();
    assert_eq!(truth["board"]["starts"], 3, "restarted, and power cycled");
    assert_eq!(truth["settings"]["IDLE_US"]["working"], 1150);
    assert!(board.rests());
}

/// Whatever was typed of the switch, it is measured once the board is heard again.
#[test]
fn a_switch_that_is_on_at_the_dark_plug_in_has_the_battery_out_at_once() {
    let mut board = board();
    let ended = run(&mut board, |seen| {
        let mut deeds = willing(seen);
        if matches!(seen, Seen::Invited(sentence) if sentence.starts_with("Plug the battery in")) {
            deeds.insert(0, (Duration::from_millis(100), Deed::World("flip B 2".to_owned())));
        }
        deeds
    });
    assert_eq!(ended.code, Some(4), "{}", ended.screen);
    assert!(ended.screen.contains("Take the battery out at once"), "{}", ended.screen);
    assert!(!ended.screen.contains("Motors will turn"), "{}", ended.screen);
    assert!(!board.turns());
}

/// Nothing is asked in who does not say that everything is off.
#[test]
fn a_dark_board_is_not_plugged_in_without_the_word() {
    let mut board = board();
    let ended = run(&mut board, |seen| match seen {
        Seen::Asked(Asked { title, .. }) if title.starts_with("Is everything off") => {
            vec![(Duration::from_millis(600), Deed::Type(b"\x1b".to_vec()))]
        }
        seen => willing(seen),
    });
    assert_eq!(ended.code, Some(4), "{}", ended.screen);
    assert!(!ended.screen.contains("Plug the battery in now"), "{}", ended.screen);
    assert_eq!(board.truth()["battery"]["in"], false);
}
