//! What a place in a statement asks for, and why a value does not fit there.
//!
//! Must not be here: which statement has which place.

use crate::language::codes;
use crate::language::finding::{Finding, Fix};
use crate::language::grammar::Rule;
use crate::language::quantity::QuantityError;
use crate::language::span::Span;
use crate::language::tree::Pair;
use crate::language::units::{Quantity, Unit};

/// What a place asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum QuantityKind {
    Pulse,
    Duration,
    Frequency,
    Angle,
    CellVoltage,
    Count,
    Idle,
    /// The name of a switch.
    Switch,
    /// A word that may be a parameter's: a protocol, a motor signal.
    Word,
    Any,
}

impl QuantityKind {
    /// The kind of a value's rule.
    pub fn of(rule: Rule) -> Option<Self> {
        Some(match rule {
            Rule::pulse => Self::Pulse,
            Rule::duration => Self::Duration,
            Rule::frequency => Self::Frequency,
            Rule::angle => Self::Angle,
            Rule::cell_voltage => Self::CellVoltage,
            Rule::count | Rule::position => Self::Count,
            Rule::idle_value => Self::Idle,
            Rule::setting_value => Self::Any,
            Rule::switch_name => Self::Switch,
            Rule::protocol | Rule::motor_signal => Self::Word,
            _ => return None,
        })
    }

    /// What a person calls it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Pulse => "a pulse width",
            Self::Duration => "a time",
            Self::Frequency => "a rate",
            Self::Angle => "an angle",
            Self::CellVoltage => "a voltage for each cell",
            Self::Count => "a count or position",
            Self::Idle => "a pulse width or a share",
            Self::Switch => "a switch",
            Self::Word => "a word",
            Self::Any => "a value",
        }
    }

    /// Units that it may have.
    pub fn units(self) -> &'static [Unit] {
        match self {
            Self::Pulse => &[Unit::Us, Unit::Ms],
            Self::Duration => &[Unit::Us, Unit::Ms, Unit::S, Unit::Min],
            Self::Frequency => &[Unit::Hz, Unit::KHz],
            Self::Angle => &[Unit::Deg],
            Self::CellVoltage => &[Unit::VPerCell, Unit::MilliVPerCell],
            Self::Idle => &[Unit::Us, Unit::Ms, Unit::Percent],
            Self::Count | Self::Switch | Self::Word | Self::Any => &[],
        }
    }
}

/// Whether a rule stands for a value.
pub(crate) fn is_value(rule: Rule) -> bool {
    QuantityKind::of(rule).is_some()
}

/// Says why a quantity does not fit.
pub(crate) fn misfit(kind: QuantityKind, quantity: Quantity, span: Span, error: &QuantityError) -> Finding {
    let units = kind.units();
    let allowed = units.iter().map(|unit| format!("`{}`", unit.word())).collect::<Vec<_>>().join(", ");
    let fix = |unit: Unit| Fix {
        title: format!("write `{} {}`", quantity.number, unit.word()),
        span: span.clone(),
        replacement: format!("{} {}", quantity.number, unit.word()),
    };
    match error {
        QuantityError::WrongUnit { .. } if units.is_empty() => Finding::error(
            codes::WRONG_UNIT,
            span.clone(),
            format!("`{quantity}` has a unit, but {} has none", kind.name()),
        )
        .hint("write the bare number")
        .replace("take the unit away", span, quantity.number.to_string()),
        QuantityError::WrongUnit { .. } if quantity.unit.is_none() => {
            let message = format!("`{quantity}` has no unit; {} stands here, in {allowed}", kind.name());
            let finding = Finding::error(codes::MISSING_UNIT, span.clone(), message);
            let likely = likely(kind, quantity);
            let others = units.iter().copied().filter(|unit| Some(*unit) != likely);
            likely.into_iter().chain(others).fold(finding, |finding, unit| finding.fix(fix(unit)))
        }
        QuantityError::WrongUnit { .. } => {
            let message = format!("`{quantity}` does not fit here; {} stands here, in {allowed}", kind.name());
            let finding = Finding::error(codes::WRONG_UNIT, span.clone(), message);
            let per_cell = quantity.unit.filter(|_| kind == QuantityKind::CellVoltage).and_then(Unit::per_cell);
            per_cell.into_iter().fold(finding, |finding, unit| finding.fix(fix(unit)))
        }
        _ if kind == QuantityKind::Count => {
            let message = format!("`{quantity}` cannot be a count or position: those are whole numbers from 0 up");
            Finding::error(codes::BAD_NUMBER, span, message)
        }
        other => {
            let message = format!("`{quantity}` cannot be {}: {other}", kind.name());
            let finding = Finding::error(codes::BAD_NUMBER, span.clone(), message);
            let below = |most: i64| quantity.unit.is_none() && quantity.number.millionths < most * 1_000_000;
            match kind {
                // Milliseconds, or a point between thousands and hundreds: the same either way.
                QuantityKind::Idle | QuantityKind::Pulse if below(3) => finding.fix(fix(Unit::Ms)),
                QuantityKind::Idle if below(100) => finding.fix(fix(Unit::Percent)),
                _ => finding,
            }
        }
    }
}

/// The unit that a bare number most likely means: few seconds or kilohertz, many milliseconds or hertz.
pub(crate) fn likely(kind: QuantityKind, quantity: Quantity) -> Option<Unit> {
    let below = |most: i64| quantity.number.millionths < most * 1_000_000;
    Some(match kind {
        QuantityKind::Duration if below(20) => Unit::S,
        QuantityKind::Duration => Unit::Ms,
        QuantityKind::Frequency if below(50) => Unit::KHz,
        QuantityKind::CellVoltage if !below(100) => Unit::MilliVPerCell,
        kind => *kind.units().first()?,
    })
}

/// Reads a quantity as written.
pub(crate) fn written(pair: Pair<'_>, span: Span) -> Result<Quantity, Box<Finding>> {
    pair.as_str().parse().map_err(|error| {
        let message = format!("`{}`: {error}", pair.as_str().trim_end());
        Box::new(Finding::error(codes::BAD_NUMBER, span, message))
    })
}
