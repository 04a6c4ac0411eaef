//! Which board sheets were accepted on this computer, by their hashes: one file beside the records of all crafts.
//!
//! Promises: a line that cannot be read accepts nothing; of a sheet that changed by a byte nothing is known. Must not be
//! here: who accepts a sheet.

use serde::{Deserialize, Serialize};

/// The file, in the folder of the craft records.
pub const FILE: &str = "accepted-sheets.jsonl";
/// Written into every line.
pub const SCHEMA: &str = "quadjig.accepted-sheet/1";

/// A sheet that was accepted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AcceptedSheet {
    /// [`SCHEMA`].
    pub schema: String,
    /// When, RFC 3339.
    pub at: String,
    /// The board that it describes.
    pub board: String,
    /// The file that it was read from.
    pub from: String,
    /// Its hash.
    pub sha256: String,
    /// What it said, so that of the next one what changed can be shown.
    #[serde(default)]
    pub text: String,
}

/// The sheets that a file names.
#[must_use]
pub fn parse(bytes: &[u8]) -> Vec<AcceptedSheet> {
    let lines = bytes.split(|byte| *byte == b'\n');
    lines
        .filter_map(|line| serde_json::from_slice(line).ok())
        .filter(|one: &AcceptedSheet| one.schema == SCHEMA)
        .collect()
}

/// The file with one sheet more.
///
/// # Errors
/// What cannot be written as JSON.
pub fn with(mut bytes: Vec<u8>, sheet: &AcceptedSheet) -> Result<Vec<u8>, serde_json::Error> {
    if bytes.last().is_some_and(|last| *last != b'\n') {
        bytes.push(b'\n');
    }
    bytes.extend(serde_json::to_vec(sheet)?);
    bytes.push(b'\n');
    Ok(bytes)
}
