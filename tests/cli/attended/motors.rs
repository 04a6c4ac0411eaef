//! Motors one by one at a real terminal: a person who looks at the craft and says which turned.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::seen::{Asked, Reply, Seen};
use super::super::desk::{Attended, Deed, Ended, willing};
use super::run_arguments;
use std::cell::RefCell;
use std::time::{Duration, Instant};

/// The motors of a craft, on this board.
pub fn recipe(board: &str, lines: &str) -> String {
    format!(
        "recipe \"Wren 95, motors\"\nedition 1\ncraft quad x turning inward\nboard \"{board}\"\nrequire props off\n\
         require battery out\nrequire throttle low\nchannels roll, pitch, throttle, yaw\n{lines}"
    )
}

/// What a person answers who saw this corner turn this way.
fn tells(asked: &Asked, corner: &str, clockwise: bool) -> char {
    if asked.title.starts_with("Where") {
        let line =
            asked.text.lines().find(|line| line.trim_end().ends_with(corner)).unwrap_or_else(|| panic!("{asked:?}"));
        return line.trim_start_matches(|c: char| !c.is_ascii_digit()).chars().next().unwrap();
    }
    if asked.title.contains("seen from above") {
        return if clockwise { 'c' } else { 'o' };
    }
    // On the left the outer edge of what turns clockwise moves ahead, on the right back.
    if clockwise == corner.ends_with("left") { 'n' } else { 't' }
}

/// How long a hand takes to say what it has just seen; a key that comes before its question counts for nothing.
const SAYS: Duration = Duration::from_millis(300);

/// Runs to the end with a person who looks at the craft.
pub fn attended(sandbox: &Sandbox, board: &mut Board, arguments: &[&str]) -> Ended {
    let seen: RefCell<Option<(String, bool)>> = RefCell::new(None);
    let mut run = Attended::start(sandbox, board, arguments);
    let person = |what: &Seen| match what {
        Seen::Asked(asked @ Asked { reply: Reply::Keys(_), .. })
            if ["Where", "Which"].iter().any(|word| asked.title.starts_with(word)) =>
        {
            let (corner, clockwise) = seen.borrow().clone().expect("something turned");
            let key = tells(asked, &corner, clockwise);
            vec![(SAYS, Deed::Type(key.to_string().into_bytes()))]
        }
        other => willing(other),
    };
    let looked = RefCell::new(Instant::now());
    run.until(person, |_, board| {
        // A run lasts two seconds: who looks ten times a second misses none.
        if looked.borrow().elapsed() > Duration::from_millis(100) {
            *looked.borrow_mut() = Instant::now();
            for motor in board.truth()["motors"].as_array().unwrap() {
                if motor["state"] == "turning" {
                    let corner = motor["corner"].as_str().unwrap().to_owned();
                    *seen.borrow_mut() = Some((corner, motor["clockwise"] == true));
                }
            }
        }
        false
    });
    run.end(|_| Vec::new())
}

fn one(board: &str, served: &str, crossed: bool) {
    let sandbox = Sandbox::new();
    let lines = if crossed { "order motors\n" } else { "test motors\n" };
    sandbox.write("motors.jig", &recipe(board, lines));
    let mut desk = Board::with(&["--board", served]);
    if crossed {
        desk.line("plug 1 rear right");
        desk.line("swap rear left");
    }
    let port = desk.port.clone();
    let ended = attended(&sandbox, &mut desk, &run_arguments("motors.jig", &port));
    assert!(desk.rests());
    assert_eq!(ended.code, Some(0), "{board}: {}", ended.screen);
    assert!(ended.screen.contains("From above, as you said"), "{board}: {}", ended.screen);
    let truth = desk.truth();
    let right = [("front left", 1, true), ("front right", 2, false), ("rear right", 3, true), ("rear left", 4, false)];
    for (motor, (corner, number, clockwise)) in truth["motors"].as_array().unwrap().iter().zip(right) {
        let told = (motor["corner"].as_str(), motor["number"].as_u64(), motor["clockwise"].as_bool());
        assert_eq!(told, (Some(corner), Some(number), Some(clockwise)), "{board}: {motor}");
    }
    if crossed {
        assert!(ended.screen.contains("exchange motors 1 and 3 by setting"), "{board}: {}", ended.screen);
        for (name, value) in [("MOTOR1_OUT", 3), ("MOTOR3_OUT", 1), ("OUT4_REVERSED", 1), ("OUT1_REVERSED", 0)] {
            let held = &truth["settings"][name];
            assert_eq!((&held["working"], &held["stored"]), (&value.into(), &value.into()), "{board}: {name}");
        }
    }
}

/// Each takes minutes, as twenty starts do; so they are made beside each other.
#[test]
fn motors_are_shown_one_by_one_and_crossed_ones_put_right_on_every_board() {
    std::thread::scope(|scope| {
        for (board, served, crossed) in [
            ("Finch", "finch", false),
            ("Finch R", "finch-r", true),
            ("Finch C", "finch-c", true),
            ("Finch P", "finch-p", true),
        ] {
            scope.spawn(move || one(board, served, crossed));
        }
    });
}
