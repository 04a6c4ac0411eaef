//! A series as a table: its crafts one below the other, their figures side by side, and what stands far from the others.
//!
//! Promises: an outlier is marked by a sign and in words, never by colour; what was not measured is left open; whatever a
//! file said has passed the gate. Must not be here: how the figures are found (see `record::series::rows`).

use super::crafts::{facts, moment, short};
use super::{gate, words};
use crate::measure::outliers::{self, outliers};
use crate::plan::titles::count;
use crate::record::crafts::runs::Run;
use crate::record::series::rows::Row;
use crate::record::series::{Common, SeriesName};
use serde::Serialize;
use std::fmt::Write;

/// A pack's volts and a time are told in steps of this: see [`outliers`].
const VOLTS: f64 = 0.01;
const SECONDS: f64 = 1.0;
/// Columns for a craft's name.
const NAME: usize = 24;
/// Columns for how its run ended; plain lines and JSON have it whole.
const ENDED: usize = 48;

/// All that is told.
#[derive(Debug, Clone, Copy)]
pub struct Table<'a> {
    /// The series.
    pub name: &'a SeriesName,
    /// What it was begun with.
    pub common: &'a Common,
    /// Its crafts.
    pub rows: &'a [Row],
}

/// What `craft series` reports.
#[derive(Debug, Serialize)]
pub struct TableJson {
    schema: &'static str,
    series: String,
    recipe: String,
    recipe_hash: String,
    with: Vec<String>,
    began: String,
    outlier_above: f64,
    crafts: Vec<CraftJson>,
}

#[derive(Debug, Serialize)]
struct CraftJson {
    number: usize,
    craft: String,
    id: String,
    is_virtual: bool,
    runs: usize,
    began: Option<String>,
    outcome: Option<String>,
    done: bool,
    idle_us: Option<i32>,
    uneven: Option<f64>,
    uneven_at: Option<String>,
    volts: Option<f64>,
    cut_ms: Option<f64>,
    failsafe_ms: Option<f64>,
    seconds: Option<f64>,
    outliers: Vec<&'static str>,
    unlike_the_first: Option<Vec<String>>,
    damage: Vec<String>,
}

/// A column: its name, the figure of a row, and the smallest difference that it tells.
struct Column {
    name: &'static str,
    of: fn(&Row) -> Option<f64>,
    resolution: fn(&[Row]) -> f64,
    shown: fn(f64) -> String,
}

const COLUMNS: [Column; 6] = [
    Column {
        name: "idle",
        of: |row| row.figures.idle.map(|(idle, _)| f64::from(idle)),
        resolution: |rows| {
            let steps = rows.iter().filter_map(|row| row.figures.idle?.1);
            f64::from(steps.max().unwrap_or(1))
        },
        shown: |value| format!("{value:.0} us"),
    },
    Column {
        name: "uneven",
        of: |row| row.figures.uneven.as_ref().map(|(by, _)| *by),
        resolution: |_| 0.0,
        shown: |value| format!("{:.1} %", value * 100.0),
    },
    Column {
        name: "volts",
        of: |row| row.figures.volts,
        resolution: |_| VOLTS,
        shown: |value| format!("{value:.2} V"),
    },
    Column {
        name: "cut",
        of: |row| row.figures.cut.map(|(_, most)| most),
        resolution: |rows| widest(rows.iter().filter_map(|row| row.figures.cut)),
        shown: |value| format!("{value:.0} ms"),
    },
    Column {
        name: "failsafe",
        of: |row| row.figures.failsafe.map(|(_, most)| most),
        resolution: |rows| widest(rows.iter().filter_map(|row| row.figures.failsafe)),
        shown: |value| format!("{value:.0} ms"),
    },
    Column {
        name: "took",
        of: |row| row.figures.seconds,
        resolution: |_| SECONDS,
        shown: |value| format!("{value:.0} s"),
    },
];

/// A time is known to its interval.
fn widest(intervals: impl Iterator<Item = (f64, f64)>) -> f64 {
    intervals.map(|(least, most)| most - least).fold(0.0, f64::max)
}

/// Whether the figure of each column stands out, row by row.
fn marks(rows: &[Row]) -> Vec<[bool; COLUMNS.len()]> {
    let mut marks = vec![[false; COLUMNS.len()]; rows.len()];
    for (at, column) in COLUMNS.iter().enumerate() {
        let figures: Vec<f64> = rows.iter().map(|row| (column.of)(row).unwrap_or(f64::NAN)).collect();
        for (row, far) in outliers(&figures, (column.resolution)(rows)).into_iter().enumerate() {
            marks[row][at] = far;
        }
    }
    marks
}

/// As JSON.
#[must_use]
pub fn json(table: Table<'_>) -> TableJson {
    let Table { name, common, rows } = table;
    let crafts = rows.iter().zip(marks(rows)).enumerate().map(|(at, (row, far))| CraftJson {
        number: at + 1,
        craft: row.called.clone(),
        id: row.board.told(),
        is_virtual: row.board.is_virtual(),
        runs: row.runs.len(),
        began: row.runs.first().map(|run| run.at.clone()),
        outcome: row.last().and_then(|run| Some(run.end.as_ref()?.outcome.clone())),
        done: row.is_done(),
        idle_us: row.figures.idle.map(|(idle, _)| idle),
        uneven: row.figures.uneven.as_ref().map(|(by, _)| *by),
        uneven_at: row.figures.uneven.as_ref().map(|(_, corner)| corner.clone()),
        volts: row.figures.volts,
        cut_ms: row.figures.cut.map(|(_, most)| most),
        failsafe_ms: row.figures.failsafe.map(|(_, most)| most),
        seconds: row.figures.seconds,
        outliers: COLUMNS.iter().zip(far).filter(|(_, far)| *far).map(|(column, _)| column.name).collect(),
        unlike_the_first: row.differs.as_ref().map(|names| names.iter().map(ToString::to_string).collect()),
        damage: row.damage.clone(),
    });
    TableJson {
        schema: "quadjig.series-table/1",
        series: name.to_string(),
        recipe: common.recipe.clone(),
        recipe_hash: common.recipe_hash.clone(),
        with: common.with.clone(),
        began: common.at.clone(),
        outlier_above: outliers::FAR,
        crafts: crafts.collect(),
    }
}

/// As lines.
#[must_use]
pub fn text(table: Table<'_>, plain: bool) -> String {
    let Table { name, common, rows } = table;
    let done = rows.iter().filter(|row| row.is_done()).count();
    let mut text = format!(
        "Series {name}: \"{}\"  {}  begun {}: {}, {done} done\n",
        gate::line(&common.recipe),
        short(&common.recipe_hash),
        moment(&common.at),
        count(rows.len(), "craft")
    );
    for with in &common.with {
        // Writing into a string cannot fail.
        let _ = writeln!(text, "  with {}", gate::line(with));
    }
    let marks = marks(rows);
    if plain {
        for (at, (row, far)) in rows.iter().zip(&marks).enumerate() {
            text.push_str(&facts(&told(at, row, *far), true));
        }
    } else {
        text.push_str(&lines(rows, &marks));
    }
    if marks.iter().flatten().any(|far| *far) {
        let _ = writeln!(
            text,
            "* far from the others: modified z-score above {} (Iglewicz and Hoaglin, 1993). Look at that craft.",
            outliers::FAR
        );
    }
    text
}

fn name(row: &Row) -> String {
    let mark = if row.board.is_virtual() { " VIRTUAL" } else { "" };
    format!("{}{mark}", gate::line(&row.called))
}

fn unlike(at: usize, row: &Row) -> String {
    match &row.differs {
        _ if at == 0 => "the first".to_owned(),
        None => "?".to_owned(),
        Some(names) if names.is_empty() => "as the first".to_owned(),
        Some(names) => format!("{} unlike", names.len()),
    }
}

fn outcome(run: Option<&Run>) -> String {
    match run.and_then(|run| run.end.as_ref()) {
        Some(end) => gate::line(&end.outcome).into_owned(),
        None => "OPEN: cut off, see `quadjig recover`".to_owned(),
    }
}

/// One craft, fact by fact.
fn told(at: usize, row: &Row, far: [bool; COLUMNS.len()]) -> Vec<(String, String)> {
    let mut all = vec![(format!("craft {}", at + 1), name(row)), ("id".to_owned(), row.board.told())];
    for (column, far) in COLUMNS.iter().zip(far) {
        let value = (column.of)(row).map_or_else(|| "not measured".to_owned(), column.shown);
        let far = if far { ", far from the others" } else { "" };
        all.push((column.name.to_owned(), format!("{value}{far}")));
    }
    if let Some((_, corner)) = &row.figures.uneven {
        all.push(("uneven at".to_owned(), gate::line(corner).into_owned()));
    }
    all.push(("settings".to_owned(), unlike(at, row)));
    for name in row.differs.iter().flatten() {
        all.push(("unlike the first".to_owned(), name.to_string()));
    }
    all.push(("outcome".to_owned(), outcome(row.last())));
    all.extend(row.damage.iter().map(|damage| ("damage".to_owned(), gate::line(damage).into_owned())));
    all
}

/// The table, and below it what has no column.
fn lines(rows: &[Row], marks: &[[bool; COLUMNS.len()]]) -> String {
    let mut text = format!("  {:>2}  {:<NAME$}", "", "craft");
    for column in &COLUMNS {
        let _ = write!(text, " {:>8} ", column.name);
    }
    let _ = writeln!(text, " {:<12} outcome", "settings");
    for (at, (row, far)) in rows.iter().zip(marks).enumerate() {
        let called = words::fit(&name(row), NAME);
        let pad = " ".repeat(NAME.saturating_sub(words::columns(&called)));
        let _ = write!(text, "  {:>2}  {called}{pad}", at + 1);
        for (column, far) in COLUMNS.iter().zip(far) {
            let value = (column.of)(row).map_or_else(|| "-".to_owned(), column.shown);
            let _ = write!(text, " {value:>8}{}", if *far { '*' } else { ' ' });
        }
        let _ = writeln!(text, " {:<12} {}", unlike(at, row), words::fit(&outcome(row.last()), ENDED));
    }
    for (at, row) in rows.iter().enumerate() {
        if at > 0 && row.differs.as_ref().is_some_and(|names| !names.is_empty()) {
            let names: Vec<&str> = row.differs.iter().flatten().map(crate::board::value::SettingName::as_str).collect();
            let _ = writeln!(text, "  {:>2}  unlike the first: {}", at + 1, names.join(", "));
        }
        for damage in &row.damage {
            let _ = writeln!(text, "  {:>2}  damage: {}", at + 1, gate::line(damage));
        }
    }
    text
}
