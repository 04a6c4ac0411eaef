//! Judging parameters once all that is said of them is known: the kind of quantity, a unit, a range, a value.
//!
//! What a used file's parameter is used as counts for the one that is handed on to it, so kinds go up from used files;
//! values go down to them. Must not be here: what is written where (see `declare`, `told`).

use super::told::{From, literal};
use super::{Entry, Table};
use crate::language::codes;
use crate::language::finding::{Finding, Severity};
use crate::language::quantity_kind::QuantityKind;
use crate::language::recipe::{GivenKind, GivenValue};
use crate::language::span::{FileId, Span};
use crate::language::units::{Quantity, Unit};
use crate::measure::nearest::nearest;
use std::collections::{BTreeSet, HashMap};

/// What a parameter stands for from outside its file, and where that was written.
struct Outside {
    value: Option<GivenValue>,
    at: Span,
    stands_for: Option<String>,
    bad: bool,
}

impl Table {
    /// Judges values, ranges and uses, and gives bare values their unit. `used_at`: the place in a `use` line that names
    /// each file. What is wrong with `--with` is reported at `title`.
    pub fn settle(
        &mut self,
        with: &[(String, String)],
        used_at: &[Option<Span>],
        title: &Span,
        findings: &mut Vec<Finding>,
    ) {
        let mut by_file: Vec<usize> = (0..self.entries.len()).collect();
        by_file.sort_by_key(|at| self.entries[*at].given.name.span.file);
        for at in by_file.iter().rev().copied() {
            let kind = self.entries[at].first_kind();
            if let (Some(told), Some((kind, _))) = (&self.entries[at].told, kind)
                && let From::Handed(outer) = told.from
            {
                let place = told.value_at.clone();
                self.entries[outer].uses.push((kind, place));
            }
        }
        for at in by_file {
            let outside = self.outside(at, with, title, used_at, findings);
            let entry = &mut self.entries[at];
            if let Some(Outside { value, at, stands_for, bad }) = outside {
                (entry.given.value, entry.value_at, entry.given.stands_for) = (value, at, stands_for);
                entry.bad |= bad;
            } else if let Some((default, place)) = &entry.default {
                (entry.given.value, entry.value_at) = (Some(default.clone()), place.clone());
            }
            entry.settle(findings);
            if let Some((GivenValue::Switch(switch), place)) = &self.entries[at].default {
                let file = place.file;
                if let Some(declared) = self.declared(file, &switch.0) {
                    let message = format!("`{}` is a parameter of this file, and no switch", switch.0);
                    findings.push(
                        Finding::error(codes::OTHER_KIND, place, message)
                            .also(declared, "declared here")
                            .hint("give one of them another name"),
                    );
                }
            }
        }
        self.judge_again(findings);
    }

    /// What stands for a parameter by the word of others; nothing where nobody says.
    fn outside(
        &self,
        at: usize,
        with: &[(String, String)],
        title: &Span,
        used_at: &[Option<Span>],
        findings: &mut Vec<Finding>,
    ) -> Option<Outside> {
        let entry = &self.entries[at];
        let name = &entry.given.name;
        if name.span.file == FileId(0) {
            let (_, text) = with.iter().rev().find(|(with, _)| *with == name.value)?;
            let (value, bad) = match literal(&entry.given.kind, text) {
                Ok(GivenValue::Switch(switch)) if self.has(FileId(0), &switch.0) => {
                    let message = format!("`{}` is a parameter of this file, and no switch", switch.0);
                    findings.push(Finding::error(codes::OTHER_KIND, title, message).also(&name.span, "declared here"));
                    (None, true)
                }
                Ok(value) => (Some(value), false),
                Err(why) => {
                    let message = format!("the value given for `{}` does not fit: {why}", name.value);
                    findings.push(Finding::error(codes::OTHER_KIND, title, message).also(&name.span, "declared here"));
                    (None, true)
                }
            };
            return Some(Outside { value, at: name.span.clone(), stands_for: entry.given.stands_for.clone(), bad });
        }
        let Some(told) = &entry.told else {
            if entry.default.is_none() {
                let message =
                    format!("the used recipe's `{}` has no default, and this line tells it no value", name.value);
                let line = used_at.get(name.span.file.0).cloned().flatten().unwrap_or_default();
                findings.push(
                    Finding::error(codes::UNTOLD, line, message)
                        .also(&name.span, "declared here")
                        .hint(format!("write `with {} …` behind it", name.value)),
                );
                return Some(Outside { value: None, at: name.span.clone(), stands_for: None, bad: true });
            }
            return None;
        };
        let at = told.value_at.clone();
        Some(match &told.from {
            From::Literal(value) => Outside { value: Some(value.clone()), at, stands_for: None, bad: false },
            From::Handed(outer) => {
                let Entry { given, bad, .. } = &self.entries[*outer];
                Outside { value: given.value.clone(), at, stands_for: given.stands_for.clone(), bad: *bad }
            }
            From::Wrong => Outside { value: None, at, stands_for: None, bad: true },
        })
    }

    /// A file that is named again is told what it was told first.
    fn judge_again(&self, findings: &mut Vec<Finding>) {
        // Where nobody says anything, a parameter has its default both times.
        let mut told_first: HashMap<FileId, Vec<usize>> = HashMap::new();
        for (at, entry) in self.entries.iter().enumerate().filter(|(_, entry)| entry.told.is_some()) {
            told_first.entry(entry.given.name.span.file).or_default().push(at);
        }
        for again in &self.again {
            let first = told_first.get(&again.target).into_iter().flatten();
            let said: BTreeSet<usize> = first.chain(again.told.keys()).copied().collect();
            for at in said {
                let entry = &self.entries[at];
                let told = again.told.get(&at);
                let default = entry.default.as_ref().map(|(default, _)| default);
                let (value, stands_for) = match told.map(|told| &told.from) {
                    Some(From::Literal(value)) => (Some(value), None),
                    Some(From::Handed(outer)) => {
                        let given = &self.entries[*outer].given;
                        (given.value.as_ref(), given.stands_for.as_ref())
                    }
                    Some(From::Wrong) => continue,
                    None => (default, None),
                };
                let same = match (value, &entry.given.value) {
                    (Some(one), Some(other)) => alike(one, other),
                    (None, None) => stands_for == entry.given.stands_for.as_ref(),
                    _ => false,
                };
                if same || entry.bad {
                    continue;
                }
                let said =
                    |value: Option<&GivenValue>| value.map_or_else(|| "open".to_owned(), |value| format!("`{value}`"));
                let message = format!(
                    "this file was taken already with `{}` as {}, and is taken once: here it would be {}",
                    entry.given.name.value,
                    said(entry.given.value.as_ref()),
                    said(value)
                );
                let place = told.map_or(&again.line, |told| &told.value_at);
                findings.push(
                    Finding::error(codes::TAKEN_ALREADY, place, message)
                        .also(&entry.value_at, "its value, by this")
                        .hint("tell it the same in both places, or make two files of it"),
                );
            }
        }
    }

    /// Names in `--with` that the named recipe has not. `advice` says how another file's comes to have it.
    pub fn judge_with(
        &self,
        with: &[(String, String)],
        title: &Span,
        advice: impl Fn(&Span) -> Vec<String>,
        findings: &mut Vec<Finding>,
    ) {
        for (name, _) in with.iter().filter(|(name, _)| !self.has(FileId(0), name)) {
            if let Some(entry) = self.entries.iter().find(|entry| entry.given.name.value == *name) {
                let message =
                    format!("a value is given for `{name}`, which is a used recipe's parameter and not this one's");
                let finding =
                    Finding::error(codes::UNKNOWN_WITH, title, message).also(&entry.given.name.span, "declared here");
                findings.push(advice(&entry.given.name.span).into_iter().fold(finding, Finding::hint));
                continue;
            }
            let message = format!("a value is given for `{name}`, and the recipe has no such parameter");
            let finding = Finding::error(codes::UNKNOWN_WITH, title, message);
            let names = self.names_to_compare(FileId(0)).unwrap_or_default();
            findings.push(match (nearest(name, names.iter().copied()), names.as_slice()) {
                (Some(near), _) => finding.hint(format!("did you mean `{near}`?")),
                (None, []) => finding.hint("this recipe has no parameters"),
                (None, all) => finding.hint(format!("its parameters: {}", all.join(", "))),
            });
        }
    }
}

/// Whether two values are one, however they were written.
fn alike(one: &GivenValue, other: &GivenValue) -> bool {
    match (one, other) {
        (GivenValue::Quantity(one), GivenValue::Quantity(other)) => {
            let ((unit, one), (other_unit, other)) = (one.base(), other.base());
            one == other && (unit == other_unit || unit.is_none() || other_unit.is_none())
        }
        (one, other) => one == other,
    }
}

impl Entry {
    fn default(&self) -> Option<Quantity> {
        self.default.as_ref().and_then(|(value, _)| value.quantity())
    }

    fn value(&self) -> Option<Quantity> {
        self.given.value.as_ref().and_then(GivenValue::quantity)
    }

    /// The kind that it is used as: an idle counts as pulse width or share by the value's unit.
    fn kind(&self, kind: QuantityKind) -> QuantityKind {
        let share = self.value().or(self.default()).is_some_and(|value| value.unit == Some(Unit::Percent));
        if kind == QuantityKind::Idle && !share { QuantityKind::Pulse } else { kind }
    }

    /// The first use that says which kind of quantity it is.
    fn first_kind(&self) -> Option<(QuantityKind, Span)> {
        self.uses.iter().find(|(kind, _)| *kind != QuantityKind::Any).cloned()
    }

    /// Judges uses, value and range, and gives bare numbers their unit.
    fn settle(&mut self, findings: &mut Vec<Finding>) {
        if self.bad {
            return;
        }
        let name = self.given.name.clone();
        match &self.given.kind {
            GivenKind::Switch => {}
            GivenKind::Word(words) => {
                let value = self.given.value.as_ref().map(|value| (value.to_string(), self.value_at.clone()));
                let default = self.default.as_ref().map(|(value, at)| (value.to_string(), at.clone()));
                let default = default.filter(|default| Some(default) != value.as_ref());
                for (word, at) in value.into_iter().chain(default).filter(|(word, _)| !words.contains(word)) {
                    let message =
                        format!("`{}` is `{word}`, which is not in its list: {}", name.value, words.join(", "));
                    findings.push(declared_at(Finding::error(codes::OUT_OF_RANGE, &at, message), &at, &name.span));
                    self.bad = true;
                }
            }
            GivenKind::Quantity => self.settle_quantity(findings),
        }
        if self.given.value.is_none() && !self.bad && name.span.file == FileId(0) {
            let message = format!("`{}` has no value yet; what depends on it is planned when it has one", name.value);
            findings.push(
                Finding::new(Severity::Hint, codes::WITHOUT_VALUE, name.span, message)
                    .hint(format!("give it one: `--with {}=…`", name.value)),
            );
        }
    }

    fn settle_quantity(&mut self, findings: &mut Vec<Finding>) {
        let name = self.given.name.clone();
        let numeric =
            |kind: QuantityKind| !matches!(kind, QuantityKind::Any | QuantityKind::Switch | QuantityKind::Word);
        let mut kinds = self.uses.iter().filter(|(kind, _)| numeric(*kind));
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
        // What nothing uses is told as that.
        if self.uses.is_empty() {
            return;
        }
        if self.give_units(first.map(|(kind, _)| self.kind(kind)), findings) {
            self.judge_range(findings);
        }
    }

    /// Gives bare numbers the unit of pulses, where they are pulses. False on an error.
    fn give_units(&mut self, kind: Option<QuantityKind>, findings: &mut Vec<Finding>) -> bool {
        let bare = |quantity: Option<Quantity>| quantity.is_some_and(|quantity| quantity.unit.is_none());
        let range = self.given.range.map(|(least, most)| [least, most]);
        let place = if bare(self.value()) {
            &self.value_at
        } else if let Some((_, at)) = self.default.as_ref().filter(|_| bare(self.default())) {
            at
        } else if range.is_some_and(|bounds| bounds.iter().any(|bound| bound.unit.is_none())) {
            &self.given.name.span
        } else {
            return true;
        };
        let unit = match kind {
            None | Some(QuantityKind::Count | QuantityKind::Any | QuantityKind::Switch | QuantityKind::Word) => None,
            Some(QuantityKind::Pulse | QuantityKind::Idle) => Some(Unit::Us),
            Some(kind) => {
                let units: Vec<_> = kind.units().iter().map(|unit| format!("`{}`", unit.word())).collect();
                let message = format!(
                    "`{}` is used as {}, and a bare number says nothing there: it is written in {}",
                    self.given.name.value,
                    kind.name(),
                    units.join(", ")
                );
                findings.push(Finding::error(codes::NEEDS_UNIT, place.clone(), message).hint("write the unit"));
                self.bad = true;
                return false;
            }
        };
        let fill = |quantity: Quantity| Quantity { unit: quantity.unit.or(unit), ..quantity };
        self.given.value = self.value().map(|value| GivenValue::Quantity(fill(value)));
        self.given.range = self.given.range.map(|(least, most)| (fill(least), fill(most)));
        let default = self.default();
        self.default = self.default.take().zip(default).map(|((_, at), value)| (GivenValue::Quantity(fill(value)), at));
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
        let value = self.value().map(|value| (value, self.value_at.clone()));
        let default = self.default().zip(self.default.as_ref().map(|(_, at)| at.clone()));
        let default = default.filter(|default| Some(default) != value.as_ref());
        for (value, at) in value.into_iter().chain(default) {
            match value.base() {
                (kind, number) if kind == family => {
                    if number < from || number > to {
                        let message = format!("`{}` is {value}, outside its range from {least} to {most}", name.value);
                        findings.push(declared_at(Finding::error(codes::OUT_OF_RANGE, &at, message), &at, &name.span));
                    }
                }
                _ => findings.push(mismatch(format!("{value} does not fit the range from {least} to {most}"))),
            }
        }
    }
}

/// The finding with the declaration, where it stands elsewhere.
fn declared_at(finding: Finding, at: &Span, declared: &Span) -> Finding {
    if at == declared { finding } else { finding.also(declared, "declared here") }
}
