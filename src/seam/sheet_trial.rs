//! What came of a sheet that was tried on a board.
//!
//! Must not be here: trying it (see the bench), how it is shown (see the report).

use crate::board::console::Capability;
use crate::board::sheet::Settings;
use serde::Serialize;

/// A line of a sheet that its board contradicts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Contradiction {
    /// The line, such as `settings.idle`.
    pub line: String,
    /// What the sheet says.
    pub sheet: String,
    /// What the board says.
    pub board: String,
}

/// One reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Of what.
    pub need: Capability,
    /// What was understood of the answer, or why nothing was.
    pub understood: Result<String, String>,
}

/// What came of a trial.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Trial {
    /// Each reading, in the order in which it was tried.
    pub readings: Vec<Reading>,
    /// Everything that the board holds.
    pub settings: Settings,
    /// Why the sheet is not for this board, if it is not.
    pub mismatch: Option<String>,
    /// What the board says otherwise than the sheet.
    pub contradictions: Vec<Contradiction>,
    /// Every byte that came meanwhile.
    pub came: Vec<u8>,
}
