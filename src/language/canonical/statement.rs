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
use crate::language::tree::Pair;
use crate::language::units::{Decimal, Quantity, Unit, time};
use crate::language::written::{Piece, Written};

impl Written {
    /// Writes the words behind a text, with what stands for each parameter.
    pub(crate) fn write(&self, slot: &dyn Fn(usize) -> Slot, text: &mut String) {
        for (at, piece) in self.0.iter().enumerate() {
            if at > 0 {
                text.push(' ');
            }
            piece.write(slot, text);
        }
    }

    /// The parameters that it names.
    pub(super) fn givens(&self) -> impl Iterator<Item = usize> {
        self.0.iter().flat_map(Piece::givens)
    }
}

impl Piece {
    fn write(&self, slot: &dyn Fn(usize) -> Slot, out: &mut String) {
        match self {
            Self::Text(text) => out.push_str(text),
            Self::Given(given, kind) => match slot(*given) {
                Slot::Name(name) => out.push_str(&name),
                Slot::Value(GivenValue::Quantity(value)) => out.push_str(&quantity(*kind, value)),
                Slot::Value(GivenValue::Switch(Switch(text)) | GivenValue::Word(text)) => out.push_str(&text),
            },
            Self::List { items, set } => {
                let mut items: Vec<String> = items
                    .iter()
                    .map(|item| {
                        let mut text = String::new();
                        item.write(slot, &mut text);
                        text
                    })
                    .collect();
                if *set {
                    // Numbers by size: of two without leading zeros the longer is the larger.
                    items.sort_by(|a, b| a.len().cmp(&b.len()).then_with(|| a.cmp(b)));
                }
                out.push_str(&items.join(", "));
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
    // Most statements come out as one text, about as long as they were written.
    let mut out = Words(Vec::with_capacity(1));
    out.0.push(Piece::Text(String::with_capacity(parsed.root().as_str().len())));
    out.pair(parsed.root(), &Names { table, file: parsed.file });
    Written(out.0)
}

/// The names that stand for a parameter in one file.
struct Names<'t> {
    table: &'t Table,
    file: FileId,
}

/// Whether a rule is a clause: those may come in any order after what begins a statement.
fn is_clause(rule: Rule) -> bool {
    matches!(
        rule,
        Rule::on_channel
            | Rule::rests
            | Rule::on_loss
            | Rule::momentary
            | Rule::with_positions
            | Rule::anew
            | Rule::centre
            | Rule::ends
            | Rule::in_starts
            | Rule::within_time
            | Rule::search_step
            | Rule::search_until
            | Rule::search_by_hand
            | Rule::search_limit
            | Rule::search_dwell
            | Rule::search_margin
            | Rule::at_rate
            | Rule::chemistry
            | Rule::warn_at
            | Rule::land_at
    )
}

/// A clause that may be left out, and its words then.
type LeftOut = (Rule, fn() -> String);

/// What a rule means where a clause of it is left out, if that is a fixed value.
fn left_out(rule: Rule) -> &'static [LeftOut] {
    const STARTS: LeftOut = (Rule::in_starts, || format!("in {} starts", search::STARTS));
    match rule {
        Rule::test_cut => &[(Rule::within_time, || format!("within {}", time(motors::CUT_WITHIN)))],
        Rule::test_failsafe => &[(Rule::within_time, || format!("within {}", time(motors::FAILSAFE_WITHIN)))],
        Rule::test_idle => &[STARTS],
        Rule::idle_search => &[STARTS, (Rule::search_dwell, || format!("for {}", time(search::DWELL)))],
        Rule::test_sticks => &[
            (Rule::centre, || format!("centre {} within {}", motors::CENTRE.0, motors::CENTRE.1)),
            (Rule::ends, || {
                let (low, high, close) = motors::ENDS;
                format!("ends {low} to {high} within {close}")
            }),
        ],
        Rule::battery => &[(Rule::chemistry, || Chemistry::Lipo.word().to_owned())],
        _ => &[],
    }
}

/// Words as they are written: what is text stands together in one piece.
#[derive(Default)]
struct Words(Vec<Piece>);

impl Words {
    fn text(&mut self, more: &str) {
        if let Some(Piece::Text(text)) = self.0.last_mut() {
            if !text.is_empty() {
                text.push(' ');
            }
            text.push_str(more);
        } else {
            self.0.push(Piece::Text(more.to_owned()));
        }
    }

    fn piece(&mut self, piece: Piece) {
        match piece {
            Piece::Text(text) if matches!(self.0.last(), Some(Piece::Text(_))) => self.text(&text),
            piece => self.0.push(piece),
        }
    }

    fn pair(&mut self, pair: Pair<'_>, names: &Names<'_>) {
        let (rule, text) = (pair.as_rule(), pair.as_str());
        if is_value(rule) {
            if let Some(piece) = value(pair, names) {
                self.piece(piece);
            }
            return;
        }
        let mut children = pair.into_inner().peekable();
        if rule == Rule::string {
            // Without an escape it is what it would be written as.
            if text.contains('\\') {
                self.text(&quoted(&unquote(text)));
            } else {
                self.text(text);
            }
            return;
        }
        if children.peek().is_none() {
            self.text(text.trim_end());
            return;
        }
        let mut clauses: Vec<(Rule, Words)> = Vec::new();
        while let Some(child) = children.next() {
            match (rule, child.as_rule()) {
                (_, clause) if is_clause(clause) => {
                    let mut words = Self::default();
                    words.pair(child, names);
                    clauses.push((clause, words));
                }
                (_, of) if is_value(of) => {
                    let mut items: Vec<Piece> = value(child, names).into_iter().collect();
                    while let Some(next) = children.next_if(|next| next.as_rule() == of) {
                        items.extend(value(next, names));
                    }
                    self.values(items, rule == Rule::positions);
                }
                // Words that may stand in the singular.
                (Rule::positions | Rule::with_positions, Rule::kw_position) => self.text("positions"),
                (Rule::battery, Rule::kw_cell) => self.text("cells"),
                (Rule::in_starts, Rule::kw_start) => self.text("starts"),
                (_, Rule::comma) => {
                    if let Some(Piece::Text(before)) = self.0.last_mut() {
                        before.push(',');
                    }
                }
                _ => self.pair(child, names),
            }
        }
        for (default, words) in left_out(rule) {
            if !clauses.iter().any(|(clause, _)| clause == default) {
                clauses.push((*default, Self(vec![Piece::Text(words())])));
            }
        }
        // The words that a clause begins with tell it from every other.
        clauses.sort_by(|(_, a), (_, b)| a.first().cmp(b.first()));
        clauses.into_iter().flat_map(|(_, words)| words.0).for_each(|piece| self.piece(piece));
    }

    fn first(&self) -> &str {
        if let Some(Piece::Text(text)) = self.0.first() { text } else { "" }
    }

    /// Values that follow each other are a list, one position too: which of them are parameters is open.
    fn values(&mut self, mut items: Vec<Piece>, set: bool) {
        if items.len() == 1 && !matches!(items[0], Piece::Given(..)) {
            for item in items {
                self.piece(item);
            }
        } else if items.len() == 1 && !set {
            self.0.append(&mut items);
        } else {
            let open = items.iter().any(|item| matches!(item, Piece::Given(..)));
            let list = Piece::List { items, set };
            if open {
                self.0.push(list);
            } else {
                let mut text = String::new();
                list.write(&|given| Slot::Name(given.to_string()), &mut text);
                self.text(&text);
            }
        }
    }
}

fn word(text: &str) -> Piece {
    Piece::Text(text.to_owned())
}

/// A quantity, the name of a parameter, or a word where one may stand.
fn value(pair: Pair<'_>, names: &Names<'_>) -> Option<Piece> {
    let kind = QuantityKind::of(pair.as_rule())?;
    if let Some(given) = named(pair).and_then(|(_, name)| names.table.number(names.file, name.as_str())) {
        return Some(Piece::Given(given, kind));
    }
    let inner = pair.into_inner().next().unwrap_or(pair);
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
