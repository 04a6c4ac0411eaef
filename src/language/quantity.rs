//! Reading numbers and units, and turning a quantity into the type that a place asks for.
//!
//! Shared by the recipe reader and the strict TOML documents, so both write quantities alike.
//! Must not be here: which unit a statement allows (see `lower`).

use super::units::{Angle, Current, Decimal, Frequency, Percent, Pulse, Quantity, Unit, Voltage};
use std::time::Duration;

/// Why a text is no quantity, or a quantity not of the type asked for.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum QuantityError {
    /// No number at the start.
    #[error("a number was expected")]
    NoNumber,
    /// More than six decimals, or too large for any quantity of the language.
    #[error("the number has more digits than a quantity can hold")]
    TooLong,
    /// A unit that the language does not have.
    #[error("`{0}` is no unit")]
    UnknownUnit(String),
    /// A unit of another kind, or none where one is needed.
    #[error("the unit must be one of {allowed}")]
    WrongUnit {
        /// Units that would do, as written.
        allowed: &'static str,
    },
    /// Finer than the type can hold, or outside its range.
    #[error("the value does not come out as a whole number of {0}")]
    NotWhole(&'static str),
}

impl std::str::FromStr for Decimal {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let (negative, digits) = text.strip_prefix('-').map_or((false, text), |rest| (true, rest));
        let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
        let all_digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
        if whole.is_empty() || !all_digits(whole) || !all_digits(part) || (part.is_empty() && digits.contains('.')) {
            return Err(QuantityError::NoNumber);
        }
        if part.len() > 6 || whole.len() > 10 {
            return Err(QuantityError::TooLong);
        }
        let whole: i64 = whole.parse().map_err(|_| QuantityError::TooLong)?;
        let part = part.bytes().chain([b'0'; 6]).take(6).fold(0, |number, digit| number * 10 + i64::from(digit - b'0'));
        let millionths = whole * 1_000_000 + part;
        Ok(Self { millionths: if negative { -millionths } else { millionths } })
    }
}

impl Decimal {
    /// The number itself, where it is whole.
    #[must_use]
    pub fn whole(self) -> Option<i64> {
        (self.millionths % 1_000_000 == 0).then_some(self.millionths / 1_000_000)
    }

    /// The nearest binary number.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "at most 16 decimal digits are kept by the reader")]
    pub fn to_f64(self) -> f64 {
        self.millionths as f64 / 1e6
    }

    /// `self × factor` as a whole number, if it comes out whole.
    fn times(self, factor: i128, small: &'static str) -> Result<i64, QuantityError> {
        let scaled = i128::from(self.millionths) * factor;
        if scaled % 1_000_000 != 0 {
            return Err(QuantityError::NotWhole(small));
        }
        i64::try_from(scaled / 1_000_000).map_err(|_| QuantityError::TooLong)
    }
}

impl Unit {
    /// Every unit with its spellings; the first is the one that is written back.
    pub const SPELLINGS: &'static [(Unit, &'static [&'static str])] = &[
        (Self::Us, &["us", "µs", "μs"]),
        (Self::Ms, &["ms"]),
        (Self::S, &["s"]),
        (Self::Min, &["min"]),
        (Self::Hz, &["Hz"]),
        (Self::KHz, &["kHz"]),
        (Self::Deg, &["deg"]),
        (Self::MilliVPerCell, &["mV per cell"]),
        (Self::VPerCell, &["V per cell"]),
        (Self::MilliV, &["mV"]),
        (Self::V, &["V"]),
        (Self::MilliA, &["mA"]),
        (Self::A, &["A"]),
        (Self::Percent, &["%"]),
        (Self::Rpm, &["rpm"]),
    ];

    /// The smallest unit of its family, and how many of those it is.
    #[must_use]
    pub fn base(self) -> (Self, i128) {
        match self {
            Self::Us => (Self::Us, 1),
            Self::Ms => (Self::Us, 1000),
            Self::S => (Self::Us, 1_000_000),
            Self::Min => (Self::Us, 60_000_000),
            Self::Hz => (Self::Hz, 1),
            Self::KHz => (Self::Hz, 1000),
            Self::MilliV => (Self::MilliV, 1),
            Self::V => (Self::MilliV, 1000),
            Self::MilliVPerCell => (Self::MilliVPerCell, 1),
            Self::VPerCell => (Self::MilliVPerCell, 1000),
            Self::MilliA => (Self::MilliA, 1),
            Self::A => (Self::MilliA, 1000),
            Self::Deg | Self::Percent | Self::Rpm => (self, 1),
        }
    }

    /// The unit of a spelling; inner spaces of `V per cell` must be single.
    #[must_use]
    pub fn of(word: &str) -> Option<Self> {
        Self::SPELLINGS.iter().find(|(_, all)| all.contains(&word)).map(|(unit, _)| *unit)
    }

    /// The spelling that is written back.
    #[must_use]
    pub fn word(self) -> &'static str {
        Self::SPELLINGS.iter().find(|(unit, _)| *unit == self).map_or("", |(_, all)| all[0])
    }
}

impl std::str::FromStr for Quantity {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim();
        let end = text.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-')).unwrap_or(text.len());
        let number = text[..end].parse()?;
        let written = text[end..].trim_start();
        let unit = match Unit::of(written) {
            None if written.is_empty() => None,
            None => {
                let word = written.split_whitespace().collect::<Vec<_>>().join(" ");
                Some(Unit::of(&word).ok_or(QuantityError::UnknownUnit(word))?)
            }
            unit => unit,
        };
        Ok(Self { number, unit })
    }
}

impl std::fmt::Display for Quantity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.unit {
            None => write!(f, "{}", self.number),
            Some(unit) => write!(f, "{} {}", self.number, unit.word()),
        }
    }
}

fn narrow(value: i64) -> Result<i32, QuantityError> {
    i32::try_from(value).map_err(|_| QuantityError::TooLong)
}

impl Quantity {
    /// In so many parts of a base unit, for a unit of its family.
    fn scaled(self, base: Unit, parts: i128, allowed: &'static str, small: &'static str) -> Result<i64, QuantityError> {
        match self.unit.map(Unit::base) {
            Some((family, factor)) if family == base => self.number.times(factor * parts, small),
            _ => Err(QuantityError::WrongUnit { allowed }),
        }
    }

    /// A pulse width; a bare number counts as microseconds.
    ///
    /// # Errors
    /// Another unit, or not whole microseconds.
    pub fn pulse(self) -> Result<Pulse, QuantityError> {
        match self.unit {
            None | Some(Unit::Us) => Ok(Pulse(narrow(self.number.times(1, "microseconds")?)?)),
            Some(Unit::Ms) => Ok(Pulse(narrow(self.number.times(1000, "microseconds")?)?)),
            _ => Err(QuantityError::WrongUnit { allowed: "us, ms" }),
        }
    }

    /// A time.
    ///
    /// # Errors
    /// Another unit or none, negative, or not whole microseconds.
    pub fn duration(self) -> Result<Duration, QuantityError> {
        let micros = self.scaled(Unit::Us, 1, "us, ms, s, min", "microseconds")?;
        u64::try_from(micros)
            .map(Duration::from_micros)
            .map_err(|_| QuantityError::NotWhole("microseconds from zero up"))
    }

    /// A frequency.
    ///
    /// # Errors
    /// Another unit or none, negative, or not whole hertz.
    pub fn frequency(self) -> Result<Frequency, QuantityError> {
        u32::try_from(self.scaled(Unit::Hz, 1, "Hz, kHz", "hertz")?).map(Frequency).map_err(|_| QuantityError::TooLong)
    }

    /// An angle.
    ///
    /// # Errors
    /// Another unit or none, or finer than a thousandth of a degree.
    pub fn angle(self) -> Result<Angle, QuantityError> {
        narrow(self.scaled(Unit::Deg, 1000, "deg", "thousandths of a degree")?).map(Angle)
    }

    /// A voltage of a whole pack or wire.
    ///
    /// # Errors
    /// Another unit or none, or not whole millivolts.
    pub fn voltage(self) -> Result<Voltage, QuantityError> {
        narrow(self.scaled(Unit::MilliV, 1, "V, mV", "millivolts")?).map(Voltage)
    }

    /// A voltage for each cell.
    ///
    /// # Errors
    /// Not written `per cell`, or not whole millivolts.
    pub fn voltage_per_cell(self) -> Result<Voltage, QuantityError> {
        narrow(self.scaled(Unit::MilliVPerCell, 1, "V per cell, mV per cell", "millivolts")?).map(Voltage)
    }

    /// A current.
    ///
    /// # Errors
    /// Another unit or none, or not whole milliamperes.
    pub fn current(self) -> Result<Current, QuantityError> {
        narrow(self.scaled(Unit::MilliA, 1, "A, mA", "milliamperes")?).map(Current)
    }

    /// A share.
    ///
    /// # Errors
    /// Another unit or none, or finer than a hundredth of one per cent.
    pub fn percent(self) -> Result<Percent, QuantityError> {
        narrow(self.scaled(Unit::Percent, 100, "%", "hundredths of one per cent")?).map(Percent)
    }

    /// A count or position: a bare whole number from 0.
    ///
    /// # Errors
    /// A unit, a negative number or decimals.
    pub fn count(self) -> Result<u32, QuantityError> {
        match (self.unit, self.number.whole()) {
            (None, Some(number)) => u32::try_from(number).map_err(|_| QuantityError::NotWhole("ones from zero up")),
            (None, None) => Err(QuantityError::NotWhole("ones")),
            _ => Err(QuantityError::WrongUnit { allowed: "none: a bare number" }),
        }
    }

    /// The number of its family's smallest unit, times a million; the family is that unit.
    #[must_use]
    pub fn base(self) -> (Option<Unit>, i128) {
        let (family, factor) = self.unit.map_or((None, 1), |unit| (Some(unit.base().0), unit.base().1));
        (family, i128::from(self.number.millionths) * factor)
    }
}
