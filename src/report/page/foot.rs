//! The foot of the page: what has to be said beside the numbers, the board's last words, and how it is left.

use super::canvas::{Canvas, Ink};
use super::words;
use crate::bench::page::{Page, Said};
use crate::report::gate;
use crate::report::words::wrap;

/// How the page is left.
const LEFT_BY: &str = "any key leaves this page; it only looks";

/// Draws the foot on the whole of a canvas. The last row is `line` where somebody else needs it.
pub(super) fn foot(canvas: &mut Canvas<'_>, page: &Page, line: Option<&str>, small: bool) {
    let last = canvas.height().saturating_sub(1);
    let width = usize::from(canvas.width().saturating_sub(2));
    let notices = page.notice.iter().map(|notice| (true, gate::line(notice).into_owned())).chain(words::notices(page));
    // One line of the board's words always has its place.
    let most = last.saturating_sub(1);
    let mut row = 0;
    for (urgent, notice) in notices {
        let ink = if urgent { Ink::Alarm } else { Ink::Text };
        for text in wrap(&notice, width) {
            if row < most {
                canvas.put(1, row, &format!("{text} "), ink);
                row += 1;
            }
        }
    }
    let room = usize::from(last.saturating_sub(row));
    let said = &page.said[page.said.len().saturating_sub(room)..];
    for said in said {
        canvas.put(1, row, &says(said), Ink::Text);
        row += 1;
    }
    match line {
        Some(line) => canvas.put(1, last, &gate::line(line), Ink::Strong),
        None if small => canvas.put(1, last, &format!("{LEFT_BY}; 80 by 24 shows all"), Ink::Quiet),
        None => canvas.put(1, last, LEFT_BY, Ink::Quiet),
    };
}

fn says(said: &Said) -> String {
    let often = if said.times > 1 { format!(", {} times", said.times) } else { String::new() };
    format!("the board said {} ago{often}: \"{}\"", words::ago(said.ago), gate::line(&said.text))
}
