//! Undo after a statement is as if nothing had been typed: on the board, in the recipe, on the way out.

use super::kit::{Turn, session, turns};
use quadjig::virtual_board::World;

/// Statements that change the board, each with what has to stand before it.
const CHANGES: &[(&[&str], &str)] = &[
    (&[], "failsafe cut motors after 1 s"),
    (&["switch C on channel 7 rests at 1000, 2000"], "bind buzzer to switch C position 1"),
    (&["switch B on channel 6 rests at 1000, 1500, 2000"], "bind arm to switch B position 2"),
    (&[], "unbind arm"),
    (&["require props off"], "set \"CRAFT_NUMBER\" to 2"),
    (&[], "signal dshot150 at 1 kHz"),
    (&[], "battery 3 cells lipo warn at 3.7 V per cell land at 3.5 V per cell"),
    (&[], "idle at 1133"),
    (&[], "channels pitch, roll, throttle, yaw"),
    (&[], "board turned 90 deg"),
];

fn held(board: &World) -> serde_json::Value {
    board.truth()["settings"].clone()
}

#[test]
fn undo_after_a_statement_is_as_if_it_had_not_been_typed() {
    for (before, statement) in CHANGES {
        let typed = |more: &[&'static str]| {
            let mut lines = vec!["require battery out"];
            lines.extend(*before);
            lines.extend(more);
            let sat = session(&lines).sit();
            assert!(sat.result.is_ok(), "{statement}: {:?}\n{}", sat.result, sat.text);
            sat
        };
        let (without, with, back) = (typed(&[]), typed(&[statement]), typed(&[statement, "undo", "recipe"]));
        assert_eq!(held(&without.board), held(&back.board), "{statement}\n{}", back.text);
        assert!(!back.after("recipe").contains(statement), "{}", back.text);
        back.never_says("gone after a restart");
        let changed = held(&with.board) != held(&without.board);
        assert!(changed, "it changed nothing, so its undo shows nothing: {statement}\n{}", with.text);
    }
}

#[test]
fn undo_again_and_again_goes_back_to_the_beginning() {
    let sat = session(&[
        "require battery out",
        "idle at 1120",
        "set loop-rate to 2 kHz",
        "idle at 1130",
        "undo",
        "recipe",
        "undo",
        "undo",
        "undo",
    ])
    .sit();
    assert!(sat.result.is_ok(), "{}", sat.text);
    assert!(sat.after("recipe").contains("idle at 1120"), "{}", sat.text);
    sat.says("Nothing that this session wrote is left to take back");
    assert_eq!(held(&sat.board), held(&session(&["require battery out"]).sit().board));
}

#[test]
fn what_was_kept_comes_back_after_a_restart_unless_it_is_kept_again() {
    let sat = turns(vec![
        Turn::Line("require battery out"),
        Turn::Line("idle at 1120"),
        Turn::Line("keep"),
        Turn::Line("undo"),
        Turn::Moves(vec![(500, "restart")], "look changes"),
    ])
    .sit();
    sat.says("It had been kept: after a restart the board has it again");
    assert!(sat.after("look changes").contains("1120"), "{}", sat.text);
}

/// What the board was heard to have since is not what was written and read back: after the restart that has to be there.
#[test]
fn keep_expects_what_was_read_back_and_not_what_was_heard_since() {
    let lines = [Turn::Line("require battery out"), Turn::Line("idle at 1160")];
    let meanwhile = [Turn::Moves(vec![(0, "set IDLE_US 1150")], "expect idle is 1160 us"), Turn::Line("keep")];
    let sat = turns(lines.into_iter().chain(meanwhile).collect()).sit();
    let after = sat.after("keep");
    assert!(!after.contains("still there"), "{after}");
    assert!(after.contains("Read after the restart, and not as it was written: idle = 1150 us."), "{after}");
}
