//! Values: a quantity or the name of a parameter, judged by the type that its place asks for.
//!
//! Must not be here: which statement has which value.

use super::Lower;
use crate::language::ceilings;
use crate::language::finding::Finding;
use crate::language::givens::Looked;
use crate::language::grammar::Rule;
use crate::language::quantity::QuantityError;
use crate::language::quantity_kind::{QuantityKind, likely, misfit, written};
use crate::language::recipe::{GivenValue, Idle, Part, Switch};
use crate::language::tree::Pair;
use crate::language::units::{Angle, Frequency, Pulse, Quantity, Unit, Voltage};
use std::time::Duration;

/// No parameter of the file has the name.
struct Unknown;

impl<'a> Lower<'_, 'a> {
    /// A value's quantity; `None` if it is bad or waits for a parameter.
    fn quantity(&mut self, kind: QuantityKind, pair: Pair<'a>) -> Option<Quantity> {
        let inner = pair.into_inner().next()?;
        let place = self.place(pair);
        if inner.as_rule() == Rule::quantity {
            return match written(inner, place) {
                Ok(quantity) => Some(quantity),
                Err(finding) => {
                    self.fail(*finding);
                    None
                }
            };
        }
        if let Ok(value) = self.given(kind, inner.as_str()) {
            return value?.quantity();
        }
        let finding = self.table.unknown(self.parsed.file, inner.as_str(), kind, &place);
        self.fail(finding);
        None
    }

    /// What stands for a parameter, if it is one; nothing where it waits for a value or is wrong.
    fn given(&mut self, kind: QuantityKind, name: &str) -> Result<Option<GivenValue>, Unknown> {
        match self.table.look(self.parsed.file, name, kind, self.index) {
            Looked::Value(value) => return Ok(Some(value)),
            Looked::Waiting => self.waiting.push(name.to_owned()),
            Looked::Reported => self.failed = true,
            Looked::Unknown => return Err(Unknown),
        }
        Ok(None)
    }

    /// A switch, or what stands for a parameter in its place.
    pub(super) fn switch(&mut self, pair: Pair<'a>) -> Option<Switch> {
        self.part(Part::Switch, pair);
        let switch = match self.given(QuantityKind::Switch, pair.as_str()) {
            Ok(Some(GivenValue::Switch(switch))) => Some(switch),
            Ok(_) => None,
            Err(Unknown) => Some(Switch(pair.as_str().to_owned())),
        };
        self.switch.clone_from(&switch);
        switch
    }

    /// A word, or what stands for a parameter in its place; a quantity is none.
    pub(super) fn word(&mut self, kind: QuantityKind, pair: Pair<'a>) -> Option<String> {
        match self.given(kind, pair.as_str()) {
            Ok(value) => value.map(|value| value.to_string()),
            Err(Unknown) => Some(pair.as_str().to_owned()),
        }
    }

    fn typed<T>(
        &mut self,
        kind: QuantityKind,
        part: Part,
        pair: Pair<'a>,
        convert: impl FnOnce(Quantity) -> Result<T, QuantityError>,
    ) -> Option<T> {
        self.part(part, pair);
        let quantity = self.quantity(kind, pair)?;
        match convert(quantity) {
            Ok(value) => Some(value),
            Err(error) => {
                let mut finding = misfit(kind, quantity, self.place(pair), &error);
                if kind == QuantityKind::CellVoltage {
                    finding = self.of_one_cell(quantity, finding);
                }
                let name = pair.into_inner().next();
                if let Some(declared) = name.and_then(|name| self.table.declared(self.parsed.file, name.as_str())) {
                    finding = finding.also(declared, "the parameter");
                    finding.fixes.clear();
                }
                self.fail(finding);
                None
            }
        }
    }

    /// What is told of a voltage that no cell can have, but a pack.
    fn of_one_cell(&self, quantity: Quantity, mut finding: Finding) -> Finding {
        if quantity.unit.is_some_and(|unit| unit.per_cell().is_none()) {
            return finding;
        }
        let Ok(volts) = Quantity {
            unit: quantity.unit.and_then(Unit::per_cell).or(likely(QuantityKind::CellVoltage, quantity)),
            ..quantity
        }
        .voltage_per_cell() else {
            return finding;
        };
        if volts <= ceilings::LIHV.full {
            return finding;
        }
        finding.fixes.clear();
        match ceilings::each_cell(volts, self.table.cells) {
            Some(each) => {
                let place = finding.span.clone();
                finding.hint(format!("{volts} is a whole pack's: it is {each} a cell")).replace(
                    format!("write `{each} per cell`"),
                    place,
                    format!("{each} per cell"),
                )
            }
            None => finding.hint("no cell has so much: a pack's voltage is divided by the number of its cells"),
        }
    }

    pub(super) fn pulse(&mut self, part: Part, pair: Pair<'a>) -> Option<Pulse> {
        self.typed(QuantityKind::Pulse, part, pair, Quantity::pulse)
    }

    pub(super) fn duration(&mut self, part: Part, pair: Pair<'a>) -> Option<Duration> {
        self.typed(QuantityKind::Duration, part, pair, Quantity::duration)
    }

    pub(super) fn angle(&mut self, part: Part, pair: Pair<'a>) -> Option<Angle> {
        self.typed(QuantityKind::Angle, part, pair, Quantity::angle)
    }

    pub(super) fn frequency(&mut self, part: Part, pair: Pair<'a>) -> Option<Frequency> {
        self.typed(QuantityKind::Frequency, part, pair, Quantity::frequency)
    }

    pub(super) fn cell_voltage(&mut self, part: Part, pair: Pair<'a>) -> Option<Voltage> {
        self.typed(QuantityKind::CellVoltage, part, pair, Quantity::voltage_per_cell)
    }

    pub(super) fn count(&mut self, part: Part, pair: Pair<'a>) -> Option<u32> {
        self.typed(QuantityKind::Count, part, pair, Quantity::count)
    }

    pub(super) fn idle_value(&mut self, pair: Pair<'a>) -> Option<Idle> {
        self.typed(QuantityKind::Idle, Part::Value, pair, |quantity| match quantity.unit {
            Some(Unit::Percent) => quantity.percent().map(Idle::Percent),
            _ => quantity.pulse().map(Idle::Pulse),
        })
    }

    /// A quantity of any kind.
    pub(super) fn any(&mut self, pair: Pair<'a>) -> Option<Quantity> {
        self.quantity(QuantityKind::Any, pair)
    }
}
