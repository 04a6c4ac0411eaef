//! Judging one parameter once all its uses are known: one kind of quantity, a unit, a range.
//!
//! Must not be here: where a value comes from (see the module above).

use super::Entry;
use crate::language::codes;
use crate::language::finding::{Finding, Severity};
use crate::language::quantity_kind::QuantityKind;
use crate::language::units::{Quantity, Unit};

impl Entry {
    fn default(&self) -> Option<Quantity> {
        self.default.as_ref().map(|(quantity, _)| *quantity)
    }

    /// The kind that it is used as: an idle counts as pulse width or share by the value's unit.
    fn kind(&self, kind: QuantityKind) -> QuantityKind {
        let share = self.given.value.or(self.default()).is_some_and(|value| value.unit == Some(Unit::Percent));
        if kind == QuantityKind::Idle && !share { QuantityKind::Pulse } else { kind }
    }

    /// Judges uses, value and range, and gives bare numbers their unit.
    pub(super) fn settle(&mut self, findings: &mut Vec<Finding>) {
        let name = self.given.name.clone();
        let mut kinds = self.uses.iter().filter(|(kind, _)| *kind != QuantityKind::Any);
        let first = kinds.next().cloned();
        if let Some((first, first_at)) = &first {
            let first = self.kind(*first);
            if let Some((other, at)) = kinds.find(|(kind, _)| self.kind(*kind) != first) {
                let other = self.kind(*other);
                findings.push(
                    Finding::error(
                        codes::TWO_DIMENSIONS,
                        at.clone(),
                        format!("`{}` is {} here, but {} before", name.value, other.name(), first.name()),
                    )
                    .also(first_at.clone(), format!("used as {}", first.name()))
                    .also(name.span.clone(), "declared here")
                    .hint("declare one parameter for each"),
                );
                self.bad = true;
                return;
            }
        }
        if !self.give_units(first.map(|(kind, _)| self.kind(kind)), findings) {
            return;
        }
        self.judge_range(findings);
        if self.given.value.is_none() {
            let message = format!("`{}` has no value yet; what depends on it is planned when it has one", name.value);
            findings.push(
                Finding::new(Severity::Hint, codes::WITHOUT_VALUE, name.span, message)
                    .hint(format!("give it one: `--with {}=…`", name.value)),
            );
        }
    }

    /// Gives bare numbers their unit: the default's or the range's, else that of the uses. False on an error.
    fn give_units(&mut self, kind: Option<QuantityKind>, findings: &mut Vec<Finding>) -> bool {
        let range = self.given.range.map(|(least, most)| [least, most]);
        let written = self.default().into_iter().chain(range.into_iter().flatten()).find_map(|q| q.unit);
        let bare = self.given.value.is_some_and(|value| value.unit.is_none())
            || self.default().is_some_and(|default| default.unit.is_none())
            || range.is_some_and(|bounds| bounds.iter().any(|bound| bound.unit.is_none()));
        if !bare {
            return true;
        }
        let unit = match (written, kind) {
            (Some(unit), _) => Some(unit),
            (None, None | Some(QuantityKind::Count | QuantityKind::Any)) => None,
            (None, Some(QuantityKind::Pulse | QuantityKind::Idle)) => Some(Unit::Us),
            (None, Some(QuantityKind::Angle)) => Some(Unit::Deg),
            (None, Some(kind)) => {
                let units: Vec<_> = kind.units().iter().map(|unit| format!("`{}`", unit.word())).collect();
                let message = format!(
                    "`{}` is used as {}, and a bare number could be in any of {}",
                    self.given.name.value,
                    kind.name(),
                    units.join(", ")
                );
                findings.push(Finding::error(codes::NEEDS_UNIT, self.value_at.clone(), message).hint("write the unit"));
                self.bad = true;
                return false;
            }
        };
        let fill = |quantity: Quantity| Quantity { unit: quantity.unit.or(unit), ..quantity };
        self.given.value = self.given.value.map(fill);
        self.given.range = self.given.range.map(|(least, most)| (fill(least), fill(most)));
        self.default = self.default.take().map(|(quantity, at)| (fill(quantity), at));
        true
    }

    fn judge_range(&self, findings: &mut Vec<Finding>) {
        let Some((least, most)) = self.given.range else { return };
        let name = &self.given.name;
        let mismatch = |message: String| Finding::error(codes::RANGE_MISMATCH, name.span.clone(), message);
        let ((family, from), (other, to)) = (least.base(), most.base());
        if family != other {
            findings.push(mismatch(format!("the range from {least} to {most} mixes two kinds of quantity")));
            return;
        }
        if from > to {
            findings.push(mismatch(format!("the range from {least} to {most} is upside down")));
            return;
        }
        let value = self.given.value.map(|value| (value, self.value_at.clone()));
        let default = self.default.clone().filter(|default| Some(default) != value.as_ref());
        for (value, at) in value.into_iter().chain(default) {
            match value.base() {
                (kind, number) if kind == family => {
                    if number < from || number > to {
                        let message = format!("`{}` is {value}, outside its range from {least} to {most}", name.value);
                        let mut finding = Finding::error(codes::OUT_OF_RANGE, &at, message);
                        if at != name.span {
                            finding = finding.also(&name.span, "declared here");
                        }
                        findings.push(finding);
                    }
                }
                _ => findings.push(mismatch(format!("{value} does not fit the range from {least} to {most}"))),
            }
        }
    }
}
