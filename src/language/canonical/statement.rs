//! One statement in its canonical words, from its parse tree.
//!
//! Promises: a clause that was left out and has a fixed value stands there; clauses stand in one order; a
//! quantity has one spelling; a parameter keeps its place, open or filled. Must not be here: what a recipe is made of.

use super::Slot;
use crate::language::givens::{Table, named};
use crate::language::grammar::Rule;
use crate::language::lower::motors;
use crate::language::lower::text::unquote;
use crate::language::quantity_kind::{QuantityKind, is_value};
use crate::language::recipe::{Chemistry, GivenValue, Switch};
use crate::language::search;
use crate::language::span::FileId;
use crate::language::syntax::Parsed;
use crate::language::units::{Decimal, Quantity, Unit, time};
use crate::language::written::{Piece, Written};
use pest::iterators::Pair;

impl Written {
    /// The words, with what stands for each parameter.
    pub(crate) fn text(&self, slot: &dyn Fn(usize) -> Slot) -> String {
        self.0.iter().map(|piece| piece.text(slot)).collect::<Vec<_>>().join(" ")
    }

    /// The parameters that it names.
    pub(super) fn givens(&self) -> impl Iterator<Item = usize> {
        self.0.iter().flat_map(Piece::givens)
    }
}

impl Piece {
    fn text(&self, slot: &dyn Fn(usize) -> Slot) -> String {
        match self {
            Self::Text(text) => text.clone(),
            Self::Given(given, kind) => match slot(*given) {
                Slot::Name(name) => name,
                Slot::Value(GivenValue::Quantity(value)) => quantity(*kind, value),
                Slot::Value(GivenValue::Switch(Switch(text)) | GivenValue::Word(text)) => text,
            },
            Self::List { items, set } => {
                let mut items: Vec<String> = items.iter().map(|item| item.text(slot)).collect();
                if *set {
                    // Numbers by size: of two without leading zeros the longer is the larger.
                    items.sort_by(|a, b| a.len().cmp(&b.len()).then_with(|| a.cmp(b)));
                }
                items.join(", ")
            }
        }
    }

    fn givens(&self) -> Vec<usize> {
        match self {
            Self::Text(_) => Vec::new(),
            Self::Given(given, _) => vec![*given],
            Self::List { items, .. } => items.iter().flat_map(Self::givens).collect(),
        }
    }
}

/// The canonical words of a parsed statement.
pub(crate) fn written(parsed: &Parsed<'_>, table: &Table) -> Written {
    let mut pieces = Vec::new();
    write(&parsed.tree, &Names { table, file: parsed.file }, &mut pieces);
    Written(pieces)
}

/// The names that stand for a parameter in one file.
struct Names<'t> {
    table: &'t Table,
    file: FileId,
}

/// Clauses, which may come in any order after what begins a statement.
const CLAUSES: &[Rule] = &[
    Rule::on_channel,
    Rule::rests,
    Rule::on_loss,
    Rule::momentary,
    Rule::with_positions,
    Rule::anew,
    Rule::centre,
    Rule::ends,
    Rule::in_starts,
    Rule::within_time,
    Rule::search_step,
    Rule::search_until,
    Rule::search_by_hand,
    Rule::search_limit,
    Rule::search_dwell,
    Rule::search_margin,
    Rule::at_rate,
    Rule::chemistry,
    Rule::warn_at,
    Rule::land_at,
];

/// What a rule means where a clause of it is left out, if that is a fixed value.
fn left_out(rule: Rule) -> Vec<(Rule, String)> {
    let starts = || (Rule::in_starts, format!("in {} starts", search::STARTS));
    match rule {
        Rule::test_cut => vec![(Rule::within_time, format!("within {}", time(motors::CUT_WITHIN)))],
        Rule::test_failsafe => vec![(Rule::within_time, format!("within {}", time(motors::FAILSAFE_WITHIN)))],
        Rule::test_idle => vec![starts()],
        Rule::idle_search => vec![starts(), (Rule::search_dwell, format!("for {}", time(search::DWELL)))],
        Rule::test_sticks => {
            let ((centre, near), (low, high, close)) = (motors::CENTRE, motors::ENDS);
            vec![
                (Rule::centre, format!("centre {centre} within {near}")),
                (Rule::ends, format!("ends {low} to {high} within {close}")),
            ]
        }
        Rule::battery => vec![(Rule::chemistry, Chemistry::Lipo.word().to_owned())],
        _ => Vec::new(),
    }
}

fn write(pair: &Pair<'_, Rule>, names: &Names<'_>, out: &mut Vec<Piece>) {
    let rule = pair.as_rule();
    if is_value(rule) {
        out.extend(value(pair, names));
        return;
    }
    let children: Vec<Pair<'_, Rule>> = pair.clone().into_inner().collect();
    if rule == Rule::string {
        out.push(Piece::Text(quoted(&unquote(pair.as_str()))));
    } else if children.is_empty() {
        out.push(Piece::Text(pair.as_str().trim_end().to_owned()));
    } else {
        let (clauses, leading): (Vec<_>, Vec<_>) =
            children.into_iter().partition(|child| CLAUSES.contains(&child.as_rule()));
        leading_words(rule, &leading, names, out);
        let mut all: Vec<(String, Vec<Piece>)> = Vec::new();
        for (default, text) in left_out(rule) {
            if !clauses.iter().any(|clause| clause.as_rule() == default) {
                all.push((text.clone(), vec![Piece::Text(text)]));
            }
        }
        for clause in &clauses {
            let mut pieces = Vec::new();
            write(clause, names, &mut pieces);
            // The words that a clause begins with tell it from every other.
            let first =
                pieces.iter().map_while(|piece| if let Piece::Text(text) = piece { Some(text.as_str()) } else { None });
            all.push((first.collect::<Vec<_>>().join(" "), pieces));
        }
        all.sort_by(|(a, _), (b, _)| a.cmp(b));
        out.extend(all.into_iter().flat_map(|(_, pieces)| pieces));
    }
}

/// The words and values of a rule that are no clauses, in their order; values that follow each other are a list.
fn leading_words(rule: Rule, all: &[Pair<'_, Rule>], names: &Names<'_>, out: &mut Vec<Piece>) {
    let mut at = 0;
    while let Some(child) = all.get(at) {
        let mut run = 1;
        if is_value(child.as_rule()) {
            run = all[at..].iter().take_while(|next| next.as_rule() == child.as_rule()).count();
        }
        if rule == Rule::positions && is_value(child.as_rule()) || run > 1 {
            let items = all[at..at + run].iter().filter_map(|item| value(item, names)).collect();
            out.push(Piece::List { items, set: rule == Rule::positions });
        } else {
            match (rule, child.as_rule()) {
                // Words that may stand in the singular.
                (Rule::positions | Rule::with_positions, Rule::kw_position) => out.push(word("positions")),
                (Rule::battery, Rule::kw_cell) => out.push(word("cells")),
                (Rule::in_starts, Rule::kw_start) => out.push(word("starts")),
                (_, Rule::comma) => {
                    if let Some(Piece::Text(before)) = out.last_mut() {
                        before.push(',');
                    }
                }
                _ => write(child, names, out),
            }
        }
        at += run;
    }
}

fn word(text: &str) -> Piece {
    Piece::Text(text.to_owned())
}

/// A quantity, the name of a parameter, or a word where one may stand.
fn value(pair: &Pair<'_, Rule>, names: &Names<'_>) -> Option<Piece> {
    let kind = QuantityKind::of(pair.as_rule())?;
    if let Some(given) = named(pair).and_then(|(_, name)| names.table.number(names.file, name.as_str())) {
        return Some(Piece::Given(given, kind));
    }
    let inner = pair.clone().into_inner().next().unwrap_or_else(|| pair.clone());
    Some(match inner.as_rule() {
        Rule::quantity => {
            Piece::Text(inner.as_str().parse().map_or_else(|_| inner.as_str().to_owned(), |q| quantity(kind, q)))
        }
        _ => word(inner.as_str().trim_end()),
    })
}

/// A text in quotes.
pub(super) fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

/// A value of no particular place.
pub(super) fn any(value: &GivenValue) -> String {
    match value {
        GivenValue::Quantity(value) => quantity(QuantityKind::Any, *value),
        other => other.to_string(),
    }
}

/// The one spelling of a quantity. A bare number is what its place asks for.
fn quantity(kind: QuantityKind, value: Quantity) -> String {
    let unit = value.unit.or(match kind {
        QuantityKind::Pulse | QuantityKind::Idle => Some(Unit::Us),
        QuantityKind::Angle => Some(Unit::Deg),
        QuantityKind::Duration
        | QuantityKind::Frequency
        | QuantityKind::CellVoltage
        | QuantityKind::Count
        | QuantityKind::Switch
        | QuantityKind::Word
        | QuantityKind::Any => None,
    });
    let pulse = matches!(kind, QuantityKind::Pulse | QuantityKind::Idle);
    // The first unit in which the number is whole; the last takes every number.
    let ladder: &[(Unit, i64)] = match unit {
        None => return value.number.to_string(),
        Some(Unit::Us | Unit::Ms | Unit::S | Unit::Min) if pulse => &[(Unit::Us, 1)],
        Some(Unit::Us | Unit::Ms | Unit::S | Unit::Min) => &[(Unit::S, 1_000_000), (Unit::Ms, 1000), (Unit::Us, 1)],
        Some(Unit::Hz | Unit::KHz) => &[(Unit::KHz, 1000), (Unit::Hz, 1)],
        Some(Unit::MilliV | Unit::V) => &[(Unit::MilliV, 1)],
        Some(Unit::MilliVPerCell | Unit::VPerCell) => &[(Unit::MilliVPerCell, 1)],
        Some(Unit::MilliA | Unit::A) => &[(Unit::MilliA, 1)],
        Some(Unit::Deg) => &[(Unit::Deg, 1)],
        Some(Unit::Percent) => &[(Unit::Percent, 1)],
        Some(Unit::Rpm) => &[(Unit::Rpm, 1)],
    };
    let (_, base) = Quantity { unit, ..value }.base();
    let fits = |factor: i64| base % (i128::from(factor) * 1_000_000) == 0;
    let (unit, factor) =
        ladder.iter().find(|(_, factor)| fits(*factor)).or(ladder.last()).copied().unwrap_or((Unit::Us, 1));
    let millionths = i64::try_from(base / i128::from(factor)).unwrap_or(i64::MAX);
    Quantity { number: Decimal { millionths }, unit: Some(unit) }.to_string()
}
