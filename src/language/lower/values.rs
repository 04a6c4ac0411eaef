//! Values: a quantity or the name of a parameter, judged by the type that its place asks for.
//!
//! Must not be here: which statement has which value.

use super::Lower;
use crate::language::givens::Looked;
use crate::language::grammar::Rule;
use crate::language::quantity::QuantityError;
use crate::language::quantity_kind::{QuantityKind, misfit, written};
use crate::language::recipe::{Idle, Part};
use crate::language::units::{Angle, Frequency, Pulse, Quantity, Unit, Voltage};
use pest::iterators::Pair;
use std::time::Duration;

impl<'a> Lower<'_, 'a> {
    /// A value's quantity; `None` if it is bad or waits for a parameter.
    fn quantity(&mut self, kind: QuantityKind, pair: &Pair<'a, Rule>) -> Option<Quantity> {
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
                let finding = self.table.unknown(inner.as_str(), kind, &place);
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
        let quantity = self.quantity(kind, pair)?;
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
        self.quantity(QuantityKind::Any, pair)
    }
}
