//! What a run is given: read and checked documents, never files.

use super::super::seam::PortName;
use crate::board::radio_card::RadioCard;
use crate::board::sheet::Sheet;
use crate::language::recipe::Recipe;
use crate::measure::time::Time;
use std::cell::Cell;

/// Turns the bench's clock into dates.
#[derive(Debug, Clone, Copy)]
pub struct WallClock {
    /// The date at time zero of the bench's clock.
    pub started: jiff::Timestamp,
}

impl WallClock {
    /// The date of a moment, RFC 3339, to the millisecond.
    #[must_use]
    pub fn at(&self, now: Time) -> String {
        let micros = i64::try_from(now.0).unwrap_or(i64::MAX);
        let at = self.started.saturating_add(jiff::SignedDuration::from_micros(micros)).unwrap_or(self.started);
        at.round(jiff::Unit::Millisecond).unwrap_or(at).to_string()
    }
}

/// See the module.
#[derive(Debug)]
pub struct RunJob {
    /// The recipe, without errors.
    pub recipe: Recipe,
    /// Sheets to choose from by what the board says of itself.
    pub sheets: Vec<Sheet>,
    /// The radio card, empty where there is none yet.
    pub card: RadioCard,
    /// The text of the card's file, for writing it back with its comments; `None`: a new card.
    pub card_text: Option<String>,
    /// Whether a file is there to write the card to.
    pub card_file: bool,
    /// Where the board is.
    pub port: PortName,
    /// Dates.
    pub clock: WallClock,
    /// Name of the run, for the journal.
    pub name: String,
    /// Whether a run has begun in the journal, so that an end belongs into it.
    pub begun: Cell<bool>,
    /// Whether the closing words were said.
    pub closed: Cell<bool>,
}
