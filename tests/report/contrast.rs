//! Every colour that is emitted can be read on a dark ground and on a light one.
//!
//! Source of the measure and of its bound for text, 4.5: WCAG 2.1, relative luminance and 1.4.3. Of the colours: xterm's
//! table of 256, of which the numbers from 16 on are the same on every terminal. The first sixteen are not.

use super::page::pages_in_colour;
use quadjig::language::recipe::Switch;
use quadjig::language::units::Pulse;
use quadjig::report::screen::{Screen, Style};
use quadjig::seam::strip::{Now, Strip, TimeLeft};
use quadjig::seam::ui::{About, BoardChange, Delivery, MotorStep, Motors, Question, Reply, StartedBy, Tone, UiEvent};
use quadjig::world::screen::{Drawn, Screen as _};
use std::collections::BTreeSet;
use std::num::NonZero;
use std::time::Duration;
use vt100::Color;

const LEAST: f64 = 4.5;
const BLACK: [u8; 3] = [0; 3];
const WHITE: [u8; 3] = [255; 3];

/// Red, green and blue of a colour of the table.
fn of_table(index: u8) -> [u8; 3] {
    const STEPS: [u8; 6] = [0, 95, 135, 175, 215, 255];
    let step = |at: u8| STEPS[usize::from(at % 6)];
    match index {
        0..16 => panic!("colour {index} is another one on each terminal"),
        16..232 => [step((index - 16) / 36), step((index - 16) / 6), step(index - 16)],
        232.. => [8 + 10 * (index - 232); 3],
    }
}

fn luminance(colour: [u8; 3]) -> f64 {
    let linear = |part: u8| {
        let part = f64::from(part) / 255.0;
        if part <= 0.03928 { part / 12.92 } else { ((part + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * linear(colour[0]) + 0.7152 * linear(colour[1]) + 0.0722 * linear(colour[2])
}

fn contrast(one: [u8; 3], other: [u8; 3]) -> f64 {
    let (one, other) = (luminance(one) + 0.05, luminance(other) + 0.05);
    one.max(other) / one.min(other)
}

/// The contrasts on a dark and a light ground of text in this colour on that one.
fn contrasts(text: Color, ground: Color) -> Vec<f64> {
    let of = |colour: Color| match colour {
        Color::Default => None,
        Color::Idx(index) => Some(of_table(index)),
        Color::Rgb(r, g, b) => Some([r, g, b]),
    };
    match (of(text), of(ground)) {
        // The terminal's own, whatever they are, also where they are exchanged.
        (None, None) => Vec::new(),
        (Some(text), None) => vec![contrast(text, BLACK), contrast(text, WHITE)],
        (None, Some(_)) => panic!("text of the terminal's own colour on a ground of ours"),
        (Some(text), Some(ground)) => vec![contrast(text, ground)],
    }
}

/// Every pair of colours in which something stands, with what does.
fn colours(bytes: &str) -> BTreeSet<(String, String)> {
    let mut parser = vt100::Parser::new(NonZero::new(200).unwrap(), NonZero::new(120).unwrap(), 0);
    parser.process(bytes.as_bytes());
    let (mut pairs, mut dim) = (BTreeSet::new(), BTreeSet::new());
    for row in 0..200 {
        for column in 0..120 {
            let Some(cell) = parser.screen().cell(row, column).filter(|cell| !cell.contents().trim().is_empty()) else {
                continue;
            };
            let (text, ground) = (cell.fgcolor(), cell.bgcolor());
            for contrast in contrasts(text, ground) {
                assert!(contrast >= LEAST, "{:?} in {text:?} on {ground:?} has {contrast:.2}", cell.contents());
            }
            pairs.insert((format!("{text:?}"), format!("{ground:?}")));
            if cell.dim() {
                dim.insert(cell.contents().to_owned());
            }
        }
    }
    assert!(dim.is_empty(), "what a terminal makes of dim text nobody knows: {dim:?}");
    pairs
}

fn question() -> Question {
    let step = MotorStep {
        purpose: "idle search".to_owned(),
        pulse: Pulse(1120),
        longest: Duration::from_secs(2),
        motors: Motors::All,
        on_usb: false,
        starts: 3,
        by: StartedBy::Switch { switch: Switch("B".to_owned()), on: 2, off: 0 },
        look_at: "every motor".to_owned(),
        test: None,
        change: BoardChange::default(),
    };
    Question {
        reply: Reply::Word(step.word()),
        about: About::Motor(step),
        craft: "Wren 95".to_owned(),
        is_virtual: true,
        title: "Motors will turn".to_owned(),
        lines: vec![],
        before: None,
    }
}

#[test]
fn every_colour_of_the_screens_is_read_on_dark_and_light() {
    let screen = Screen::new(Style { colour: true, ..Style::default() });
    let said = |tone| UiEvent::Line(tone, "what there is to say".to_owned());
    let shown = [
        UiEvent::Cautions,
        UiEvent::CautionsWhole(None),
        UiEvent::StepBegins { number: 1, of: 9, title: "Battery in".to_owned(), turns_motors: true },
        said(Tone::Plain),
        said(Tone::Good),
        said(Tone::Warning),
        said(Tone::Measured),
        said(Tone::Attested),
        UiEvent::StopBegins { reason: "a key was pressed".to_owned(), delivery: Delivery::Sent },
        UiEvent::PullTheBattery,
        UiEvent::StopConfirmed,
        UiEvent::Strip(Some(Strip {
            now: vec![Now::Armed(true), Now::Radio(true)],
            time: Some(TimeLeft { left: Duration::from_secs(1), whole: Duration::from_secs(4) }),
        })),
    ];
    let question = question();
    let mut text = screen.question(&question, 80).join("\r\n") + "\r\n" + &screen.prompt(&question, 80);
    for shown in &shown {
        let lines = match screen.shown(shown, 80) {
            Drawn::Lines(lines) | Drawn::Urgent(lines) => lines,
            Drawn::Strip(row) => row.into_iter().collect(),
            other => panic!("{other:?}"),
        };
        text.push_str("\r\n");
        text.push_str(&lines.join("\r\n"));
    }
    // The words of a stop, of an armed craft and of hands differ from an ordinary warning, and bring their ground along.
    let pairs = colours(&text);
    let grounds: BTreeSet<&String> = pairs.iter().map(|(_, ground)| ground).collect();
    assert_eq!(grounds.len(), 2, "{pairs:?}");
    assert!(pairs.len() >= 4, "{pairs:?}");
}

#[test]
fn every_colour_of_the_live_page_is_read_on_dark_and_light() {
    for page in pages_in_colour() {
        assert!(!colours(&page).is_empty());
    }
}

/// The measure itself, by figures that its page of tests has: black on white 21, and the grey #767676 at its bound.
#[test]
fn the_measure_is_the_standards() {
    assert!((contrast(BLACK, WHITE) - 21.0).abs() < 0.001);
    assert!((contrast([0x76; 3], WHITE) - 4.54).abs() < 0.01 && contrast([0x77; 3], WHITE) < LEAST);
}
