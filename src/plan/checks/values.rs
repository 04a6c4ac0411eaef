//! Values against the sheet: does the board have the setting, and does it take the value?

use crate::board::convert::{ConvertError, Measured, PerCell, encode, encode_idle, encode_typed};
use crate::board::sheet::{Entry, Sheet};
use crate::board::value::Number;
use crate::board::vocabulary;
use crate::language::checks::codes;
use crate::language::finding::Finding;
use crate::language::recipe::{Chemistry, Idle, Part, Recipe, Setting, Statement, StatementKind, Value, ZeroThrottle};
use crate::language::span::Span;
use crate::language::units::{Decimal, Pulse, Quantity, Unit};
use std::time::Duration;

type Encode<'v> = Box<dyn Fn(&Entry) -> Result<Number, ConvertError> + 'v>;

/// A word that a statement needs, the value that it would get, and the value's place.
struct Wanted<'v> {
    word: &'v str,
    value: Option<Encode<'v>>,
    part: Part,
}

pub(super) fn check(recipe: &Recipe, sheet: &Sheet, found: &mut Vec<Finding>) {
    for statement in &recipe.statements {
        let mut missing = false;
        for Wanted { word, value, part } in wanted(statement) {
            let Some(entry) = sheet.settings.get(word) else {
                // Unknown words are told without a sheet; a statement is refused once.
                if vocabulary::word(word).is_some() && !missing {
                    missing = true;
                    found.push(lacking(statement, word, sheet));
                }
                continue;
            };
            let Some(Err(error)) = value.map(|encode| encode(entry)) else { continue };
            found.push(refused(&error, word, statement.part(part), sheet));
        }
    }
}

fn typed<'v>(word: &'v str, value: impl Measured + Clone + 'v, part: Part) -> Wanted<'v> {
    Wanted { word, value: Some(Box::new(move |entry| encode_typed(word, entry, value.clone()))), part }
}

/// A time in milliseconds where it is whole in them, so that it is told as it was written.
fn time(word: &str, time: Duration, part: Part) -> Wanted<'_> {
    let Some(millis) = i64::try_from(time.as_millis()).ok().filter(|_| time.subsec_micros().is_multiple_of(1000))
    else {
        return typed(word, time, part);
    };
    let number = Decimal { millionths: millis.saturating_mul(1_000_000) };
    let value = Value::Quantity(Quantity { number, unit: Some(Unit::Ms) });
    Wanted { word, value: Some(Box::new(move |entry| encode(word, entry, &value))), part }
}

fn idle<'v>(value: Idle, part: Part) -> Wanted<'v> {
    Wanted { word: "idle", value: Some(Box::new(move |entry| encode_idle(entry, value))), part }
}

/// A word that must be there, whatever its value will be.
fn needed(word: &str) -> Wanted<'_> {
    Wanted { word, value: None, part: Part::Subject }
}

fn wanted(statement: &Statement) -> Vec<Wanted<'_>> {
    let pulse = |pulse: Pulse, part| idle(Idle::Pulse(pulse), part);
    match &statement.what {
        StatementKind::Receiver { protocol, port } => vec![
            typed("receiver-protocol", protocol.as_str(), Part::Subject),
            typed("receiver-port", *port, Part::Value),
        ],
        StatementKind::Channels(_) => {
            ["roll-channel", "pitch-channel", "throttle-channel", "yaw-channel"].map(needed).into()
        }
        StatementKind::AtZeroThrottle(zero) => {
            let word = if *zero == ZeroThrottle::Spin { "spin" } else { "rest" };
            vec![typed("zero-throttle", word, Part::Value)]
        }
        StatementKind::IdleAt(value) => vec![idle(*value, Part::Value)],
        StatementKind::IdleSearch(search) => {
            let mut all = vec![pulse(search.start, Part::Start)];
            // A limit left out is capped by the sheet; one that is written must be the board's to hold.
            all.extend(search.at_most.map(|most| pulse(most, Part::Limit)));
            all
        }
        StatementKind::Signal { signal, rate } => {
            let mut all = vec![typed("signal", signal.word(), Part::Subject)];
            all.extend(rate.map(|rate| typed("loop-rate", rate, Part::Rate)));
            all
        }
        StatementKind::BoardTurned(angle) => vec![typed("board-turn", *angle, Part::Value)],
        StatementKind::CalibrateLevel => ["level-roll", "level-pitch"].map(needed).into(),
        StatementKind::CalibrateBattery => vec![needed("voltage-ratio")],
        StatementKind::Failsafe(wait) => {
            vec![typed("link-loss-action", "cut", Part::Value), time("link-loss-wait", *wait, Part::Value)]
        }
        StatementKind::Battery { cells, chemistry, warn, land } => {
            let word = if *chemistry == Chemistry::Lipo { "lipo" } else { "lihv" };
            vec![
                typed("battery-cells", *cells, Part::Cells),
                typed("battery-chemistry", word, Part::Subject),
                typed("battery-warn", PerCell(*warn), Part::Warn),
                typed("battery-land", PerCell(*land), Part::Land),
            ]
        }
        StatementKind::Set { setting: Setting::Word(word), value }
        | StatementKind::Expect { setting: Setting::Word(word), value } => {
            vec![Wanted { word, value: Some(Box::new(move |entry| encode(word, entry, value))), part: Part::Value }]
        }
        _ => Vec::new(),
    }
}

fn lacking(statement: &Statement, word: &str, sheet: &Sheet) -> Finding {
    let message = format!("{} has no `{word}`: this board cannot do it", sheet.board);
    Finding::error(codes::WORD_NOT_ON_BOARD, &statement.span, message)
        .hint(format!("the sheet is {}; leave the line out, or choose another board", sheet.origin))
}

/// The finding about a value that the board does not take.
pub(super) fn refused(error: &ConvertError, word: &str, place: &Span, sheet: &Sheet) -> Finding {
    let code = match error {
        ConvertError::OutOfRange { .. } | ConvertError::TooLarge { .. } => codes::BEYOND_SHEET,
        ConvertError::UnknownWord { .. } | ConvertError::NotListed { .. } | ConvertError::BetweenSteps { .. } => {
            codes::VALUE_NOT_OFFERED
        }
        ConvertError::WrongUnit { .. } | ConvertError::MissingUnit { .. } if word == "idle" => codes::IDLE_UNIT,
        _ => codes::VALUE_KIND,
    };
    let message = format!("{error}: {} would refuse it", sheet.board);
    let mut finding = Finding::error(code, place, message);
    if let ConvertError::UnknownWord { nearest: Some(near), .. } = error {
        finding = finding.replace(format!("write `{near}`"), place, near.as_str());
    }
    match error.hint() {
        Some(hint) if finding.fixes.is_empty() => finding.hint(hint),
        _ => finding,
    }
}
