//! What is typed while a statement is carried out stands at the next prompt, and nothing comes of it by itself.

use super::kit::{Turn, session, turns};
use quadjig::rehearsal::operator::Deed;
use quadjig::seam::Key;

/// The statements that lead to a change that is not kept.
fn lines(last: Turn) -> Vec<Turn> {
    vec![Turn::Line("require battery out"), Turn::Line("failsafe cut motors after 1 s"), last]
}

#[test]
fn what_is_typed_ahead_stands_at_the_next_prompt() {
    let sat = turns(lines(Turn::Key("keep", 700, Key::Char('l')))).sit();
    assert!(sat.result.is_ok(), "{:?}\n{}", sat.result, sat.text);
    assert_eq!(sat.prompts.iter().filter(|prompt| prompt.ends_with("> l")).count(), 1, "{:?}", sat.prompts);
    sat.says("still there");
}

/// What somebody presses at a question is for the question, or for nobody.
#[test]
fn what_is_typed_into_a_question_is_no_line() {
    let sat = session(&["require battery out", "leave"]).in_question("battery out", Deed::Key(Key::Escape)).sit();
    assert!(sat.prompts.iter().all(|prompt| prompt.ends_with("> ")), "{:?}", sat.prompts);
}
