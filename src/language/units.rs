//! Quantities as types: after reading, no bare number carries a unit in its name.
//!
//! Every type is a whole number of a small unit, so a recipe's decimals stay exact.
//! Must not be here: how a quantity is written in a recipe (see `grammar/`).

use serde::{Deserialize, Serialize};
use std::fmt;

macro_rules! whole {
    ($(#[$doc:meta])* $name:ident($inner:ty)) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub $inner);
    };
}

whole!(
    /// A pulse width in whole microseconds.
    Pulse(i32)
);
whole!(
    /// A frequency in hertz.
    Frequency(u32)
);
whole!(
    /// An angle in thousandths of a degree.
    Angle(i32)
);
whole!(
    /// A voltage in millivolts.
    Voltage(i32)
);
whole!(
    /// A current in milliamperes.
    Current(i32)
);
whole!(
    /// A share in hundredths of one per cent: 550 is 5.5 %.
    Percent(i32)
);
/// Writes `thousandths / scale` as a decimal without trailing zeros.
fn decimal(f: &mut fmt::Formatter<'_>, value: i64, scale: i64, unit: &str) -> fmt::Result {
    let sign = if value < 0 { "-" } else { "" };
    let (whole, part) = ((value.abs()) / scale, (value.abs()) % scale);
    if part == 0 {
        return write!(f, "{sign}{whole} {unit}");
    }
    let width = scale.ilog10() as usize;
    let digits = format!("{part:0width$}");
    write!(f, "{sign}{whole}.{} {unit}", digits.trim_end_matches('0'))
}

impl fmt::Display for Pulse {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} us", self.0)
    }
}
impl fmt::Display for Frequency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0 >= 1000 { decimal(f, i64::from(self.0), 1000, "kHz") } else { write!(f, "{} Hz", self.0) }
    }
}
impl fmt::Display for Angle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        decimal(f, i64::from(self.0), 1000, "deg")
    }
}
impl Unit {
    /// The same of one cell, for a voltage.
    pub(crate) fn per_cell(self) -> Option<Self> {
        match self {
            Self::V => Some(Self::VPerCell),
            Self::MilliV => Some(Self::MilliVPerCell),
            _ => None,
        }
    }
}

impl fmt::Display for Voltage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        decimal(f, i64::from(self.0), 1000, "V")
    }
}
impl fmt::Display for Current {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        decimal(f, i64::from(self.0), 1000, "A")
    }
}
impl fmt::Display for Percent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        decimal(f, i64::from(self.0), 100, "%")
    }
}
/// A time as a recipe writes it: in the largest unit of s, ms and us that keeps it whole.
#[must_use]
pub fn time(time: std::time::Duration) -> String {
    let micros = time.as_micros();
    match (micros % 1_000_000, micros % 1000) {
        (0, _) => format!("{} s", micros / 1_000_000),
        (_, 0) => format!("{} ms", micros / 1000),
        _ => format!("{micros} us"),
    }
}

/// An exact decimal number as a recipe writes it: `millionths / 1_000_000`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Decimal {
    /// The number times one million.
    pub millionths: i64,
}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.millionths < 0 { "-" } else { "" };
        let (whole, part) = (self.millionths.abs() / 1_000_000, self.millionths.abs() % 1_000_000);
        if part == 0 {
            write!(f, "{sign}{whole}")
        } else {
            write!(f, "{sign}{whole}.{}", format!("{part:06}").trim_end_matches('0'))
        }
    }
}

/// The units of the language. `PerCell` is a voltage for each cell of the pack.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[expect(missing_docs, reason = "each variant is the unit that it is named after")]
pub enum Unit {
    Us,
    Ms,
    S,
    Min,
    Hz,
    KHz,
    Deg,
    MilliV,
    V,
    MilliA,
    A,
    Percent,
    Rpm,
    MilliVPerCell,
    VPerCell,
}

/// A number with the unit it was written with; `None` for a bare number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Quantity {
    /// The number, exact.
    pub number: Decimal,
    /// The unit as written.
    pub unit: Option<Unit>,
}
