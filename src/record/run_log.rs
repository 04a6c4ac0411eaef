//! What a run saw and was told, each with its moment: measurements with their samples, attestations, stops.
//!
//! Promises: one file a run, one line a thing, each with its checksum; what was measured and what was said by a person
//! stand apart. Nothing on the board depends on it. Must not be here: what the plan may conclude (see `proof`).

use super::lines::{self, Verdict};
use super::{RecordError, StoreJob};
use serde::{Deserialize, Serialize};
use std::path::Path;

/// Written into every line.
pub const SCHEMA: &str = "quadjig.run-log/1";

/// One thing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// [`SCHEMA`].
    pub schema: String,
    /// When, RFC 3339.
    pub at: String,
    /// What.
    pub seen: Seen,
}

/// See the module.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "what")]
#[expect(missing_docs, reason = "the fields are named for the reader of the file")]
pub enum Seen {
    /// A step began.
    Step { title: String },
    /// A signal told it.
    Measured { text: String },
    /// A person said it.
    Attested { text: String },
    /// It was as it should be.
    Good { text: String },
    /// A warning that was shown.
    Warning { text: String },
    /// One start of all motors, as each was seen.
    Start { pulse: i32, start: u32, motors: Vec<Motor> },
    /// A stop was sent.
    Stop { reason: String },
    /// After a stop: whether all outputs were seen at rest.
    AtRest { seen: bool },
}

/// One motor in one start.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Motor {
    /// Corner.
    pub corner: String,
    /// Median speed in rpm, if measured.
    pub rpm: Option<f64>,
    /// Coefficient of variation of the speed, if measured.
    pub unevenness: Option<f64>,
    /// How it was judged.
    pub judged: String,
}

/// The file of a run, in the craft's folder.
#[must_use]
pub fn file(run: &str) -> String {
    let stem: String = run.chars().filter(char::is_ascii_alphanumeric).take(40).collect();
    format!("runs/{}.jsonl", if stem.is_empty() { "unnamed" } else { &stem })
}

/// Lines for the end of a run's file.
///
/// # Errors
/// [`RecordError::Other`] for a value that JSON can't hold.
pub fn store(file: &str, entries: &[Entry]) -> Result<StoreJob, RecordError> {
    lines::append_all(file, entries)
}

/// What a run's file says, and whether some of it is damaged or torn.
///
/// # Errors
/// [`RecordError::Unreadable`] with the first line that another version wrote.
pub fn parse(file: &Path, bytes: &[u8]) -> Result<(Vec<Entry>, bool), RecordError> {
    let judge = |entry: &Entry, summed| match (entry.schema == SCHEMA, summed) {
        (true, true) => Verdict::Fine,
        (true, false) => Verdict::Damaged,
        (false, _) => Verdict::Foreign,
    };
    let lines::Read { lines, torn } = lines::read(file, bytes, judge)?;
    let damaged = torn || lines.iter().any(Result::is_err);
    Ok((lines.into_iter().flatten().collect(), damaged))
}
