//! The live page as it looks: on a screen of its own, or as lines for a screen reader.
//!
//! Promises: meaning is never carried by colour alone; text from a board passes the gate; only what changed leaves
//! for the terminal. Must not be here: what stands on the page, terminals.

mod battery;
mod canvas;
mod channels;
mod craft;
mod facts;
mod foot;
mod head;
mod history;
mod labels;
mod letters;
mod plain;
mod whole;

pub use history::History;
pub use whole::draw;

use super::ascii;
use super::style::Style;
use crate::world::screen::PageDraw;

/// What draws the page in this style.
#[must_use]
pub fn drawer(style: Style) -> Box<dyn PageDraw> {
    let draws: Box<dyn PageDraw> =
        if style.plain { Box::new(plain::Plain::default()) } else { Box::new(whole::Whole::new(style.colour)) };
    if style.ascii { Box::new(ascii::Pages(draws)) } else { draws }
}
