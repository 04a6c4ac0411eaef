//! The idle that is stepped by hand, in few rows that stay in sight: a row a value, a column a corner, and another craft's.
//!
//! Promises: fits 80 columns with four motors, and says less where there is less room; what does not turn is a word.
//! Must not be here: how a start is judged.

use super::idle_cells::{Cell, cells};
use super::strip::{drawn, initials};
use crate::report::gate;
use crate::report::words::{columns, fit, once};
use crate::seam::ui::{Beside, StartSeen};

/// Columns of a value.
const VALUE: usize = 10;
/// Cells of a trace.
const TRACE: usize = 4;

/// The rows; below each value what another craft did at the same, under its name.
pub(super) fn rows(starts: &[StartSeen], beside: Option<&Beside>, width: usize) -> Vec<String> {
    let cells = cells(starts);
    let others = beside.map_or_else(Vec::new, |beside| self::cells(&beside.starts));
    let corners = once(cells.iter().map(|cell| cell.corner.as_str()));
    let room = width.saturating_sub(VALUE) / corners.len().max(1);
    let most = cells.iter().flat_map(|cell| &cell.trace).copied().max().unwrap_or(0);
    let named = |corner: &&str| {
        let name = if columns(corner) < room { (*corner).to_owned() } else { initials(corner) };
        padded(&name, room)
    };
    let head: String = corners.iter().map(named).collect();
    let mut rows = vec![row("idle", &head, width)];
    for of_value in cells.chunk_by(|one, other| one.pulse == other.pulse) {
        let all = |cells: &[&Cell]| -> String {
            let of = |corner: &&str| {
                let cell = cells.iter().find(|cell| cell.corner == **corner);
                padded(&cell.map_or_else(String::new, |cell| said(cell, room, most)), room)
            };
            corners.iter().map(of).collect()
        };
        let pulse = of_value[0].pulse;
        rows.push(row(&pulse.to_string(), &all(&of_value.iter().collect::<Vec<_>>()), width));
        let same: Vec<&Cell> = others.iter().filter(|cell| cell.pulse == pulse).collect();
        if let Some(beside) = beside.filter(|_| !same.is_empty()) {
            let name = fit(&gate::line(&beside.craft), VALUE - 3);
            rows.push(row(&name, &all(&same), width));
        }
    }
    rows
}

fn row(value: &str, cells: &str, width: usize) -> String {
    fit(&format!("  {}{cells}", padded(value, VALUE - 2)), width).trim_end().to_owned()
}

/// Speed, evenness and how the speed went, as far as there is room.
fn said(cell: &Cell, room: usize, most: u32) -> String {
    if cell.turned < cell.starts {
        let word = cell.judged.split(',').next().unwrap_or_default();
        return fit(word, room.saturating_sub(1));
    }
    let Some((_, speed)) = cell.speed else { return fit("seen to turn", room.saturating_sub(1)) };
    let uneven = cell.unevenness.map_or_else(String::new, |uneven| format!(" {:.1}%", uneven * 100.0));
    let forms = [
        format!("{speed:.0}{uneven} {}", drawn(&thin(&cell.trace), most)),
        format!("{speed:.0}{uneven}"),
        format!("{speed:.0}"),
    ];
    forms.into_iter().find(|form| columns(form) < room).unwrap_or_default()
}

/// So many speeds that are spread over the whole.
fn thin(trace: &[u32]) -> Vec<u32> {
    (0..TRACE).filter_map(|at| trace.get(at * trace.len() / TRACE).copied()).collect()
}

fn padded(text: &str, width: usize) -> String {
    format!("{text}{}", " ".repeat(width.saturating_sub(columns(text))))
}
