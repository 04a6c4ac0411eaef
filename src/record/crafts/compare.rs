//! The settings of two crafts side by side, or of one then and now.
//!
//! Promises: every setting of either stands in exactly one list; what belongs to the single craft, and what counts by
//! itself, is told apart and is no difference. Must not be here: names and units of a sheet.

use super::runs::Run;
use crate::board::sheet::Settings;
use crate::board::value::{Number, SettingName};
use std::collections::{BTreeMap, BTreeSet};

/// A setting with its two values; one that a side does not have has none there.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// The board's own name.
    pub name: SettingName,
    /// On the left.
    pub left: Option<Number>,
    /// On the right.
    pub right: Option<Number>,
}

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Comparison {
    /// How many are the same.
    pub same: usize,
    /// Settings that differ.
    pub differ: Vec<Row>,
    /// On the right alone.
    pub new: Vec<Row>,
    /// On the left alone.
    pub gone: Vec<Row>,
    /// Differ between two firmwares, and no run ever wrote them: as a changed default would.
    pub defaults: Vec<Row>,
    /// Belong to the single craft, and differ.
    pub own: Vec<Row>,
    /// Change without being written, and differ.
    pub counters: Vec<Row>,
}

impl Comparison {
    /// Whether anything differs that is to be the same.
    #[must_use]
    pub fn differs(&self) -> bool {
        [&self.differ, &self.new, &self.gone, &self.defaults].into_iter().any(|rows| !rows.is_empty())
    }
}

/// What is known beside the values.
#[derive(Debug, Clone, Default)]
pub struct Known {
    /// Settings that belong to the single craft; none where both sides are the same one.
    pub own: BTreeSet<SettingName>,
    /// Settings that change without being written.
    pub counters: BTreeSet<SettingName>,
    /// Where the firmware of both sides differs: what was written by any run of theirs.
    pub written: Option<BTreeSet<SettingName>>,
}

/// Compares.
#[must_use]
pub fn compare(left: &Settings, right: &Settings, known: &Known) -> Comparison {
    let mut found = Comparison::default();
    let names: BTreeSet<&SettingName> = left.keys().chain(right.keys()).collect();
    for name in names {
        let row = Row { name: name.clone(), left: left.get(name).copied(), right: right.get(name).copied() };
        let list = match (row.left, row.right) {
            (Some(left), Some(right)) if left.same(right) => {
                found.same += 1;
                continue;
            }
            (None, _) => &mut found.new,
            (_, None) => &mut found.gone,
            _ if known.own.contains(name) => &mut found.own,
            _ if known.counters.contains(name) => &mut found.counters,
            _ if known.written.as_ref().is_some_and(|written| !written.contains(name)) => &mut found.defaults,
            _ => &mut found.differ,
        };
        list.push(row);
    }
    found
}

/// Names that differ between two readings between which none of these was written.
#[must_use]
pub fn counting(first: &Settings, second: &Settings, written: &BTreeSet<SettingName>) -> BTreeSet<SettingName> {
    let both = first.iter().filter_map(|(name, was)| second.get(name).map(|is| (name, was, is)));
    both.filter(|(name, was, is)| !was.same(**is) && !written.contains(*name)).map(|(name, ..)| name.clone()).collect()
}

/// Names that runs announced to write, with the last value of each.
#[must_use]
pub fn written<'a>(runs: impl IntoIterator<Item = &'a Run>) -> BTreeMap<SettingName, Number> {
    let writes = runs.into_iter().flat_map(|run| &run.writes);
    writes.filter_map(|write| Some((SettingName::new(&write.name)?, write.to))).collect()
}
