//! Settings of two crafts, or of one then and now, side by side.

use super::facts;
use crate::board::sheet::{Settings, Sheet};
use crate::board::value::Number;
use crate::plan::naming::Naming;
use crate::record::crafts::compare::{Comparison, Row};
use crate::report::gate;
use serde::Serialize;

/// What `craft compare` reports.
#[derive(Debug, Serialize)]
pub struct CompareJson {
    schema: &'static str,
    left: SideJson,
    right: SideJson,
    same: usize,
    differ: Vec<RowJson>,
    new: Vec<RowJson>,
    gone: Vec<RowJson>,
    defaults: Vec<RowJson>,
    own: Vec<RowJson>,
    counters: Vec<RowJson>,
}

/// One side.
#[derive(Debug, Clone, Serialize)]
pub struct SideJson {
    /// What it is called.
    pub name: String,
    /// Whether its board is a virtual one.
    pub is_virtual: bool,
    /// When it was read.
    pub at: String,
    /// Its firmware.
    pub firmware: String,
}

#[derive(Debug, Serialize)]
struct RowJson {
    on_board: String,
    setting: String,
    left: Option<Number>,
    right: Option<Number>,
}

/// Names and numbers as they are shown: by the sheet, where there is one.
#[derive(Debug, Clone, Copy)]
pub struct Words<'a> {
    /// The sheet.
    pub sheet: Option<&'a Sheet>,
    /// All settings of the right side.
    pub settings: &'a Settings,
}

impl Words<'_> {
    fn of(&self, row: &Row) -> (String, String, String) {
        let none = || "none".to_owned();
        let Some(sheet) = self.sheet else {
            let value = |value: Option<Number>| value.map_or_else(none, |value| value.to_string());
            return (row.name.to_string(), value(row.left), value(row.right));
        };
        let naming = Naming { sheet, then: self.settings, now: self.settings };
        let value = |value: Option<Number>| value.map_or_else(none, |value| naming.show(&row.name, value));
        (naming.describe(&row.name), value(row.left), value(row.right))
    }
}

/// As JSON.
#[must_use]
pub fn json(left: SideJson, right: SideJson, found: &Comparison, words: Words<'_>) -> CompareJson {
    let rows = |rows: &[Row]| {
        let one = |row: &Row| RowJson {
            on_board: row.name.to_string(),
            setting: words.of(row).0,
            left: row.left,
            right: row.right,
        };
        rows.iter().map(one).collect()
    };
    CompareJson {
        schema: "quadjig.craft-compare/1",
        left,
        right,
        same: found.same,
        differ: rows(&found.differ),
        new: rows(&found.new),
        gone: rows(&found.gone),
        defaults: rows(&found.defaults),
        own: rows(&found.own),
        counters: rows(&found.counters),
    }
}

/// As lines.
#[must_use]
pub fn text(left: &SideJson, right: &SideJson, found: &Comparison, words: Words<'_>, plain: bool) -> String {
    let mark = |side: &SideJson| if side.is_virtual { "  VIRTUAL" } else { "" };
    let side = |side: &SideJson| format!("{}, read {}{}", side.name, super::moment(&side.at), mark(side));
    let mut text = format!("left: {}\nright: {}\n", gate::line(&side(left)), gate::line(&side(right)));
    if left.firmware != right.firmware {
        text.push_str(&gate::line(&format!("firmware: {} to {}", left.firmware, right.firmware)));
        text.push('\n');
    }
    for (heading, rows) in [
        ("differ", &found.differ),
        ("new with this firmware, or on the right alone", &found.new),
        ("gone with this firmware, or on the left alone", &found.gone),
        ("never written by a run, so perhaps another default", &found.defaults),
        ("belong to the single craft, and may differ", &found.own),
        ("counters: they change without being written", &found.counters),
    ] {
        if rows.is_empty() {
            continue;
        }
        text.push_str(heading);
        text.push_str(":\n");
        let shown: Vec<(String, String)> = rows
            .iter()
            .map(|row| {
                let (name, left, right) = words.of(row);
                let name = if name == row.name.as_str() { name } else { format!("{name} ({})", row.name) };
                (gate::line(&name).into_owned(), gate::line(&format!("{left} | {right}")).into_owned())
            })
            .collect();
        text.push_str(&facts(&shown, plain));
    }
    let same = found.same;
    let end = if found.differs() {
        format!("{same} settings are the same.\n")
    } else {
        format!("No setting differs that is to be the same: {same} are.\n")
    };
    text + &end
}
