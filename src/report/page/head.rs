//! The head of the page: armed or not in large letters, and which craft this is over which wire.

use super::canvas::{Canvas, Ink};
use super::{labels, letters};
use crate::language::characters::named;
use crate::report::gate;
use crate::seam::page::{Armed, Page, SheetSeen, Wire};

/// Columns left of the letters.
const INDENT: u16 = 2;
/// Columns for which craft this is.
const BESIDE: u16 = 42;

/// How the page is left.
const LEFT_BY: &str = "only looking; any key leaves this page";

/// Draws the head; gives the rows that it takes.
pub(super) fn head(canvas: &mut Canvas<'_>, page: &Page, roomy: bool, small: bool) -> u16 {
    let word = labels::state(page);
    let (rows, wide) = letters::size(word, roomy);
    let above = u16::from(roomy);
    let tall = rows + above;
    let ink = match (page.wire, page.armed) {
        (Wire::Heard(_), Armed::No) => Ink::Strong,
        _ => Ink::Alarm,
    };
    let block = canvas.width().saturating_sub(BESIDE).max(wide.saturating_add(2 * INDENT).min(canvas.width()));
    canvas.rule(tall);
    if ink == Ink::Alarm {
        canvas.fill(0, 0, block, tall + 1, ink);
    }
    letters::word(canvas, INDENT, above, word, roomy, ink);
    let beside = block + 2;
    let end = canvas.width().saturating_sub(1);
    canvas.put(beside, 0, &named(&page.craft), Ink::Strong);
    if page.is_virtual {
        canvas.put_right(end, 0, "VIRTUAL", Ink::Warning);
    }
    let sheet = match &page.sheet {
        SheetSeen::Known(name) if *name != page.craft => format!(", sheet {}", gate::line(name)),
        _ => String::new(),
    };
    canvas.put(beside, 1, &format!("on {}{sheet}", gate::line(&page.port)), Ink::Text);
    let heard = if matches!(page.wire, Wire::Heard(_)) { Ink::Text } else { Ink::Alarm };
    canvas.put(beside, 2, &labels::wire(page), heard);
    canvas.put_right(end, tall, &format!(" {LEFT_BY}{} ", if small { "; 80 by 24 shows all" } else { "" }), Ink::Text);
    tall + 1
}
