//! The foot of the page: what has to be said beside the numbers, and the board's last words.

use super::canvas::{Canvas, Ink};
use super::labels;
use crate::report::gate;
use crate::report::words::wrap;
use crate::seam::page::{BoardText, Page};

/// Draws the foot on the whole of a canvas. The last row is `line` where somebody else needs it.
pub(super) fn foot(canvas: &mut Canvas<'_>, page: &Page, line: Option<&str>) {
    let rows = canvas.height().saturating_sub(u16::from(line.is_some()));
    let width = usize::from(canvas.width().saturating_sub(2));
    // The board's last words always have their place.
    let most = rows.saturating_sub(u16::from(!page.said.is_empty()));
    let mut row = 0;
    for (urgent, notice) in labels::notices(page) {
        let ink = if urgent { Ink::Alarm } else { Ink::Text };
        for text in wrap(&notice, width) {
            if row < most {
                canvas.put(1, row, &format!("{text} "), ink);
                row += 1;
            }
        }
    }
    let room = usize::from(rows.saturating_sub(row));
    for said in &page.said[page.said.len().saturating_sub(room)..] {
        canvas.put(1, row, &says(said), Ink::Text);
        row += 1;
    }
    if let Some(line) = line {
        canvas.put(1, rows, &gate::line(line), Ink::Strong);
    }
}

fn says(said: &BoardText) -> String {
    let often = if said.times > 1 { format!(", {} times", said.times) } else { String::new() };
    format!("the board said {} ago{often}: \"{}\"", labels::ago(said.ago), gate::line(&said.text))
}
