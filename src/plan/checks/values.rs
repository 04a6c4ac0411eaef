//! Values against the sheet: does the board have the setting, and does it take the value?

use crate::board::convert::{ConvertError, encode, encode_idle, encode_set};
use crate::board::sheet::{Entry, Sheet};
use crate::board::value::Number;
use crate::board::vocabulary;
use crate::language::checks::codes;
use crate::language::finding::Finding;
use crate::language::recipe::{Idle, Part, Recipe, Setting, Statement, StatementKind};
use crate::language::sets::{Sets, sets};
use crate::language::setting_word::SettingWord;
use crate::language::span::Span;
use crate::language::units::Pulse;

type Encode<'v> = Box<dyn Fn(&Entry) -> Result<Number, ConvertError> + 'v>;

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
            found.push(refused(&error, word, statement.part(part), sheet));
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
        value: Some(Box::new(move |entry| encode_idle(entry, Idle::Pulse(pulse)))),
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
