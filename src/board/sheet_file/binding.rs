//! How a sheet says that functions are bound to switches: directly, or by rows.
//!
//! Must not be here: binding anything (see `board::binding`).

use super::super::document::Problem;
use super::super::document::names::{WORD_RULE, is_word};
use super::super::document::reader::{Node, Reader, Table, escaped};
use super::super::sheet::{BandNames, Binding, BindingLayout};
use super::super::value::SettingName;
use crate::language::recipe::Function;
use crate::measure::frame::CHANNEL_NUMBERS;
use std::collections::BTreeMap;

/// A binding, and where each of its settings is named.
pub struct Read {
    /// The binding.
    pub binding: Binding,
    /// Place, name and what it stands for.
    pub names: Names,
}

type Names = Vec<(usize, SettingName, String)>;

#[derive(Clone, Copy)]
enum LayoutKind {
    Direct,
    Rows,
}

/// What the pair is.
const CLOSED: &str =
    "the two ends that are written to have a function on nowhere: such that no pulse lies between, as two equal ends";
/// Numbers that a setting can hold.
const NUMBERS: (i64, i64) = (i32::MIN as i64, i32::MAX as i64);

pub fn binding(r: &mut Reader<'_>, mut t: Table<'_>) -> Option<Read> {
    let kind =
        t.need(r, "way", "").and_then(|n| r.one_of(&n, &[("direct", LayoutKind::Direct), ("rows", LayoutKind::Rows)]));
    let least = t.need(r, "least", "");
    let low = least.as_ref().and_then(|n| r.pulse(n, 500, 2500));
    let high = t.need(r, "most", "").and_then(|n| r.pulse(&n, 500, 2500));
    if let (Some(node), Some(low), Some(high)) = (&least, low, high)
        && low >= high
    {
        let problem = Problem::UpsideDown { key: node.path.clone(), low: low.to_string(), high: high.to_string() };
        r.note(node.span().start, problem);
    }
    let granularity = t.need(r, "granularity", "").and_then(|n| r.whole(&n, 1, 100));
    let unbound = t.need(r, "channel-unbound", "");
    let unbound = unbound.and_then(|n| {
        let number = r.whole(&n, NUMBERS.0, NUMBERS.1)?;
        if CHANNEL_NUMBERS.contains(&number) {
            r.note(n.span().start, Problem::ChannelExists { key: n.path.clone(), found: number });
            return None;
        }
        Some(number)
    });
    let from_inside = t.take("from-inside").map_or(Some(true), |n| r.boolean(&n));
    let to_inside = t.take("to-inside").map_or(Some(false), |n| r.boolean(&n));
    let inside = [from_inside.unwrap_or(true), to_inside.unwrap_or(false)];
    let closed = t.need(r, "closed", CLOSED).and_then(|n| closed(r, &n, inside));
    let mut names = Names::new();
    let way = match kind {
        Some(LayoutKind::Direct) => Some(BindingLayout::Direct(direct(r, &mut t, &mut names))),
        Some(LayoutKind::Rows) => rows(r, &mut t, &mut names),
        None => None,
    };
    if kind.is_some() {
        t.done(r);
    }
    let granularity = granularity.and_then(|g| i32::try_from(g).ok())?;
    let binding = Binding {
        least: low?,
        most: high?,
        granularity,
        channel_unbound: unbound?,
        closed: closed?,
        from_inside: from_inside?,
        to_inside: to_inside?,
        way: way?,
    };
    Some(Read { binding, names })
}

fn closed(r: &mut Reader<'_>, node: &Node<'_>, [from_inside, to_inside]: [bool; 2]) -> Option<(i64, i64)> {
    let items = r.list(node, 2, 2)?;
    let ends: Vec<_> = items.iter().filter_map(|item| r.whole(item, NUMBERS.0, NUMBERS.1)).collect();
    let &[low, high] = ends.as_slice() else { return None };
    // Two equal ends that both lie inside hold the pulse between them.
    if low + i64::from(!from_inside) < high + i64::from(to_inside) {
        r.note(node.span().start, Problem::NotClosed { key: node.path.clone(), low, high });
        return None;
    }
    Some((low, high))
}

/// The functions' table: each name judged, and `arm` among them.
fn functions<'d>(r: &mut Reader<'_>, t: &mut Table<'d>) -> Vec<(Function, Node<'d>)> {
    let Some(node) = t.need(r, "functions", "name the functions that a switch can work") else { return Vec::new() };
    let Some(mut table) = r.table(&node) else { return Vec::new() };
    let mut functions = Vec::new();
    let given = table.rest();
    if given.len() > 64 {
        let problem = Problem::WrongLength { key: node.path.clone(), found: given.len(), least: 1, most: 64 };
        r.note(node.key_span.start, problem);
        return Vec::new();
    }
    for (key, value) in given {
        if is_word(&key) {
            functions.push((Function(key), value));
        } else {
            let problem = Problem::UnfitName { what: "a function's name", found: escaped(&key), rule: WORD_RULE };
            r.note(value.key_span.start, problem);
        }
    }
    if !functions.iter().any(|(function, _)| function.is_arm()) {
        r.note(node.key_span.start, Problem::NoArm { key: node.path.clone() });
    }
    functions
}

fn direct(r: &mut Reader<'_>, t: &mut Table<'_>, names: &mut Names) -> BTreeMap<Function, BandNames> {
    let mut bands = BTreeMap::new();
    for (function, node) in functions(r, t) {
        let Some(mut table) = r.table(&node) else { continue };
        let mut name = |r: &mut Reader<'_>, key| {
            let node = table.need(r, key, "a direct binding has channel, from and to")?;
            let name = r.setting(&node)?;
            names.push((node.span().start, name.clone(), node.path));
            Some(name)
        };
        let (channel, from, to) = (name(r, "channel"), name(r, "from"), name(r, "to"));
        table.done(r);
        if let (Some(channel), Some(from), Some(to)) = (channel, from, to) {
            bands.insert(function, BandNames { function: None, channel, from, to });
        }
    }
    bands
}

fn rows(r: &mut Reader<'_>, t: &mut Table<'_>, names: &mut Names) -> Option<BindingLayout> {
    let mut numbers: BTreeMap<Function, i64> = BTreeMap::new();
    let free = t.need(r, "free", "the number of no function").and_then(|n| r.whole(&n, NUMBERS.0, NUMBERS.1));
    for (function, node) in functions(r, t) {
        let Some(number) = r.whole(&node, NUMBERS.0, NUMBERS.1) else { continue };
        if free == Some(number) || numbers.values().any(|other| *other == number) {
            let problem = Problem::Twice { key: "binding.functions".to_owned(), found: format!("the number {number}") };
            r.note(node.span().start, problem);
        }
        numbers.insert(function, number);
    }
    let node = t.need(r, "row", "say how the settings of a row are named")?;
    let mut table = r.table(&node)?;
    let first = table.take("first").map_or(Some(1), |n| r.whole(&n, 0, 999));
    let count = table.need(r, "count", "how many rows the board has").and_then(|n| r.whole(&n, 1, 64));
    let pattern = |r: &mut Reader<'_>, table: &mut Table<'_>, key| {
        let node = table.need(r, key, "the name of this setting, with `{row}` for the row's number")?;
        let text = r.text(&node)?.to_owned();
        if text.matches("{row}").count() != 1 {
            r.note(node.span().start, Problem::NoRowMark { key: node.path.clone(), found: escaped(&text) });
            return None;
        }
        Some((node.span().start, node.path, text))
    };
    let function = pattern(r, &mut table, "function");
    let channel = pattern(r, &mut table, "channel");
    let (from, to) = (pattern(r, &mut table, "from"), pattern(r, &mut table, "to"));
    table.done(r);

    let (first, count) = (first?, count?);
    let patterns = [function?, channel?, from?, to?];
    let mut rows = Vec::new();
    for number in first..first + count {
        let mut of_row = Vec::new();
        for (at, path, pattern) in &patterns {
            let text = pattern.replace("{row}", &number.to_string());
            let Some(name) = SettingName::new(&text) else {
                r.note(*at, Problem::NotAName { found: escaped(&text) });
                return None;
            };
            names.push((*at, name.clone(), format!("{path} of row {number}")));
            of_row.push(name);
        }
        if let Ok([function, channel, from, to]) = <[SettingName; 4]>::try_from(of_row) {
            rows.push(BandNames { function: Some(function), channel, from, to });
        }
    }
    Some(BindingLayout::Rows { functions: numbers, free: free?, rows })
}
