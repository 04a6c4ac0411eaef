//! What cannot be done at the prompt: said at once, with what it still needs, and nothing is sent.

use super::super::stand::classed;
use super::kit::{Sat, session};
use quadjig::board::mavlink::gate::FrameClass;

fn only_looked(sat: &Sat) {
    assert!(sat.result.is_ok(), "{:?}\n{}", sat.result, sat.text);
    for (at, bytes) in &sat.sent {
        for (class, ..) in classed(bytes) {
            assert!(matches!(class, Some(FrameClass::Heartbeat | FrameClass::Looks)), "{class:?} at {at:?}");
        }
    }
}

#[test]
fn what_cannot_stand_alone_says_what_it_needs() {
    let sat = session(&[
        "test cut",
        "require props off",
        "unbind arm",
        "idle start at 1100 step 25 by hand",
        "bind arm to switch B position 2",
        "bind arm to switch",
        "craft quad x",
        "frobnicate",
        "find sticks",
    ]);
    // Unbinding arm is a write; its plan alone is looked at here.
    let sat = {
        let mut planned = sat;
        planned.typist.turns.remove(2);
        planned.sit()
    };
    only_looked(&sat);
    assert!(sat.after("test cut").contains("error[CM1]"), "{}", sat.text);
    assert!(sat.after("bind arm to switch B position 2").contains("error[CS1]"), "{}", sat.text);
    assert!(sat.after("bind arm to switch").contains("error[RS3]"), "{}", sat.text);
    assert!(sat.after("craft quad x").contains("belongs to the head of a recipe"), "{}", sat.text);
    assert!(sat.after("frobnicate").contains("error[RS1]"), "{}", sat.text);
    insta::assert_snapshot!(sat.after("idle start at 1100 step 25 by hand"));
    insta::assert_snapshot!(sat.after("find sticks"));
}

#[test]
fn a_test_before_its_binding_says_what_is_missing() {
    let sat = session(&["require battery out", "require props off", "unbind arm", "test cut", "test arm"]).sit();
    insta::assert_snapshot!(sat.after("test cut"));
    insta::assert_snapshot!(sat.after("test arm"));
}

#[test]
fn looks_and_dry_runs_send_nothing_but_questions() {
    let sat = session(&[
        "look",
        "look settings",
        "look changes",
        "look switches",
        "look outputs",
        "look battery",
        "look journal",
        "exit",
        "look nowhere",
        "dry-run failsafe cut motors after 1 s",
        "dry-run nonsense",
        "dry-run",
        "recipe",
        "undo",
        "undo it",
        "help",
        "help look",
        "help idle",
        "help nothing",
        "write",
    ])
    .sit();
    only_looked(&sat);
    // Nobody has seen the text that a typed line stands in.
    assert!(!sat.text.contains("this session:"), "{}", sat.text);
    insta::assert_snapshot!(sat.text);
}

/// Every statement says how it is written, with an example; names of the board's settings do not push that off the screen.
#[test]
fn help_for_a_statement_has_its_form_and_an_example() {
    let starts = [
        "at",
        "battery",
        "bind",
        "board",
        "calibrate",
        "channels",
        "expect",
        "failsafe",
        "find",
        "idle",
        "keep",
        "note",
        "order",
        "pause",
        "power",
        "receiver",
        "require",
        "set",
        "signal",
        "switch",
        "test",
        "unbind",
    ];
    let lines: Vec<String> = starts.iter().map(|word| format!("help {word}")).collect();
    let lines: Vec<&'static str> = lines.into_iter().map(|line| &*line.leak()).collect();
    let sat = session(&[lines.as_slice(), &["leave"]].concat()).sit();
    only_looked(&sat);
    for (word, line) in starts.iter().zip(lines) {
        let said = sat.after(line);
        assert!(said.contains(&format!("such as `{word}")), "{line}\n{said}");
        assert!(said.lines().count() < 23, "{line}\n{said}");
    }
    assert!(sat.after("help bind").contains("bind FUNCTION to switch SWITCH positions POSITION"), "{}", sat.text);
    assert!(sat.after("help set").contains("set SETTING to"), "{}", sat.text);
}
