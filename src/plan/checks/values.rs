//! Values against the sheet: does the board have the setting, and does it take the value?

use crate::board::convert::{ConvertError, IdleScale, encode, encode_idle, encode_set};
use crate::board::sheet::{SettingEntry, Sheet};
use crate::board::value::Number;
use crate::board::vocabulary;
use crate::language::ceilings;
use crate::language::checks::codes;
use crate::language::finding::Finding;
use crate::language::recipe::{Idle, Part, Recipe, Setting, Statement, StatementKind};
use crate::language::sets::{Sets, sets};
use crate::language::setting_word::SettingWord;
use crate::language::span::Span;
use crate::language::units::Pulse;

type Encode<'v> = Box<dyn Fn(&SettingEntry) -> Result<Number, ConvertError> + 'v>;

/// A word that a statement needs, the value that it would get, and the value's place.
struct Wanted<'v> {
    word: &'v str,
    value: Option<Encode<'v>>,
    part: Part,
    /// A board without it will do.
    plain: bool,
}

pub(super) fn check(recipe: &Recipe, sheet: &Sheet, found: &mut Vec<Finding>) {
    for statement in &recipe.statements {
        if let (StatementKind::Channels(order), Some(fixed)) = (&statement.what, &sheet.channel_order) {
            if order != fixed {
                found.push(fixed_order(statement, sheet));
            }
            continue;
        }
        unwarned(statement, sheet, found);
        let mut missing = false;
        for Wanted { word, value, part, plain } in wanted(statement) {
            let Some(entry) = sheet.settings.get(word) else {
                // Unknown words are told without a sheet; a statement is refused once.
                if !plain && vocabulary::word(word).is_some() && !missing {
                    missing = true;
                    found.push(lacking(statement, word, sheet));
                }
                continue;
            };
            let Some(Err(error)) = value.map(|encode| encode(entry)) else { continue };
            let place = statement.part(part);
            let finding = refused(&error, word, place, sheet);
            found.push(match (&statement.what, &error) {
                // A share is one of the usual range of pulse widths.
                (StatementKind::IdleAt(Idle::Percent(share)), ConvertError::WrongUnit { .. }) => {
                    let pulse = Pulse(ceilings::REST.0 + share.0 / 10);
                    finding.replace(
                        format!("write `{pulse}`, which is {share} of 1000 to 2000 us"),
                        place,
                        pulse.to_string(),
                    )
                }
                _ => finding,
            });
        }
    }
}

/// A word that must be there, whatever its value will be.
fn needed(word: SettingWord) -> Wanted<'static> {
    Wanted { word: word.word(), value: None, part: Part::Subject, plain: false }
}

fn wanted(statement: &Statement) -> Vec<Wanted<'_>> {
    let pulse = |pulse: Pulse, part| Wanted {
        word: SettingWord::Idle.word(),
        // A search takes the next value above that the board can hold.
        value: Some(Box::new(move |entry| {
            let held = IdleScale::of(entry).map_or(pulse, |scale| scale.down(pulse));
            encode_idle(entry, Idle::Pulse(held))
        })),
        part,
        plain: false,
    };
    match &statement.what {
        StatementKind::IdleSearch(search) => {
            let mut all = vec![pulse(search.start, Part::Start)];
            // A limit left out is capped by the sheet; one that is written must be the board's to hold.
            all.extend(search.at_most.map(|most| pulse(most, Part::Limit)));
            all
        }
        StatementKind::CalibrateLevel => [SettingWord::LevelRoll, SettingWord::LevelPitch].map(needed).into(),
        StatementKind::CalibrateBattery => vec![needed(SettingWord::VoltageRatio)],
        StatementKind::TestFailsafe { .. } => vec![needed(SettingWord::LinkLossAction)],
        StatementKind::Set { setting: Setting::Word(word), value }
        | StatementKind::Expect { setting: Setting::Word(word), value } => {
            let encoded: Encode<'_> = Box::new(move |entry| encode(word, entry, value));
            vec![Wanted { word, value: Some(encoded), part: Part::Value, plain: false }]
        }
        what => {
            let of = |Sets { word, to, part, plain }| {
                let encoded: Encode<'_> = Box::new(move |entry| encode_set(word, entry, to));
                Wanted { word: word.word(), value: Some(encoded), part, plain }
            };
            sets(what).into_iter().map(of).collect()
        }
    }
}

/// Channels in another order than the board takes them in.
fn fixed_order(statement: &Statement, sheet: &Sheet) -> Finding {
    let order = sheet.told_order();
    let message = format!("{} takes its first four channels as {order}, and cannot be told another order", sheet.board);
    Finding::error(codes::VALUE_NOT_OFFERED, &statement.span, message).replace(
        format!("write `channels {order}`, and set the radio up so"),
        &statement.span,
        format!("channels {order}"),
    )
}

/// Limits of a battery on a board that warns of nothing: its cells count all the same.
fn unwarned(statement: &Statement, sheet: &Sheet, found: &mut Vec<Finding>) {
    let StatementKind::Battery { cells, .. } = statement.what else { return };
    let limits = [SettingWord::BatteryWarn, SettingWord::BatteryLand];
    let lacks: Vec<&str> = limits.iter().filter(|word| sheet.entry(**word).is_none()).map(|word| word.word()).collect();
    if !lacks.is_empty() {
        let message = format!(
            "{} has no {}: nothing warns of a low pack in flight; the {cells} cells count at the bench all the same",
            sheet.board,
            lacks.join(" and no ")
        );
        found.push(Finding::warning(codes::NO_ALARM, &statement.span, message));
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
        ConvertError::WrongUnit { .. } | ConvertError::MissingUnit { .. } if word == SettingWord::Idle.word() => {
            codes::IDLE_UNIT
        }
        _ => codes::VALUE_KIND,
    };
    let board = &sheet.board;
    let message = match error {
        ConvertError::OutOfRange { word, value, least, most } => {
            format!("{value} is outside of what {board} takes for `{word}`, {least} to {most}: it would refuse it")
        }
        ConvertError::WrongUnit { word, found, .. } => {
            format!("{board} does not count `{word}` in {found}: it could not be told this value")
        }
        _ => format!("{error}: {board} would refuse it"),
    };
    let mut finding = Finding::error(code, place, message);
    if let ConvertError::UnknownWord { nearest: Some(near), .. } = error {
        finding = finding.replace(format!("write `{near}`"), place, near.as_str());
    }
    match error.hint() {
        Some(hint) if finding.fixes.is_empty() => finding.hint(hint),
        _ => finding,
    }
}
