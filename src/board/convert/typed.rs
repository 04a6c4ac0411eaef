//! Board numbers for the language's own types, so that a plan never writes a unit by hand.

use super::{ConvertError, decode, encode};
use crate::board::sheet::{Form, Measure, SettingEntry};
use crate::board::value::Number;
use crate::language::recipe::{Idle, Value};
use crate::language::sets::To;
use crate::language::setting_word::SettingWord;
use crate::language::units::{Angle, Decimal, Frequency, Percent, Pulse, Quantity, Unit, Voltage};
use std::time::Duration;

/// A value of one of the language's types.
pub trait Measured {
    /// The same as a recipe's value.
    fn value(self) -> Value;
}

fn quantity(number: i128, per_unit: i128, unit: Unit) -> Value {
    // Out of 64 bits is out of 32 bits: `encode` refuses both in the same words.
    let millionths = i64::try_from(number * 1_000_000 / per_unit).unwrap_or(i64::MAX);
    Value::Quantity(Quantity { number: Decimal { millionths }, unit: Some(unit) })
}

impl Measured for Pulse {
    fn value(self) -> Value {
        quantity(self.0.into(), 1, Unit::Us)
    }
}
impl Measured for Frequency {
    fn value(self) -> Value {
        quantity(self.0.into(), 1, Unit::Hz)
    }
}
impl Measured for Angle {
    fn value(self) -> Value {
        quantity(self.0.into(), 1000, Unit::Deg)
    }
}
impl Measured for Percent {
    fn value(self) -> Value {
        quantity(self.0.into(), 100, Unit::Percent)
    }
}
impl Measured for Duration {
    /// In whole microseconds; the language knows no finer times.
    fn value(self) -> Value {
        quantity(i128::try_from(self.as_micros()).unwrap_or(i128::from(u64::MAX)), 1, Unit::Us)
    }
}
/// A voltage for each cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PerCell(pub Voltage);

impl Measured for PerCell {
    fn value(self) -> Value {
        quantity(self.0.0.into(), 1, Unit::MilliVPerCell)
    }
}
impl Measured for u32 {
    /// A count, channel or port.
    fn value(self) -> Value {
        Value::Number(Decimal { millionths: i64::from(self) * 1_000_000 })
    }
}
impl Measured for Decimal {
    fn value(self) -> Value {
        Value::Number(self)
    }
}
impl Measured for &str {
    /// A word.
    fn value(self) -> Value {
        Value::Word(self.to_owned())
    }
}

/// The board's number for a value of one of the language's types.
///
/// # Errors
/// As for [`encode`].
pub fn encode_typed(word: &str, entry: &SettingEntry, value: impl Measured) -> Result<Number, ConvertError> {
    encode(word, entry, &value.value())
}

/// A board's number as an amount in its own unit; `None` where it is a word.
#[must_use]
pub fn amount(entry: &SettingEntry, number: Number) -> Option<f64> {
    let (Form::Whole { unit, .. } | Form::Real { unit }) = &entry.form else { return None };
    Some(number.real() * Measure::read(unit).ok()?.step.to_f64())
}

/// Finest that is written of a measured real number, millionths.
const FINEST: f64 = 100.0;

/// The board's number nearest to a measured amount in its own unit.
///
/// # Errors
/// Out of what the board takes.
pub fn encode_nearest(word: SettingWord, entry: &SettingEntry, amount: f64) -> Result<Number, ConvertError> {
    let word = word.word();
    let bad = || ConvertError::BadSheet { word: word.to_owned() };
    let (step, unit) = match &entry.form {
        Form::Whole { unit, .. } => {
            let measure = Measure::read(unit).map_err(|_| bad())?;
            (measure.step.to_f64() * 1e6, measure.unit)
        }
        Form::Real { unit } => (FINEST, Measure::read(unit).map_err(|_| bad())?.unit),
        Form::Words(_) => return Err(bad()),
    };
    #[expect(
        clippy::cast_possible_truncation,
        reason = "a float-to-int cast saturates, and what is too large is refused"
    )]
    let number = Decimal { millionths: ((amount * 1e6 / step).round() * step) as i64 };
    encode(
        word,
        entry,
        &unit.map_or(Value::Number(number), |unit| Value::Quantity(Quantity { number, unit: Some(unit) })),
    )
}

/// 0 % of the range in which idle is counted, and 1 % of it, in µs: see [`Idle`].
pub(super) const BOTTOM: i32 = 1000;
pub(super) const ONE_PERCENT: i32 = 10;

fn counts_percent(entry: &SettingEntry) -> bool {
    let (Form::Whole { unit, .. } | Form::Real { unit }) = &entry.form else { return false };
    Measure::read(unit).is_ok_and(|measure| measure.unit == Some(Unit::Percent))
}

/// The board's number for an idle. A pulse width is turned into the share that it is where the board
/// counts shares; a share is refused where the board counts pulse widths.
///
/// # Errors
/// As for [`encode`].
pub fn encode_idle(entry: &SettingEntry, idle: Idle) -> Result<Number, ConvertError> {
    match idle {
        Idle::Pulse(pulse) if counts_percent(entry) => {
            let share = i128::from(pulse.0 - BOTTOM);
            encode("idle", entry, &quantity(share, ONE_PERCENT.into(), Unit::Percent))
        }
        Idle::Pulse(pulse) => encode_typed("idle", entry, pulse),
        Idle::Percent(percent) => encode_typed("idle", entry, percent),
    }
}

/// The pulse width of a board's idle, a width or a share, rounded up to whole µs; `None` if it is neither.
#[must_use]
pub fn idle_pulse(entry: &SettingEntry, number: Number) -> Option<Pulse> {
    let Value::Quantity(Quantity { number, unit: Some(unit) }) = decode(entry, number)? else { return None };
    let (bottom, us) = match unit {
        Unit::Percent => (BOTTOM, ONE_PERCENT.into()),
        unit => (0, Some(unit.base()).filter(|(family, _)| *family == Unit::Us)?.1),
    };
    let millionths = i128::from(number.millionths) * us;
    let above = millionths.div_euclid(1_000_000) + i128::from(millionths.rem_euclid(1_000_000) != 0);
    i32::try_from(i128::from(bottom) + above).ok().map(Pulse)
}

/// The board's number for what a statement sets.
///
/// # Errors
/// As for [`encode`].
pub fn encode_set(word: SettingWord, entry: &SettingEntry, to: To<'_>) -> Result<Number, ConvertError> {
    let word = word.word();
    match to {
        To::Word(text) => encode_typed(word, entry, text),
        To::Count(count) => encode_typed(word, entry, count),
        To::Rate(rate) => encode_typed(word, entry, rate),
        To::Turn(angle) => encode_typed(word, entry, angle),
        To::PerCell(volts) => encode_typed(word, entry, PerCell(volts)),
        To::Idle(idle) => encode_idle(entry, idle),
        // In milliseconds where it is whole in them, so that it is told as it was written.
        To::Time(time) if time.subsec_micros().is_multiple_of(1000) => {
            let millis = i128::try_from(time.as_millis()).unwrap_or(i128::from(u64::MAX));
            encode(word, entry, &quantity(millis, 1, Unit::Ms))
        }
        To::Time(time) => encode_typed(word, entry, time),
    }
}
