//! What must not end a session: a lost wire, a board that restarts, a battery pulled, another board; at the prompt,
//! in a question and while motors turn. Nothing resumes by itself.

use super::kit::{Sat, Turn, turns};
use crate::spy::bound;
use quadjig::language::recipe::Switch;
use quadjig::measure::time::Time;
use quadjig::rehearsal::operator::Deed;
use quadjig::seam::ui::Gesture;
use quadjig::seam::{Key, LineRead};
use quadjig::virtual_board::{World, WorldConfig};

const BOUND: &[&str] = &[
    "require props off",
    "require antenna on",
    "require battery out",
    "switch B on channel 6 rests at 1000, 1500, 2000",
    "bind arm to switch B position 2",
    "at zero throttle spin",
    "keep",
];

fn lines(more: &[Turn]) -> Vec<Turn> {
    BOUND.iter().map(|line| Turn::Line(line)).chain(more.iter().cloned()).collect()
}

fn on() -> Gesture {
    Gesture::SwitchTo { switch: Switch("B".to_owned()), position: 2 }
}

fn world(line: &str) -> Deed {
    Deed::World(line.to_owned())
}

#[track_caller]
fn ends_well(sat: &Sat) {
    assert!(sat.result.is_ok(), "{:?}\n{}", sat.result, sat.text);
}

#[test]
fn a_cable_out_and_in_at_the_prompt() {
    let sat = turns(lines(&[
        Turn::Moves(vec![(1000, "usb out"), (6000, "usb in")], "look"),
        Turn::Line("failsafe cut motors after 1 s"),
        Turn::Line("undo"),
    ]))
    .sit();
    ends_well(&sat);
    sat.says("The link to the board was lost").says("The port is back").says("the session goes on");
    sat.says("link-loss-action = cut (read back)");
}

#[test]
fn a_restart_at_the_prompt_takes_what_was_not_kept() {
    let sat = turns(vec![
        Turn::Line("require battery out"),
        Turn::Line("failsafe cut motors after 1 s"),
        Turn::Moves(vec![(1000, "restart")], "look changes"),
        Turn::Line("recipe"),
    ])
    .sit();
    ends_well(&sat);
    sat.says("1 setting stands otherwise than before")
        .says("Not on the board any more, and out of the recipe: failsafe");
    assert!(sat.after("look changes").contains("none"), "{}", sat.text);
    assert!(!sat.after("recipe").contains("failsafe"), "{}", sat.text);
}

#[test]
fn a_battery_pulled_and_put_in_at_the_prompt() {
    let sat = turns(lines(&[
        Turn::Line("require battery in"),
        Turn::Moves(vec![(1000, "battery out")], "look battery"),
        Turn::Moves(vec![(1000, "battery in")], "look battery"),
        Turn::Line("failsafe cut motors after 1 s"),
    ]))
    .sit();
    ends_well(&sat);
    sat.says("The battery is out. Before motors can turn again").says("the battery went in before it was asked for");
    // After the stop the statement has the battery taken out first.
    assert!(sat.after("failsafe cut motors after 1 s").contains("Take the battery out."), "{}", sat.text);
    sat.says("link-loss-action = cut (read back)");
}

#[test]
fn a_cable_out_while_motors_turn() {
    let sat = turns(lines(&[
        Turn::Line("idle at 1180"),
        Turn::Line("test idle"),
        Turn::Moves(vec![(4000, "flip B 0"), (6000, "battery out"), (8000, "usb in")], "look"),
        Turn::Line("failsafe cut motors after 1 s"),
    ]))
    .upset(on(), 1500, world("usb out"))
    .sit();
    ends_well(&sat);
    sat.says("the link to the board was lost while motors could turn").says("SWITCH OFF. PULL THE BATTERY");
    sat.says("link-loss-action = cut (read back)");
}

#[test]
fn another_board_at_the_prompt_is_left_alone() {
    let other = WorldConfig { seed: 2, ..WorldConfig::default() };
    let mut planned = turns(lines(&[
        Turn::Moves(vec![(1000, "usb out"), (4000, "usb in")], "failsafe cut motors after 1 s"),
        Turn::Line("look"),
        Turn::Moves(vec![(1000, "usb out"), (4000, "usb in")], "failsafe cut motors after 1 s"),
    ]));
    planned.boards.push_back(World::new(other.clone()));
    let sat = planned.sit();
    ends_well(&sat);
    sat.says(&format!("Another board answers now: {}", other.board_id())).says("Nothing is written to it");
    sat.says(&format!("with another board: {}", other.board_id()));
    sat.says("the session goes on");
    let texts: Vec<&str> = sat.text.matches("link-loss-action = cut (read back)").collect();
    assert_eq!(texts.len(), 1, "{}", sat.text);
}

/// Its motors may turn, and no stop may leave for it: the person is told.
#[test]
fn another_board_that_is_armed_is_told() {
    let config = WorldConfig { seed: 2, ..WorldConfig::default() };
    for armed in [true, false] {
        let mut other = bound(&config);
        other.line(Time(0), "battery in").unwrap();
        other.advance(Time(2_000_000));
        if armed {
            other.line(Time(2_000_000), "flip B 2").unwrap();
            other.advance(Time(2_500_000));
            assert!(other.armed());
        }
        let mut planned = turns(lines(&[Turn::Moves(vec![(1000, "usb out"), (4000, "usb in")], "look")]));
        planned.boards.push_back(other);
        let sat = planned.sit();
        sat.says("Another board answers now").says("Nothing is written to it");
        assert_eq!(sat.text.contains("IT IS ARMED"), armed, "{}", sat.text);
        assert!(!sat.text.contains("The battery is in."), "{}", sat.text);
    }
}

#[test]
fn a_cable_out_in_a_question() {
    let sat = turns(lines(&[
        Turn::Line("require battery in"),
        Turn::Line("idle at 1180"),
        Turn::Moves(vec![(3000, "usb in"), (5000, "battery out")], "look"),
        Turn::Line("failsafe cut motors after 1 s"),
    ]))
    .in_question("write", world("usb out"))
    .sit();
    ends_well(&sat);
    sat.says("The link to the board was lost").says("link-loss-action = cut (read back)");
}

#[test]
fn a_cable_out_in_a_search() {
    let sat = turns(lines(&[
        Turn::Line("idle start at 1100 step 25 until all spin"),
        Turn::Moves(vec![(500, "flip B 0"), (1000, "battery out"), (4000, "usb in")], "look changes"),
        Turn::Line("failsafe cut motors after 1 s"),
        Turn::Line("recipe"),
    ]))
    .upset(on(), 1500, world("usb out"))
    .sit();
    ends_well(&sat);
    sat.says("the link to the board was lost while motors could turn").says("the session goes on");
    sat.says("link-loss-action = cut (read back)");
    assert!(!sat.after("recipe").contains("until all spin"), "{}", sat.text);
}

#[test]
fn a_board_that_restarts_while_motors_turn() {
    let sat = turns(lines(&[
        Turn::Line("idle at 1180"),
        Turn::Line("test idle"),
        Turn::Moves(vec![(500, "flip B 0"), (1000, "battery out")], "look"),
        Turn::Line("failsafe cut motors after 1 s"),
    ]))
    .upset(on(), 1500, world("restart"))
    .sit();
    ends_well(&sat);
    sat.says("STOP").says("Not on the board any more, and out of the recipe: idle at 1180");
    sat.says("link-loss-action = cut (read back)");
}

#[test]
fn a_battery_pulled_while_motors_turn() {
    let sat = turns(lines(&[
        Turn::Line("idle at 1180"),
        Turn::Line("test idle"),
        Turn::Moves(vec![(500, "flip B 0")], "look battery"),
        Turn::Line("failsafe cut motors after 1 s"),
    ]))
    .upset(on(), 1500, world("battery out"))
    .sit();
    ends_well(&sat);
    sat.says("link-loss-action = cut (read back)");
    assert!(sat.after("look battery").contains("out"), "{}", sat.text);
}

#[test]
fn a_key_while_motors_turn_is_the_stop_and_the_session_goes_on() {
    let sat = turns(lines(&[
        Turn::Line("idle at 1180"),
        Turn::Line("test idle"),
        Turn::Moves(vec![(100, "flip B 0")], "look"),
        Turn::Line("failsafe cut motors after 1 s"),
    ]))
    .upset(on(), 1500, Deed::Key(Key::Interrupt))
    .sit();
    ends_well(&sat);
    sat.says("a key was pressed").says("link-loss-action = cut (read back)");
    assert!(sat.after("failsafe cut motors after 1 s").contains("Take the battery out."), "{}", sat.text);
}

/// After a stop the battery may still be in: a start at the prompt is stopped as anywhere else.
#[test]
fn a_start_at_the_prompt_after_a_stop_is_stopped_again() {
    let sat = turns(lines(&[
        Turn::Line("idle at 1180"),
        Turn::Line("test idle"),
        Turn::Moves(vec![(100, "flip B 0"), (9000, "flip B 2"), (12000, "flip B 0")], "look"),
        Turn::Line("failsafe cut motors after 1 s"),
    ]))
    .upset(on(), 1500, Deed::Key(Key::Interrupt))
    .sit();
    ends_well(&sat);
    sat.says("a key was pressed").says("a motor output rose without being asked to");
    sat.says("link-loss-action = cut (read back)");
}

#[test]
fn a_line_entered_into_a_stop_is_not_done_after_it() {
    let sat = turns(lines(&[
        Turn::Line("require battery in"),
        Turn::Meanwhile(vec![(1000, "flip B 2"), (1400, "battery out"), (1600, "flip B 0")], 1500, "idle at 1180"),
        Turn::Line("look changes"),
    ]))
    .sit();
    ends_well(&sat);
    sat.says("a motor output rose without being asked to").says("Not done: a stop is under way");
    assert!(!sat.after("look changes").contains("1180"), "{}", sat.text);
}

#[test]
fn ctrl_c_while_a_switch_is_worked_is_a_stop_and_the_session_goes_on() {
    let sat = turns(vec![
        Turn::Other(LineRead::Abandoned),
        Turn::Line("find switch B"),
        Turn::Line("failsafe cut motors after 1 s"),
    ])
    .upset(Gesture::HandsOff, 500, Deed::Key(Key::Interrupt))
    .sit();
    ends_well(&sat);
    sat.says("a key was pressed").says("link-loss-action = cut (read back)");
}

#[test]
fn a_closed_terminal_ends_it_in_order() {
    let sat =
        turns(vec![Turn::Line("find switch B"), Turn::Line("look")]).upset(Gesture::HandsOff, 500, Deed::Leave).sit();
    assert!(sat.result.is_err());
    sat.never_says("> look");
}

#[test]
fn leaving_with_ctrl_d_says_what_is_open() {
    let sat = turns(vec![
        Turn::Line("require battery out"),
        Turn::Line("failsafe cut motors after 1 s"),
        Turn::Other(LineRead::End),
        Turn::Line("leave"),
    ])
    .answers(&[("Leave the bench", 's'), ("Leave the bench", 'l')])
    .sit();
    ends_well(&sat);
    sat.says("Written and not kept, so gone after a restart: link-loss-action = cut");
    assert_eq!(sat.prompts.len(), 4);
}
