//! Moments between two things: a program that slept, a wire about to go, a heartbeat beside a command.

use super::stand::{ARM_ONLY, Did, Hands, Played, Plot, SIGNAL, START, Stand, Then, keys};
use quadjig::board::mavlink::FrameClass;
use quadjig::rehearsal::operator::Deed;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, Gesture, MotorStep, StartedBy, UiEvent};
use quadjig::seam::{Event, Key};
use quadjig::virtual_board::{World, WorldConfig};
use std::time::Duration;

/// A frame of this class has left.
fn left(class: FrameClass, after_ms: u64, then: Vec<Then>) -> Plot<'static> {
    let seen = move |did: &Did| matches!(did, Did::Frame { class: Some(found), .. } if *found == class);
    Plot::when(move |_, log| log.entries.iter().any(|entry| seen(&entry.did)), after_ms, then)
}

/// By the world's truth nothing turned once the closing words were said.
fn nothing_turned_after_the_end(played: &Played) {
    let closing = |did: &Did| matches!(did, Did::UiEvent(UiEvent::Closing { .. }));
    let ended = played.log.entries.iter().rev().find(|entry| closing(&entry.did)).unwrap().at;
    let late = played.log.truth.iter().find(|truth| truth.at > ended && truth.fastest > 300.0);
    assert!(late.is_none(), "{late:?} after {ended:?}\n{}", played.log.tail());
}

#[test]
fn a_program_that_slept_while_motors_turned_stops_and_hears_the_board_again() {
    let played = Stand::new(START)
        .plot(Plot::turning(400, vec![Then::Gap(400)]))
        .plot(Plot::turning(900, vec![Then::Line("flip B 0")]))
        .play();
    assert!(matches!(played.fault(), Fault::Stopped { confirmed: true, .. }), "{}", played.log.tail());
    nothing_turned_after_the_end(&played);
}

#[test]
fn a_heartbeat_beside_a_motor_run_does_not_end_it() {
    for extra in (470..520).step_by(10) {
        let config = WorldConfig::default();
        let hands = Hands::willing(&config).who_answers(move |question| match &question.about {
            About::Motor(step @ MotorStep { by: StartedBy::Command, .. }) => {
                Some(keys(600 + extra, 120, step.word().chars().map(Key::Char).chain([Key::Enter])))
            }
            _ => None,
        });
        let mut stand = Stand::on(SIGNAL, config);
        stand.hands = hands;
        stand.after = Duration::from_secs(4);
        let played = stand.play();
        assert_eq!(played.result, Some(Ok(())), "{extra}: {}", played.log.tail());
        nothing_turned_after_the_end(&played);
    }
}

#[test]
fn an_interrupt_while_the_board_restarts_ends() {
    for after in [0, 5, 20, 50, 100, 400] {
        let interrupt = vec![Then::Event(Event::Key(Key::Interrupt))];
        let played = Stand::new(START).plot(left(FrameClass::Restarts, after, interrupt)).play();
        assert_eq!(played.code(), 4, "{after}: {}", played.log.tail());
        played.log.nothing_turned();
    }
}

#[test]
fn a_slow_hand_may_walk_the_positions_of_an_arm_test() {
    let config = WorldConfig::default();
    let mut begun = false;
    let hands = Hands::willing(&config).who_follows(move |gesture| match gesture {
        Gesture::SwitchTo { switch, position } if switch.0 == "B" => {
            begun |= *position > 0;
            begun.then(|| vec![(Duration::from_secs(12), Deed::World(format!("flip B {position}")))])
        }
        _ => None,
    });
    // Measured out, the battery lets a hand take its time; by a word alone an arming ends after 20 s.
    let mut board = World::new(config);
    let now = board.now();
    board.line(now, "battery in").unwrap();
    let mut stand = Stand::new(ARM_ONLY);
    stand.board = board;
    stand.hands = hands;
    let played = stand.play();
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
}

#[test]
fn a_gap_while_a_switch_is_worked_is_no_battery() {
    let invited = |did: &Did| matches!(did, Did::UiEvent(UiEvent::Invite(Gesture::SwitchTo { .. }, ..)));
    let played = Stand::new(ARM_ONLY)
        .plot(Plot::when(move |_, log| log.entries.iter().any(|entry| invited(&entry.did)), 700, vec![Then::Gap(400)]))
        .play();
    assert!(!played.log.tail().contains("the battery went in"), "{}", played.log.tail());
    played.log.nothing_turned();
}
