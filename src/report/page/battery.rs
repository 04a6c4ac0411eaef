//! The battery: volts of one cell in large digits, pack and current beside them.

use super::canvas::{Canvas, Ink};
use super::{labels, letters};
use crate::seam::page::Page;

/// Draws the battery.
pub(super) fn battery(canvas: &mut Canvas<'_>, page: &Page, roomy: bool) {
    let battery = &page.battery;
    let amps = battery.centiamps.map(labels::amps);
    let Some(cell) = battery.cell_millivolts() else {
        canvas.put(0, 0, "battery", Ink::Quiet);
        canvas.put(8, 0, &labels::pack(battery), Ink::Strong);
        let known = if battery.inside.is_none() && battery.millivolts.is_some() { "in or out not known" } else { "" };
        let more = [known.to_owned(), labels::cells(battery), amps.unwrap_or_default()];
        for (row, text) in (1..).zip(more.iter().filter(|text| !text.is_empty())) {
            canvas.put(8, row, text, Ink::Text);
        }
        return;
    };
    let digits = labels::volts(cell);
    let (_, wide) = letters::size(&digits, roomy);
    canvas.put(0, 0, "battery, volts a cell", Ink::Quiet);
    letters::word(canvas, 0, 1, &digits, roomy, Ink::Strong);
    let beside = [labels::pack(battery), labels::cells(battery), amps.unwrap_or_default()];
    for (row, text) in (1..).zip(beside) {
        canvas.put(wide + 2, row, &text, Ink::Text);
    }
}
