//! The idles that a board can hold: pulse widths, in steps of its own.
//!
//! Promises: a pulse of the grid and its number are one to one. Must not be here: whether a pulse is wise.

use super::typed::{BOTTOM, ONE_PERCENT};
use crate::board::sheet::{Form, Measure, SettingEntry};
use crate::board::value::Number;
use crate::language::units::{Pulse, Unit};

/// Millionths of a microsecond in one.
const US: i64 = 1_000_000;

/// How a board counts idle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct IdleScale {
    /// The pulse of its number 0, us.
    base: i32,
    /// One step of its number, millionths of a microsecond.
    step: i64,
    real: bool,
}

impl IdleScale {
    /// As a sheet says; `None` where its steps and whole microseconds meet in no way.
    #[must_use]
    pub fn of(entry: &SettingEntry) -> Option<Self> {
        let (unit, real) = match &entry.form {
            Form::Whole { unit, only } if only.is_empty() => (unit, false),
            Form::Real { unit } => (unit, true),
            Form::Whole { .. } | Form::Words(_) => return None,
        };
        let measure = Measure::read(unit).ok()?;
        let (base, factor) = match measure.unit? {
            Unit::Us => (0, 1),
            Unit::Ms => (0, 1000),
            Unit::Percent => (BOTTOM, i64::from(ONE_PERCENT)),
            _ => return None,
        };
        let step = measure.step.millionths.checked_mul(factor).filter(|step| *step > 0)?;
        (real || step % US == 0 || US % step == 0).then_some(Self { base, step, real })
    }

    /// From one pulse that it can hold to the next, where that is more than a microsecond.
    #[must_use]
    pub fn coarse(self) -> Option<Pulse> {
        let grid = self.grid();
        (grid > 1).then_some(Pulse(grid))
    }

    fn grid(self) -> i32 {
        if self.real { 1 } else { i32::try_from(self.step / US).unwrap_or(i32::MAX).max(1) }
    }

    /// The pulse itself if the board can hold it, else the next above.
    #[must_use]
    pub fn up(self, pulse: Pulse) -> Pulse {
        let (grid, above) = (self.grid(), pulse.0 - self.base);
        Pulse(self.base + above.div_euclid(grid) * grid + if above.rem_euclid(grid) == 0 { 0 } else { grid })
    }

    /// The pulse itself if the board can hold it, else the next below.
    #[must_use]
    pub fn down(self, pulse: Pulse) -> Pulse {
        Pulse(pulse.0 - (pulse.0 - self.base).rem_euclid(self.grid()))
    }

    /// So much more, as the board can hold it.
    #[must_use]
    pub fn more(self, by: Pulse) -> Pulse {
        let grid = self.grid();
        Pulse(by.0.div_euclid(grid) * grid + if by.0.rem_euclid(grid) == 0 { 0 } else { grid })
    }

    /// The number of a pulse that the board can hold.
    #[must_use]
    pub fn number(self, pulse: Pulse) -> Number {
        let millionths = i64::from(pulse.0 - self.base) * US;
        if self.real {
            return Number::Real(Number::Whole(millionths).real() / Number::Whole(self.step).real());
        }
        Number::Whole(millionths / self.step)
    }

    /// The pulse of a number, in whole microseconds from below.
    #[must_use]
    pub fn pulse(self, number: Number) -> Option<Pulse> {
        let above = match number {
            Number::Whole(number) => number.checked_mul(self.step)?.div_euclid(US),
            #[expect(clippy::cast_possible_truncation, reason = "a float-to-int cast saturates")]
            Number::Real(number) => {
                (number * Number::Whole(self.step).real() / Number::Whole(US).real()).round() as i64
            }
        };
        Some(Pulse(self.base.checked_add(i32::try_from(above).ok()?)?))
    }
}
