//! What recipes can and cannot do on a board, by its sheet: each statement of the language, put to the checks.
//!
//! Promises: what is said here of a statement is what a check of a recipe with it says. Must not be here: what a board
//! holds.

use super::checks;
use super::problem::Problem;
use crate::board::binding;
use crate::board::sheet::{Form, Sheet};
use crate::board::vocabulary;
use crate::language::checks::codes;
use crate::language::finding::{Finding, Severity};
use crate::language::recipe::Frame;
use crate::language::setting_word::SettingWord;
use crate::language::sources::Memory;
use std::path::Path;

/// One statement on one board.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ability {
    /// The statement, with a value where it takes one.
    pub statement: String,
    /// Why the board cannot do it; `None`: it can.
    pub lacks: Option<String>,
}

/// About the value that stands here for all others, and no lack of the board.
const OF_VALUES: [&str; 6] = [
    codes::BEYOND_SHEET,
    codes::VALUE_NOT_OFFERED,
    codes::VALUE_KIND,
    codes::IDLE_UNIT,
    codes::REST_OUTSIDE_BANDS,
    codes::FRAME_MISMATCH,
];

/// Every statement of the language that a board can lack something for, in the order of a set-up.
#[must_use]
pub fn abilities(sheet: &Sheet) -> Vec<Ability> {
    let fits = |frame: &&str| !found(sheet, frame, "keep").iter().any(|finding| finding.code == codes::FRAME_MISMATCH);
    let frame = Frame::ALL.into_iter().map(Frame::words).find(fits).unwrap_or(Frame::QuadX.words());
    statements(sheet)
        .into_iter()
        .map(|statement| {
            let lacks = lacks(sheet, frame, &statement).or_else(|| refused(sheet, frame, &statement));
            Ability { statement, lacks }
        })
        .collect()
}

fn statements(sheet: &Sheet) -> Vec<String> {
    let words = |word: SettingWord, else_: &'static str| match sheet.entry(word).map(|entry| &entry.form) {
        Some(Form::Words(words)) => words.keys().cloned().collect::<Vec<_>>(),
        _ => vec![else_.to_owned()],
    };
    let order = sheet.channel_order.as_ref().map_or("roll, pitch, throttle, yaw".to_owned(), |_| sheet.told_order());
    let mut all: Vec<String> = words(SettingWord::ReceiverProtocol, "crsf")
        .into_iter()
        .map(|protocol| format!("receiver {protocol} on port 1"))
        .collect();
    all.push(format!("channels {order}"));
    let plain = |all: &mut Vec<String>, statements: &[&str]| all.extend(statements.iter().map(|one| (*one).to_owned()));
    plain(&mut all, &["find switch C with 2 positions", "find sticks", "find link loss", "test sticks"]);
    let functions = binding::functions(sheet).into_iter().map(|function| function.0.clone());
    all.extend(functions.map(|function| format!("bind {function} to switch B position 2")));
    plain(&mut all, &["at zero throttle spin", "idle start at 1100 step 25 until all spin", "test idle"]);
    all.extend(words(SettingWord::Signal, "pwm").into_iter().map(|signal| format!("signal {signal}")));
    plain(
        &mut all,
        &[
            "power cycle",
            "test motors",
            "order motors",
            "board turned 90 deg",
            "test attitude",
            "calibrate level",
            "failsafe cut motors after 500 ms",
            "test arm",
            "test cut",
            "test failsafe",
            "test buzzer",
            "battery 2 cells warn at 3.6 V per cell land at 3.4 V per cell",
            "calibrate battery",
            "keep",
        ],
    );
    all
}

fn lacks(sheet: &Sheet, frame: &str, statement: &str) -> Option<String> {
    let of_the_board = |finding: &Finding| finding.severity == Severity::Error && !OF_VALUES.contains(&finding.code);
    found(sheet, frame, statement).into_iter().find(of_the_board).map(|finding| finding.message)
}

/// What a check of a recipe says of the board's sheet, at this statement or before it.
fn found(sheet: &Sheet, frame: &str, statement: &str) -> Vec<Finding> {
    let board = sheet.board.replace('\\', "\\\\").replace('"', "\\\"");
    let head = format!(
        "recipe \"What it can\"\nedition 1\ncraft {frame} turning inward\nboard \"{board}\"\nrequire props off\n\
         switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n"
    );
    let files = Memory::of([("can.jig", format!("{head}{statement}\n"))]);
    let reading = vocabulary::read(&files, Path::new("can.jig"), &[]);
    reading.recipe.map(|recipe| checks::with_sheet(&recipe, sheet)).unwrap_or_default()
}

/// What a plan refuses besides.
fn refused(sheet: &Sheet, frame: &str, statement: &str) -> Option<String> {
    if statement == "test buzzer" {
        // Nothing is tested that nothing could be bound to.
        return lacks(sheet, frame, "bind buzzer to switch B position 2");
    }
    (statement == "find link loss" && !sheet.usb_feeds_receiver).then(|| Problem::ReceiverUnfed.to_string())
}
