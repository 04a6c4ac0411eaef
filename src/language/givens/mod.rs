//! Parameters: their declarations, the values that stand for them, and the kinds of quantity they are used as.
//!
//! A value comes from `--with`, else from a `use … with`, else from the default. Must not be here: how a
//! statement uses one (see `lower`).

mod settle;

use crate::language::codes;
use crate::language::finding::repeated_clause;
use crate::language::finding::{Finding, Fix};
use crate::language::grammar::{Rule, keywords};
use crate::language::lower::text::unquote;
use crate::language::nearest::nearest;
use crate::language::quantity_kind::{QuantityKind, is_value, written};
use crate::language::recipe::Given;
use crate::language::span::{FileId, Span, Spanned};
use crate::language::syntax::{Parsed, nearest_fix};
use crate::language::units::{Quantity, Unit};
use std::collections::HashMap;

/// All parameters of a recipe.
#[derive(Debug, Default)]
pub(crate) struct Table {
    entries: Vec<Entry>,
    by_name: HashMap<String, usize>,
    /// What `use … with` says, by name, until the declaration is met.
    told: HashMap<String, Told>,
}

#[derive(Debug)]
struct Told {
    value: Option<Quantity>,
    span: Span,
    target: FileId,
    /// The parameter of the named recipe whose value this is.
    stands_for: Option<String>,
}

#[derive(Debug)]
struct Entry {
    given: Given,
    /// Which statement declares it.
    index: usize,
    /// Where the value that stands was written.
    value_at: Span,
    /// As written, and where.
    default: Option<(Quantity, Span)>,
    uses: Vec<(QuantityKind, Span)>,
    /// An error stands against it, so its uses are left out.
    bad: bool,
}

/// Numbers that people write as words.
const NUMBERS: [&str; 11] = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"];

/// What a name stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Looked {
    /// This.
    Value(Quantity),
    /// Nothing yet.
    Waiting,
    /// An error that was reported.
    Reported,
    /// No parameter has this name.
    Unknown,
}

impl Table {
    /// Whether a parameter has this name.
    pub fn has(&self, name: &str) -> bool {
        self.by_name.contains_key(name)
    }

    fn entry(&self, name: &str) -> Option<&Entry> {
        self.by_name.get(name).map(|at| &self.entries[*at])
    }

    /// Whether there is no parameter at all.
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// What a name stands for in statement `index`.
    pub fn look(&self, name: &str, index: usize) -> Looked {
        let Some(entry) = self.entry(name) else { return Looked::Unknown };
        if entry.bad || entry.index > index {
            return Looked::Reported;
        }
        match entry.given.value {
            None => Looked::Waiting,
            Some(value) => Looked::Value(value),
        }
    }

    /// Where a parameter was declared.
    pub fn declared(&self, name: &str) -> Option<Span> {
        self.entry(name).map(|entry| entry.given.name.span.clone())
    }

    /// The finding for a name that no parameter has.
    pub fn unknown(&self, name: &str, kind: QuantityKind, span: &Span) -> Finding {
        let names: Vec<&str> = self.entries.iter().map(|entry| entry.given.name.value.as_str()).collect();
        let finding = Finding::error(
            codes::UNKNOWN_NAME,
            span.clone(),
            format!("`{name}` stands where a value is expected, and no parameter has that name"),
        );
        if nearest(name, names.iter().copied()).is_some() {
            return nearest_fix(finding, span, name, &names);
        }
        if kind == QuantityKind::Count {
            let finding = finding.hint("a count or position is a whole number; positions count from 0");
            return match NUMBERS.iter().position(|number| *number == name) {
                Some(number) => finding.replace(format!("write `{number}`"), span, number.to_string()),
                None => finding,
            };
        }
        finding.hint(format!("write {}, or declare it in the header: `given {name}`", kind.name()))
    }

    /// Takes a `given` statement in.
    pub fn declare(
        &mut self,
        parsed: &Parsed<'_>,
        index: usize,
        with: &[(String, Quantity)],
        words: &[&str],
        findings: &mut Vec<Finding>,
    ) {
        let mut inner = parsed.tree.clone().into_inner().skip(1);
        let Some(named) = inner.next() else { return };
        let span = parsed.place(&named);
        let name = named.as_str().to_owned();
        let (mut default, mut range, mut about) = (None, None, None);
        let mut seen: Vec<(Rule, Span)> = Vec::new();
        let (mut bad, mut repeated) = (false, false);
        for pair in inner {
            let place = parsed.place(&pair);
            if let Some((_, first)) = seen.iter().find(|(rule, _)| *rule == pair.as_rule()) {
                if !repeated {
                    findings.push(repeated_clause(place, first.clone()));
                }
                repeated = true;
                continue;
            }
            seen.push((pair.as_rule(), place));
            let mut quantities = pair.clone().into_inner().filter(|q| q.as_rule() == Rule::quantity).map(|q| {
                let place = parsed.place(&q);
                match written(&q, place.clone()) {
                    Ok(quantity) => Some((quantity, place)),
                    Err(finding) => {
                        findings.push(*finding);
                        bad = true;
                        None
                    }
                }
            });
            match pair.as_rule() {
                Rule::given_default => default = quantities.next().flatten(),
                Rule::given_range => range = quantities.next().flatten().zip(quantities.next().flatten()),
                _ => about = Some(unquote(pair.as_str())),
            }
        }
        if let Some(finding) = taken(&name, &span, words) {
            findings.push(finding);
        }
        if let Some(first) = self.declared(&name) {
            findings.push(
                Finding::error(codes::DUPLICATE_GIVEN, span, format!("`{name}` is declared a second time"))
                    .also(first, "the first")
                    .hint("one namespace holds all files of a recipe: give one of them another name"),
            );
            return;
        }
        let told = self.told.get(&name).filter(|told| told.target <= span.file);
        let filled = with.iter().rev().find(|(with, _)| *with == name);
        let (value, value_at) = match (filled, told, &default) {
            (Some((_, value)), _, _) => (Some(*value), span.clone()),
            (None, Some(told), _) => (told.value, told.span.clone()),
            (None, None, Some((value, at))) => (Some(*value), at.clone()),
            (None, None, None) => (None, span.clone()),
        };
        let range = range.map(|((least, _), (most, _))| (least, most));
        let stands_for = match (filled, told) {
            _ if span.file == FileId(0) => Some(name.clone()),
            (None, Some(told)) => told.stands_for.clone(),
            // A used file's own, which nobody fixed.
            (None, None) if default.is_none() => Some(name.clone()),
            _ => None,
        };
        let given = Given {
            name: Spanned { value: name.clone(), span },
            value,
            default: None,
            stands_for,
            range,
            about,
            uses: Vec::new(),
        };
        self.by_name.insert(name, self.entries.len());
        self.entries.push(Entry { given, index, value_at, default, uses: Vec::new(), bad });
    }

    /// Takes in what a `use` line tells the file it brings in.
    pub fn tell(&mut self, parsed: &Parsed<'_>, target: FileId, again: bool, findings: &mut Vec<Finding>) {
        for pair in parsed.tree.clone().into_inner().flatten().filter(|pair| pair.as_rule() == Rule::with_pair) {
            let mut inner = pair.clone().into_inner();
            let (Some(name), Some(value)) = (inner.next(), inner.next().and_then(|value| value.into_inner().next()))
            else {
                continue;
            };
            let span = parsed.place(&name);
            if again {
                findings.push(
                    Finding::error(
                        codes::TAKEN_ALREADY,
                        parsed.place(&pair),
                        "this file was taken already, with the values told there",
                    )
                    .hint("a file is taken once: tell it its values where it is used first"),
                );
                continue;
            }
            let place = parsed.place(&value);
            let mut stands_for = None;
            let value = if value.as_rule() == Rule::quantity {
                match written(&value, place.clone()) {
                    Ok(quantity) => Some(quantity),
                    Err(finding) => {
                        findings.push(*finding);
                        continue;
                    }
                }
            } else if let Some(at) = self.by_name.get(value.as_str()) {
                self.entries[*at].uses.push((QuantityKind::Any, place.clone()));
                stands_for.clone_from(&self.entries[*at].given.stands_for);
                self.entries[*at].given.value
            } else {
                findings.push(self.unknown(value.as_str(), QuantityKind::Any, &place));
                continue;
            };
            let told = Told { value, span: place, target, stands_for };
            if let Some(first) = self.told.get(name.as_str()) {
                findings.push(
                    Finding::error(codes::REPEATED_CLAUSE, span, format!("`{}` is told a value twice", name.as_str()))
                        .also(first.span.clone(), "the first"),
                );
            } else {
                self.told.insert(name.as_str().to_owned(), told);
            }
        }
    }

    /// Notes every use of a parameter in a statement.
    pub fn note_uses(&mut self, parsed: &Parsed<'_>, index: usize, findings: &mut Vec<Finding>) {
        for pair in parsed.tree.clone().into_inner().flatten().filter(|pair| is_value(pair.as_rule())) {
            let Some(kind) = QuantityKind::of(pair.as_rule()) else { continue };
            let Some(inner) = pair.clone().into_inner().next() else { continue };
            if !matches!(inner.as_rule(), Rule::name | Rule::word) {
                continue;
            }
            let Some(at) = self.by_name.get(inner.as_str()) else { continue };
            let entry = &mut self.entries[*at];
            let place = parsed.place(&inner);
            if entry.index > index {
                let message = format!("`{}` is used before it is declared", inner.as_str());
                findings.push(
                    Finding::error(codes::USED_TOO_EARLY, place.clone(), message)
                        .also(entry.given.name.span.clone(), "declared here")
                        .hint("declare it above, or in the recipe that uses this one"),
                );
            }
            entry.uses.push((kind, place));
        }
    }

    /// Judges values, ranges and uses, and gives bare values their unit. A name in `--with` that no parameter
    /// has is reported at `title`.
    pub fn settle(
        &mut self,
        with: &[(String, Quantity)],
        parents: &[Option<FileId>],
        title: &Span,
        findings: &mut Vec<Finding>,
    ) {
        for (name, told) in &self.told {
            let fits = self.entry(name).is_some_and(|entry| inside(entry.given.name.span.file, told.target, parents));
            if !fits {
                let message = format!("the used recipe has no parameter `{name}`");
                findings.push(Finding::error(codes::UNKNOWN_WITH, told.span.clone(), message));
            }
        }
        let names: Vec<String> = self.entries.iter().map(|entry| entry.given.name.value.clone()).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        for (name, _) in with.iter().filter(|(name, _)| !self.has(name)) {
            let message = format!("a value is given for `{name}`, and the recipe has no such parameter");
            let finding = Finding::error(codes::UNKNOWN_WITH, title.clone(), message);
            findings.push(match (nearest(name, names.iter().copied()), names.as_slice()) {
                (Some(near), _) => finding.hint(format!("did you mean `{near}`?")),
                (None, []) => finding.hint("this recipe has no parameters"),
                (None, all) => finding.hint(format!("its parameters: {}", all.join(", "))),
            });
        }
        for entry in &mut self.entries {
            entry.settle(findings);
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

/// Whether a file is `target` or stands below it.
fn inside(mut file: FileId, target: FileId, parents: &[Option<FileId>]) -> bool {
    loop {
        if file == target {
            return true;
        }
        match parents.get(file.0).copied().flatten() {
            Some(parent) => file = parent,
            None => return false,
        }
    }
}

/// Why a name cannot be a parameter's.
fn taken(name: &str, span: &Span, words: &[&str]) -> Option<Finding> {
    let what = if keywords().any(|word| word == name) {
        "a keyword of the language"
    } else if Unit::of(name).is_some() || name == "per" {
        "a unit"
    } else if words.contains(&name) {
        "a word of the vocabulary"
    } else {
        return None;
    };
    let message = format!("`{name}` is {what}, so no parameter can have that name");
    let fix = Fix { title: format!("write `my-{name}`"), span: span.clone(), replacement: format!("my-{name}") };
    Some(Finding::error(codes::BAD_NAME, span.clone(), message).hint("choose another name").fix(fix))
}
