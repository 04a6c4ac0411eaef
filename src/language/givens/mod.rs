//! Parameters: each belongs to the file that declares it, and stands there for a quantity, a switch or a word.
//!
//! A value comes from `--with` for the named recipe's, from `use … with` for a used file's, else from the default.
//! Must not be here: how a statement uses one (see `lower`).

mod declare;
mod settle;
mod told;

use crate::language::codes;
use crate::language::finding::Finding;
use crate::language::grammar::Rule;
use crate::language::quantity_kind::QuantityKind;
use crate::language::recipe::{Given, GivenKind, GivenValue};
use crate::language::span::{FileId, Span};
use crate::language::syntax::{Parsed, nearest_fix};
use crate::language::tree::Pair;
use crate::measure::nearest::nearest;
use std::cell::Cell;
use std::collections::HashMap;
pub(crate) use told::Again;
use told::Told;

/// All parameters of a recipe, in the order in which they are declared.
#[derive(Debug, Default)]
pub(crate) struct Table {
    entries: Vec<Entry>,
    /// Places in `entries` by name, for each file.
    by_name: Vec<HashMap<String, usize>>,
    /// `use` lines that name a file a second time.
    again: Vec<Again>,
    /// How many cells the recipe's battery has, where that is written.
    pub cells: Option<u32>,
    /// Names that nobody has, for which the nearest one was looked for.
    misses: Cell<usize>,
}

#[derive(Debug)]
struct Entry {
    given: Given,
    /// Which statement declares it.
    index: usize,
    /// Where the value that stands was written.
    value_at: Span,
    /// As written, and where.
    default: Option<(GivenValue, Span)>,
    /// What a `use … with` says.
    told: Option<Told>,
    uses: Vec<(QuantityKind, Span)>,
    /// An error stands against it, so its uses are left out.
    bad: bool,
}

/// Numbers that people write as words.
const NUMBERS: [&str; 11] = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"];

/// Unknown names for which the nearest is looked for: each is held against all others.
const NEAREST_LOOKED_FOR: usize = 50;

/// What a name stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Looked {
    /// This.
    Value(GivenValue),
    /// Nothing yet.
    Waiting,
    /// An error that was reported.
    Reported,
    /// No parameter of the file has this name.
    Unknown,
}

/// Where a parameter's name may stand in a statement: the kind of the place, and the name's part of the tree.
pub(crate) fn named(pair: Pair<'_>) -> Option<(QuantityKind, Pair<'_>)> {
    let kind = QuantityKind::of(pair.as_rule())?;
    let inner = match pair.as_rule() {
        Rule::switch_name => pair,
        _ => pair.into_inner().next()?,
    };
    matches!(inner.as_rule(), Rule::name | Rule::word | Rule::switch_name).then_some((kind, inner))
}

/// Whether a parameter of a kind may stand at a place.
fn fits(kind: &GivenKind, place: QuantityKind) -> bool {
    match kind {
        GivenKind::Switch => place == QuantityKind::Switch,
        GivenKind::Word(_) => matches!(place, QuantityKind::Word | QuantityKind::Any),
        GivenKind::Quantity => !matches!(place, QuantityKind::Word | QuantityKind::Switch),
    }
}

/// Whether a parameter of the one kind may be handed on to one of the other.
fn fits_kind(one: &GivenKind, other: &GivenKind) -> bool {
    std::mem::discriminant(one) == std::mem::discriminant(other)
}

/// What a parameter of a kind is called.
fn kind_name(kind: &GivenKind) -> &'static str {
    match kind {
        GivenKind::Quantity => "a quantity or a count",
        GivenKind::Switch => "a switch",
        GivenKind::Word(_) => "one of a list of words",
    }
}

impl Table {
    fn at(&self, file: FileId, name: &str) -> Option<usize> {
        self.by_name.get(file.0)?.get(name).copied()
    }

    /// The number of a file's parameter among all, as the typed recipe has them.
    pub fn number(&self, file: FileId, name: &str) -> Option<usize> {
        self.at(file, name)
    }

    /// Whether a file has a parameter of this name.
    pub fn has(&self, file: FileId, name: &str) -> bool {
        self.at(file, name).is_some()
    }

    /// Whether there is no parameter at all.
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// What a name stands for in statement `index` of a file.
    pub fn look(&self, file: FileId, name: &str, place: QuantityKind, index: usize) -> Looked {
        let Some(entry) = self.at(file, name).map(|at| &self.entries[at]) else { return Looked::Unknown };
        if entry.bad || entry.index > index || !fits(&entry.given.kind, place) {
            return Looked::Reported;
        }
        entry.given.value.clone().map_or(Looked::Waiting, Looked::Value)
    }

    /// Where a file's parameter was declared.
    pub fn declared(&self, file: FileId, name: &str) -> Option<Span> {
        self.at(file, name).map(|at| self.entries[at].given.name.span.clone())
    }

    /// The words that a file's parameter may be.
    pub fn words(&self, file: FileId, name: &str) -> &[String] {
        match self.at(file, name).map(|at| &self.entries[at].given.kind) {
            Some(GivenKind::Word(words)) => words,
            _ => &[],
        }
    }

    /// The finding for a name that no parameter of the file has.
    pub fn unknown(&self, file: FileId, name: &str, kind: QuantityKind, span: &Span) -> Finding {
        let finding = Finding::error(
            codes::UNKNOWN_NAME,
            span.clone(),
            format!("`{name}` stands where a value is expected, and no parameter has that name"),
        );
        if let Some(names) = self.names_to_compare(file)
            && nearest(name, names.iter().copied()).is_some()
        {
            return nearest_fix(finding, span, name, &names);
        }
        if kind == QuantityKind::Count {
            let finding = finding.hint("a count or position is a whole number; positions count from 0");
            return match NUMBERS.iter().position(|number| *number == name) {
                Some(number) => finding.replace(format!("write `{number}`"), span, number.to_string()),
                None => finding,
            };
        }
        let elsewhere = self.entries.iter().take(NEAREST_LOOKED_FOR).find(|entry| entry.given.name.value == name);
        match elsewhere {
            Some(entry) => finding
                .also(&entry.given.name.span, "this parameter belongs to another file")
                .hint(format!("declare it here as well, and hand it on: `use \"…\" with {name} {name}`")),
            None => finding.hint(format!("write {}, or declare it in the header: `given {name}`", kind.name())),
        }
    }

    /// The parameters of a file, in their order, as long as the nearest of them is still looked for.
    fn names_to_compare(&self, file: FileId) -> Option<Vec<&str>> {
        let misses = self.misses.get();
        self.misses.set(misses + 1);
        if misses >= NEAREST_LOOKED_FOR {
            return None;
        }
        let names = self.by_name.get(file.0).into_iter().flatten();
        let mut names: Vec<(usize, &str)> = names.map(|(name, at)| (*at, name.as_str())).collect();
        names.sort_unstable();
        Some(names.into_iter().map(|(_, name)| name).collect())
    }

    /// Notes every use of a parameter in a statement.
    pub fn note_uses(&mut self, parsed: &Parsed<'_>, index: usize, findings: &mut Vec<Finding>) {
        for (kind, inner) in parsed.root().deep().skip(1).filter_map(|pair| named(pair)) {
            let Some(at) = self.at(parsed.file, inner.as_str()) else { continue };
            let entry = &mut self.entries[at];
            let place = parsed.place(inner);
            if entry.index > index {
                findings.push(too_early(inner.as_str(), &place, &entry.given.name.span));
            } else if !fits(&entry.given.kind, kind) {
                let message = format!(
                    "`{}` is a parameter of this file, {}, and {} stands here",
                    inner.as_str(),
                    kind_name(&entry.given.kind),
                    kind.name()
                );
                findings.push(
                    Finding::error(codes::OTHER_KIND, place.clone(), message)
                        .also(&entry.given.name.span, "declared here")
                        .hint("a parameter wins over a switch or a word of its name: give one of them another"),
                );
            }
            entry.uses.push((kind, place));
        }
    }

    /// The parameters as the typed recipe has them.
    pub fn into_givens(self) -> Vec<Given> {
        self.entries
            .into_iter()
            .map(|entry| Given {
                default: entry.default.map(|(default, _)| default),
                uses: entry.uses.into_iter().map(|(_, span)| span).collect(),
                ..entry.given
            })
            .collect()
    }
}

/// The finding for a parameter that stands above its declaration.
fn too_early(name: &str, place: &Span, declared: &Span) -> Finding {
    Finding::error(codes::USED_TOO_EARLY, place, format!("`{name}` is used before it is declared"))
        .also(declared, "declared here")
        .hint("declare it above")
}
