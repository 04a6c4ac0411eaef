//! Every question, table, plot and strip on the three sizes of screen that people have: 80x24, 100x30 and 120x40.
//!
//! Promises: what is asked stands whole on each, with the row that is typed in and the strip below it; the text of each
//! screen is kept to be looked at. How it is coloured on dark and light ground is another file's.

use super::attended::{Went, went};
use quadjig::language::recipe::{Frame, Stick, Switch, Turning};
use quadjig::language::units::Pulse;
use quadjig::report::screen::{Screen, Style};
use quadjig::report::words::columns;
use quadjig::seam::strip::{Now, Strip, TimeLeft};
use quadjig::seam::ui::{Beside, PropSeen, Question, StartSeen, StickSeen, UiEvent};
use quadjig::world::screen::{Drawn, Screen as _};
use std::collections::BTreeSet;
use std::time::Duration;

const SIZES: [(usize, usize); 3] = [(80, 24), (100, 30), (120, 40)];

/// The question as it stands before anything is typed.
fn asked(question: &Question, width: usize) -> Vec<String> {
    let screen = Screen::new(Style::default());
    let mut rows = screen.question(question, width);
    rows.push(screen.prompt(question, width));
    rows
}

#[test]
fn every_question_of_a_first_craft_stands_whole_on_each_screen() {
    let went = went("recipes/first-craft.jig", 80);
    for (width, height) in SIZES {
        let mut told = BTreeSet::new();
        let mut pictures = Vec::new();
        for (question, _) in &went.questions {
            let rows = asked(question, width);
            // The strip stands below it, and what is typed has room behind it.
            assert!(rows.len() < height, "{width}x{height}: {rows:#?}");
            assert!(rows.iter().all(|row| columns(row) < width + 1), "{width}x{height}: {rows:#?}");
            let picture = rows.join("\n");
            if told.insert(picture.clone()) {
                pictures.push(picture);
            }
        }
        insta::assert_snapshot!(format!("questions_{width}"), pictures.join("\n"));
    }
}

/// Starts of the search in which they were seen, moved to another speed: as of another craft.
fn beside(starts: &[StartSeen]) -> Beside {
    let mut starts = starts.to_vec();
    for motor in starts.iter_mut().flat_map(|start| &mut start.motors) {
        motor.rpm = motor.rpm.map(|rpm| (rpm * 0.97).round());
    }
    Beside { craft: "wren-1".to_owned(), starts }
}

fn plots(went: &Went) -> Vec<UiEvent> {
    let found = went.idle.clone().expect("an idle search");
    let table = UiEvent::IdleTable(found.starts.clone(), Some(beside(&found.starts)));
    let frame = Frame::ALL[0];
    let motors = frame.places().iter().enumerate().map(|(at, place)| PropSeen {
        place: *place,
        motor: at + 1,
        clockwise: Turning::Inward.clockwise(at),
        right: at != 2,
    });
    let swing = |most: f64| (0..80).map(|at| 1500.0 + most * (f64::from(at) / 6.0).sin()).collect();
    let sticks = [(Stick::Roll, 1, 500.0), (Stick::Pitch, 2, 480.0), (Stick::Yaw, 4, 20.0)];
    let sticks = sticks.map(|(stick, channel, most)| StickSeen { stick, channel, pulses: swing(most) });
    let time = Some(TimeLeft { left: Duration::from_millis(1400), whole: Duration::from_secs(4) });
    let corners = ["front left", "front right", "rear right", "rear left"];
    let motor = |(corner, last): (&&str, u32)| Now::Motor {
        corner: (*corner).to_owned(),
        rpm: Some(last),
        output: 1125,
        trace: vec![0, 1200, 4000, 8900, 11_000, 11_150, 11_190, last],
    };
    let speeds = [11_244, 11_183, 11_226, 11_150];
    let switch =
        Now::Switch { switch: Switch("B".to_owned()), pulse: Some(Pulse(2000)), position: Some(2), asked: Some(0) };
    let now: Vec<Now> = [Now::Armed(true), switch].into_iter().chain(corners.iter().zip(speeds).map(motor)).collect();
    vec![
        UiEvent::Idle(found),
        table,
        UiEvent::PropMap(motors.collect()),
        UiEvent::Sticks(sticks.to_vec()),
        UiEvent::Strip(Some(Strip { now, time })),
    ]
}

#[test]
fn every_table_plot_and_strip_fits_each_screen() {
    let went = went("recipes/first-craft.jig", 80);
    let screen = Screen::new(Style::default());
    for (width, height) in SIZES {
        let mut pictures = Vec::new();
        for shown in plots(&went) {
            let rows = match screen.shown(&shown, width) {
                Drawn::Lines(rows) | Drawn::Panel(rows) => rows,
                Drawn::Strip(row) => row.into_iter().collect(),
                other => panic!("{other:?}"),
            };
            assert!(!rows.is_empty() && rows.len() < height, "{width}x{height}: {rows:#?}");
            assert!(rows.iter().all(|row| columns(row) <= width), "{width}x{height}: {rows:#?}");
            pictures.push(rows.join("\n"));
        }
        insta::assert_snapshot!(format!("plots_{width}"), pictures.join("\n\n"));
    }
}
