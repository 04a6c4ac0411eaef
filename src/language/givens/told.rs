//! What a `use … with` says: a value of the used file's parameter, or a parameter of the using file handed on.
//!
//! Must not be here: what follows from it (see `settle`).

use super::{Table, fits_kind, kind_name, too_early};
use crate::language::codes;
use crate::language::finding::Finding;
use crate::language::grammar::Rule;
use crate::language::quantity_kind::{QuantityKind, written};
use crate::language::recipe::{GivenKind, GivenValue, Switch};
use crate::language::span::{FileId, Span};
use crate::language::syntax::Parsed;
use crate::language::tree::Pair;
use crate::measure::nearest::nearest;
use std::collections::HashMap;

/// What one pair says.
#[derive(Debug, Clone)]
pub(super) struct Told {
    /// The used file's parameter.
    pub name_at: Span,
    /// The value, or the parameter of the using file.
    pub value_at: Span,
    pub from: From,
}

/// Where the value of a pair comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum From {
    Literal(GivenValue),
    /// A parameter of the using file, by its place in the table.
    Handed(usize),
    /// Something that was reported.
    Wrong,
}

/// A `use` line that names a file a second time.
#[derive(Debug)]
pub(crate) struct Again {
    /// The line.
    pub line: Span,
    /// The file.
    pub target: FileId,
    /// Parameters of the file, each with what is said of it.
    pub(super) told: HashMap<usize, Told>,
}

impl Table {
    /// Takes in what a `use` line tells the file it names, all of whose parameters were declared.
    pub fn tell(
        &mut self,
        parsed: &Parsed<'_>,
        index: usize,
        target: FileId,
        again: bool,
        findings: &mut Vec<Finding>,
    ) {
        let mut all: HashMap<usize, Told> = HashMap::new();
        let pairs = parsed.root().into_inner().filter(|clause| clause.as_rule() == Rule::use_with);
        for pair in pairs.flat_map(Pair::into_inner).filter(|pair| pair.as_rule() == Rule::with_pair) {
            let mut inner = pair.into_inner();
            let (Some(name), Some(value)) = (inner.next(), inner.next().and_then(|value| value.into_inner().next()))
            else {
                continue;
            };
            let (name_at, value_at) = (parsed.place(name), parsed.place(value));
            let Some(at) = self.at(target, name.as_str()) else {
                findings.push(self.no_such(target, name.as_str(), name_at));
                // A parameter that is handed on is used, whatever becomes of it.
                if let Some(from) = self.at(parsed.file, value.as_str()) {
                    self.entries[from].uses.push((QuantityKind::Any, value_at));
                }
                continue;
            };
            let from = self.from(parsed, index, at, value, &value_at, findings);
            let told = Told { name_at: name_at.clone(), value_at, from };
            let before = if again { all.get(&at) } else { self.entries[at].told.as_ref() };
            match before.map(|told| told.name_at.clone()) {
                Some(first) => findings.push(
                    Finding::error(
                        codes::REPEATED_CLAUSE,
                        name_at,
                        format!("`{}` is told a value twice", name.as_str()),
                    )
                    .also(first, "the first"),
                ),
                None if again => drop(all.insert(at, told)),
                None => self.entries[at].told = Some(told),
            }
        }
        if again {
            self.again.push(Again { line: parsed.span.clone(), target, told: all });
        }
    }

    /// The `use` lines that name a file a second time.
    pub fn taken_again(&self) -> &[Again] {
        &self.again
    }

    fn no_such(&self, target: FileId, name: &str, at: Span) -> Finding {
        let finding =
            Finding::error(codes::UNKNOWN_WITH, at.clone(), format!("the used recipe has no parameter `{name}`"));
        let Some(names) = self.names_to_compare(target) else { return finding };
        match (nearest(name, names.iter().copied()), names.as_slice()) {
            (Some(near), _) => finding.replace(format!("write `{near}`"), at, near),
            (None, []) => finding.hint("it has none"),
            (None, names) => {
                let some: Vec<&str> = names.iter().take(8).copied().collect();
                finding.hint(format!("its parameters: {}", some.join(", ")))
            }
        }
    }

    /// What stands right of a pair, read by the kind of the parameter `at` that stands left.
    fn from(
        &mut self,
        parsed: &Parsed<'_>,
        index: usize,
        at: usize,
        value: Pair<'_>,
        place: &Span,
        findings: &mut Vec<Finding>,
    ) -> From {
        let text = value.as_str().trim_end();
        // A parameter wins over a literal of the same name.
        if let Some(from) = self.at(parsed.file, text) {
            self.entries[from].uses.push((QuantityKind::Any, place.clone()));
            let (outer, inner) = (&self.entries[from], &self.entries[at]);
            if outer.index > index {
                findings.push(too_early(text, place, &outer.given.name.span));
                return From::Wrong;
            }
            if !fits_kind(&inner.given.kind, &outer.given.kind) {
                let (wanted, is) = (kind_name(&inner.given.kind), kind_name(&outer.given.kind));
                let message = format!("`{text}` is {is} here, and the used recipe takes {wanted}");
                findings.push(
                    Finding::error(codes::OTHER_KIND, place, message)
                        .also(&outer.given.name.span, "declared here")
                        .also(&inner.given.name.span, "and the used recipe's here"),
                );
                return From::Wrong;
            }
            return From::Handed(from);
        }
        let entry = &self.entries[at];
        match (&entry.given.kind, value.as_rule()) {
            (GivenKind::Quantity, Rule::quantity) => match written(value, place.clone()) {
                Ok(quantity) => From::Literal(GivenValue::Quantity(quantity)),
                Err(finding) => {
                    findings.push(*finding);
                    From::Wrong
                }
            },
            (GivenKind::Quantity, _) => {
                findings.push(self.unknown(parsed.file, text, QuantityKind::Any, place));
                From::Wrong
            }
            (kind, _) => match literal(kind, text) {
                Ok(value) => From::Literal(value),
                Err(why) => {
                    findings.push(
                        Finding::error(codes::OTHER_KIND, place, why).also(&entry.given.name.span, "declared here"),
                    );
                    From::Wrong
                }
            },
        }
    }
}

/// A value of a kind, as written; else what is wrong with it.
pub(super) fn literal(kind: &GivenKind, text: &str) -> Result<GivenValue, String> {
    let is = |fits: fn(char) -> bool| {
        !text.is_empty() && text.split('-').all(|part| !part.is_empty() && part.chars().all(fits))
    };
    let (good, value) = match kind {
        GivenKind::Quantity => {
            let quantity = text.parse().map(GivenValue::Quantity);
            return quantity.map_err(|error| format!("`{text}` is no quantity: {error}"));
        }
        GivenKind::Switch => (is(|c| c.is_ascii_alphanumeric()), GivenValue::Switch(Switch(text.to_owned()))),
        GivenKind::Word(_) => {
            let lower = is(|c| c.is_ascii_lowercase() || c.is_ascii_digit());
            (lower && text.starts_with(|c: char| c.is_ascii_lowercase()), GivenValue::Word(text.to_owned()))
        }
    };
    if good { Ok(value) } else { Err(format!("`{text}` stands where {} is expected", kind_name(kind))) }
}
