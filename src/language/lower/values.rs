//! Values: a quantity or the name of a parameter, judged by the type that its place asks for.
//!
//! Must not be here: which statement has which value.

use super::Lower;
use crate::language::codes;
use crate::language::finding::{Finding, Fix};
use crate::language::givens::Looked;
use crate::language::grammar::Rule;
use crate::language::quantity::QuantityError;
use crate::language::recipe::{Idle, Part};
use crate::language::span::Span;
use crate::language::units::{Angle, Frequency, Pulse, Quantity, Unit, Voltage};
use pest::iterators::Pair;
use std::time::Duration;

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
            Rule::any_value | Rule::setting_value => Self::Any,
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
            Self::Count | Self::Any => &[],
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
        .fix(Fix { title: "take the unit away".into(), span, replacement: quantity.number.to_string() }),
        QuantityError::WrongUnit { .. } if quantity.unit.is_none() => {
            let message = format!("`{quantity}` has no unit; {} stands here, in {allowed}", kind.name());
            let finding = Finding::error(codes::MISSING_UNIT, span.clone(), message);
            units.iter().fold(finding, |finding, unit| finding.fix(fix(*unit)))
        }
        QuantityError::WrongUnit { .. } => {
            let message = format!("`{quantity}` does not fit here; {} stands here, in {allowed}", kind.name());
            Finding::error(codes::WRONG_UNIT, span, message)
        }
        _ if kind == QuantityKind::Count => {
            let message = format!("`{quantity}` cannot be a count or position: those are whole numbers from 0 up");
            Finding::error(codes::BAD_NUMBER, span, message)
        }
        other => {
            let message = format!("`{quantity}` cannot be {}: {other}", kind.name());
            Finding::error(codes::BAD_NUMBER, span, message)
        }
    }
}

/// Reads a quantity as written.
pub(crate) fn written(pair: &Pair<'_, Rule>, span: Span) -> Result<Quantity, Box<Finding>> {
    pair.as_str().parse().map_err(|error| {
        let message = format!("`{}`: {error}", pair.as_str().trim_end());
        Box::new(Finding::error(codes::BAD_NUMBER, span, message))
    })
}

impl<'a> Lower<'_, 'a> {
    /// A value's quantity; `None` if it is bad or waits for a parameter.
    fn quantity(&mut self, pair: &Pair<'a, Rule>) -> Option<Quantity> {
        let inner = pair.clone().into_inner().next()?;
        let place = self.place(pair);
        if inner.as_rule() == Rule::quantity {
            return match written(&inner, place) {
                Ok(quantity) => Some(quantity),
                Err(finding) => {
                    self.fail(*finding);
                    None
                }
            };
        }
        match self.table.look(inner.as_str(), self.index) {
            Looked::Value(quantity) => Some(quantity),
            Looked::Waiting => {
                self.waiting.push(inner.as_str().to_owned());
                None
            }
            Looked::Reported => {
                self.failed = true;
                None
            }
            Looked::Unknown => {
                let finding = self.table.unknown(inner.as_str(), &place);
                self.fail(finding);
                None
            }
        }
    }

    fn typed<T>(
        &mut self,
        kind: QuantityKind,
        part: Part,
        pair: &Pair<'a, Rule>,
        convert: impl FnOnce(Quantity) -> Result<T, QuantityError>,
    ) -> Option<T> {
        self.part(part, pair);
        let quantity = self.quantity(pair)?;
        match convert(quantity) {
            Ok(value) => Some(value),
            Err(error) => {
                let mut finding = misfit(kind, quantity, self.place(pair), &error);
                if let Some(declared) = pair.clone().into_inner().next().and_then(|n| self.table.declared(n.as_str())) {
                    finding = finding.also(declared, "the parameter");
                    finding.fixes.clear();
                }
                self.fail(finding);
                None
            }
        }
    }

    pub(super) fn pulse(&mut self, part: Part, pair: &Pair<'a, Rule>) -> Option<Pulse> {
        self.typed(QuantityKind::Pulse, part, pair, Quantity::pulse)
    }

    #[expect(clippy::needless_pass_by_value, reason = "reads better with a pair just taken out of a tree")]
    pub(super) fn duration(&mut self, part: Part, pair: Pair<'a, Rule>) -> Option<Duration> {
        self.typed(QuantityKind::Duration, part, &pair, Quantity::duration)
    }

    #[expect(clippy::needless_pass_by_value, reason = "reads better with a pair just taken out of a tree")]
    pub(super) fn angle(&mut self, part: Part, pair: Pair<'a, Rule>) -> Option<Angle> {
        self.typed(QuantityKind::Angle, part, &pair, Quantity::angle)
    }

    pub(super) fn frequency(&mut self, part: Part, pair: &Pair<'a, Rule>) -> Option<Frequency> {
        self.typed(QuantityKind::Frequency, part, pair, Quantity::frequency)
    }

    pub(super) fn cell_voltage(&mut self, part: Part, pair: &Pair<'a, Rule>) -> Option<Voltage> {
        self.typed(QuantityKind::CellVoltage, part, pair, Quantity::voltage_per_cell)
    }

    pub(super) fn count(&mut self, part: Part, pair: &Pair<'a, Rule>) -> Option<u32> {
        self.typed(QuantityKind::Count, part, pair, Quantity::count)
    }

    pub(super) fn idle_value(&mut self, pair: &Pair<'a, Rule>) -> Option<Idle> {
        self.typed(QuantityKind::Idle, Part::Value, pair, |quantity| match quantity.unit {
            Some(Unit::Percent) => quantity.percent().map(Idle::Percent),
            _ => quantity.pulse().map(Idle::Pulse),
        })
    }

    /// A quantity of any kind.
    pub(super) fn any(&mut self, pair: &Pair<'a, Rule>) -> Option<Quantity> {
        self.quantity(pair)
    }
}
