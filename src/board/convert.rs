//! Recipe values to board numbers and back, exactly, by a sheet's entry.
//!
//! Whole settings are counted in exact decimals: a value that does not come out whole is refused,
//! never rounded. Must not be here: which statement sets what, and whether a value is wise.

mod error;
mod idle_scale;
mod typed;

pub use error::ConvertError;
pub use idle_scale::IdleScale;
pub use typed::{Measured, PerCell, amount, encode_idle, encode_nearest, encode_set, encode_typed, idle_pulse};

use super::sheet::{Form, Measure, SettingEntry};
use super::value::Number;
use super::vocabulary::{self, ValueKind};
use crate::language::recipe::Value;
use crate::language::units::{Decimal, Quantity, Unit};
use crate::measure::nearest::nearest;

/// Whether a value for this measure may be written in a unit: one of the same kind that the word knows.
fn fits(word: &str, measure: Measure, unit: Unit) -> bool {
    let same = measure.unit.is_some_and(|own| own.base().0 == unit.base().0);
    same && vocabulary::word(word).is_none_or(|word| word.kinds.iter().any(|kind| kind.units().contains(&unit)))
}

/// Units in which a value for this measure may be written.
fn allowed(word: &str, measure: Measure) -> Vec<&'static str> {
    Unit::SPELLINGS.iter().filter(|(unit, _)| fits(word, measure, *unit)).map(|(_, all)| all[0]).collect()
}

/// The value of a bare number or quantity as a fraction of the board's steps.
fn steps(word: &str, measure: Measure, value: &Value) -> Result<(i128, i128), ConvertError> {
    let own = measure.unit.map_or(1, |unit| unit.base().1);
    let step = i128::from(measure.step.millionths) * own;
    let (number, unit) = match value {
        Value::Number(number) => (*number, None),
        Value::Quantity(Quantity { number, unit }) => (*number, *unit),
        Value::Word(found) => {
            return Err(ConvertError::NotANumber { word: word.to_owned(), found: found.clone() });
        }
    };
    let number = i128::from(number.millionths);
    match (unit, measure.unit) {
        (Some(unit), _) if fits(word, measure, unit) => Ok((number * unit.base().1, step)),
        (Some(unit), _) => {
            Err(ConvertError::WrongUnit { word: word.to_owned(), found: unit.word(), allowed: allowed(word, measure) })
        }
        (None, None) => Ok((number, step)),
        (None, Some(own)) => match vocabulary::word(word) {
            // In quotes a bare number is the board's own.
            None => Ok((number, 1_000_000)),
            // A bare number is a pulse width in microseconds.
            Some(known) if known.kinds.contains(&ValueKind::Pulse) && own.base().0 == Unit::Us => Ok((number, step)),
            Some(_) => Err(ConvertError::MissingUnit { word: word.to_owned(), allowed: allowed(word, measure) }),
        },
    }
}

/// What 32 bits hold, signed or not.
const WHOLE: std::ops::RangeInclusive<i128> = i32::MIN as i128..=u32::MAX as i128;

/// The board's number for a value of a recipe.
///
/// `word` is the vocabulary's word, or the board's own name for a setting in quotes, whose bare
/// numbers are the board's own.
///
/// # Errors
/// A word or unit that the setting does not have, a value out of its range or off its list, or one
/// that the board's steps cannot express.
pub fn encode(word: &str, entry: &SettingEntry, value: &Value) -> Result<Number, ConvertError> {
    let shown = || written(value);
    let word = word.to_owned();
    match &entry.form {
        Form::Words(words) => {
            let known: Vec<String> = words.keys().cloned().collect();
            let Value::Word(found) = value else {
                return Err(ConvertError::NotAWord { word, found: shown(), known });
            };
            let number = words.get(found).copied().map(Number::Whole);
            // A word of the language that this board lacks is no slip for another one.
            let meant =
                vocabulary::word(&word).and_then(|word| word.closed).is_some_and(|all| all.contains(&found.as_str()));
            number.ok_or_else(|| ConvertError::UnknownWord {
                word,
                found: found.clone(),
                nearest: nearest(found, known.iter().map(String::as_str)).filter(|_| !meant).map(str::to_owned),
                known,
            })
        }
        Form::Whole { unit, only } => {
            let measure = Measure::read(unit).map_err(|_| ConvertError::BadSheet { word: word.clone() })?;
            let (count, of) = steps(&word, measure, value)?;
            if count % of != 0 {
                let step = shown_in(measure, 1);
                return Err(ConvertError::BetweenSteps { word, value: shown(), step });
            }
            let number = count / of;
            if !WHOLE.contains(&number) {
                return Err(ConvertError::TooLarge { word, value: shown() });
            }
            let whole =
                i64::try_from(number).map_err(|_| ConvertError::TooLarge { word: word.clone(), value: shown() })?;
            if !only.is_empty() && !only.contains(&whole) {
                let only = only.iter().map(|number| show(entry, Number::Whole(*number))).collect();
                return Err(ConvertError::NotListed { word, value: shown(), only });
            }
            in_range(word, entry, Number::Whole(whole), value)
        }
        Form::Real { unit } => {
            let measure = Measure::read(unit).map_err(|_| ConvertError::BadSheet { word: word.clone() })?;
            let (count, of) = steps(&word, measure, value)?;
            #[expect(clippy::cast_precision_loss, reason = "the board holds 32-bit reals")]
            let real = count as f64 / of as f64;
            if real.abs() > f64::from(f32::MAX) {
                return Err(ConvertError::TooLarge { word, value: shown() });
            }
            in_range(word, entry, Number::Real(real), value)
        }
    }
}

fn in_range(word: String, entry: &SettingEntry, number: Number, value: &Value) -> Result<Number, ConvertError> {
    let Some((least, most)) = entry.range else { return Ok(number) };
    if (least..=most).contains(&number.real()) {
        return Ok(number);
    }
    let end = |end: f64| show(entry, Number::Real(end));
    Err(ConvertError::OutOfRange { word, value: written(value), least: end(least), most: end(most) })
}

/// The number for a setting that no sheet lists: of the type that the board's present value has.
///
/// # Errors
/// A word or a unit, decimals where the board holds whole numbers, or more than 32 bits hold.
pub fn encode_unlisted(name: &str, value: &Value, now: Number) -> Result<Number, ConvertError> {
    let word = name.to_owned();
    let number = match value {
        Value::Number(number) | Value::Quantity(Quantity { number, unit: None }) => *number,
        Value::Quantity(Quantity { unit: Some(unit), .. }) => {
            return Err(ConvertError::WrongUnit { word, found: unit.word(), allowed: Vec::new() });
        }
        Value::Word(found) => return Err(ConvertError::NotANumber { word, found: found.clone() }),
    };
    as_held(name, number.whole().map_or_else(|| Number::Real(number.to_f64()), Number::Whole), now)
}

/// A number for a setting, of the type that the board's present value has.
///
/// # Errors
/// Decimals where the board holds whole numbers, or more than 32 bits hold.
pub fn as_held(name: &str, number: Number, now: Number) -> Result<Number, ConvertError> {
    let word = name.to_owned();
    #[expect(clippy::cast_possible_truncation, reason = "the board holds 32-bit reals")]
    let finite = |real: f64| (real as f32).is_finite();
    match now {
        Number::Real(_) if finite(number.real()) => Ok(Number::Real(number.real())),
        Number::Whole(_) if finite(number.real()) => match number.whole() {
            Some(whole) if WHOLE.contains(&i128::from(whole)) => Ok(Number::Whole(whole)),
            Some(_) => Err(ConvertError::TooLarge { word, value: number.to_string() }),
            None => Err(ConvertError::BetweenSteps { word, value: number.to_string(), step: "1".to_owned() }),
        },
        _ => Err(ConvertError::TooLarge { word, value: number.to_string() }),
    }
}

/// Whether a recipe could give a setting this number.
///
/// # Errors
/// As for [`encode`].
pub fn judge(word: &str, entry: &SettingEntry, number: Number) -> Result<(), ConvertError> {
    let (name, value) = (word.to_owned(), number.to_string());
    match (decode(entry, number), &entry.form) {
        (Some(value), _) => encode(word, entry, &value).map(|_| ()),
        (None, Form::Words(words)) => {
            Err(ConvertError::NotListed { word: name, value, only: words.keys().cloned().collect() })
        }
        (None, _) => Err(ConvertError::TooLarge { word: name, value }),
    }
}

/// The recipe's value of a board number; `None` where no value of a recipe would give it.
#[must_use]
pub fn decode(entry: &SettingEntry, number: Number) -> Option<Value> {
    let (unit, exact) = match &entry.form {
        Form::Words(words) => {
            let whole = number.whole()?;
            return words.iter().find(|(_, is)| **is == whole).map(|(word, _)| Value::Word(word.clone()));
        }
        Form::Whole { unit, .. } => (unit, i128::from(number.whole()?) * 1_000_000),
        Form::Real { unit } => (unit, i128::from(decimal_of(number)?.millionths)),
    };
    let measure = Measure::read(unit).ok()?;
    let millionths = exact.checked_mul(i128::from(measure.step.millionths))? / 1_000_000;
    let number = Decimal { millionths: i64::try_from(millionths).ok()? };
    Some(match measure.unit {
        None => Value::Number(number),
        unit => Value::Quantity(Quantity { number, unit }),
    })
}

/// A board number as a recipe would write it: `1120 us`, `spin`, `4 kHz`. A number that no value
/// of a recipe would give is shown as it is.
#[must_use]
pub fn show(entry: &SettingEntry, number: Number) -> String {
    decode(entry, number).map_or_else(|| number.to_string(), |value| written(&value))
}

/// A value as a recipe would write it; thousands of a small unit in the large one.
#[must_use]
pub fn written(value: &Value) -> String {
    match value {
        Value::Number(number) => number.to_string(),
        Value::Word(word) => word.clone(),
        Value::Quantity(quantity) => {
            let Quantity { number, unit } = *quantity;
            let large = match unit {
                Some(Unit::Hz) if number.millionths.abs() >= 1_000_000_000 => Some(Unit::KHz),
                Some(Unit::MilliV) => Some(Unit::V),
                Some(Unit::MilliVPerCell) => Some(Unit::VPerCell),
                Some(Unit::MilliA) => Some(Unit::A),
                _ => None,
            };
            match large {
                Some(_) if number.millionths % 1000 == 0 => {
                    Quantity { number: Decimal { millionths: number.millionths / 1000 }, unit: large }.to_string()
                }
                _ => quantity.to_string(),
            }
        }
    }
}

/// So many steps of a measure, written out.
fn shown_in(measure: Measure, count: i64) -> String {
    let number = Decimal { millionths: measure.step.millionths.saturating_mul(count) };
    Quantity { number, unit: measure.unit }.to_string()
}

/// A number as the shortest decimal that the board's 32-bit real stands for, to six places.
fn decimal_of(number: Number) -> Option<Decimal> {
    #[expect(clippy::cast_possible_truncation, reason = "the board holds 32-bit reals")]
    let real = number.real() as f32;
    real.to_string().parse().or_else(|_| format!("{real:.6}").parse()).ok()
}
