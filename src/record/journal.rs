//! The journal of a craft: what a run was about to write, and what became of it.
//!
//! Promises: whatever is damaged, the craft stays usable and nothing that was announced is forgotten: every whole line
//! counts, and a line that is damaged stands in its place as such. A torn last line was never answered as stored, so
//! nothing acted on it. Must not be here: what the lines amount to (see `ledger`).

use super::lines::{self, Verdict};
use super::{Damage, JournalLine, RecordError, StoreJob};
use std::path::Path;

/// Written into every line that begins a run. Its lines carry a checksum each, an outcome after a restart names what
/// was read, and an old value may be unknown.
pub const SCHEMA: &str = "quadjig.journal/2";

/// The one before, without any of these: still read.
const BEFORE: &str = "quadjig.journal/1";

/// The journal's file in the craft's folder.
pub const FILE: &str = "journal.jsonl";

/// So many damaged lines are named.
const TOLD: usize = 10;

/// A journal, read.
#[derive(Debug, Clone, PartialEq)]
pub struct Journal {
    /// Every line that ends, in order.
    pub lines: Vec<JournalLine>,
    /// Whether something without a line feed follows them: a write that was cut off.
    pub torn: bool,
}

impl Journal {
    /// Reads a journal's bytes; `file` is named in errors.
    ///
    /// # Errors
    /// [`RecordError::Unreadable`] with the first line that another version wrote.
    pub fn parse(file: &Path, bytes: &[u8]) -> Result<Self, RecordError> {
        let lines::Read { lines, torn } = lines::read(file, bytes, |line: &JournalLine, summed| match line {
            JournalLine::Begin { schema, .. } if schema == SCHEMA && summed => Verdict::Fine,
            JournalLine::Begin { schema, .. } if schema == SCHEMA => Verdict::Damaged,
            JournalLine::Begin { schema, .. } if schema != BEFORE => Verdict::Foreign,
            _ => Verdict::Fine,
        })?;
        let lines = lines.into_iter().map(|line| line.unwrap_or_else(|line| JournalLine::Damaged { line })).collect();
        Ok(Self { lines, torn })
    }
}

/// The lines that are damaged, each said for itself; no more of them than a person reads.
pub(crate) fn damaged(lines: &[JournalLine]) -> impl Iterator<Item = Damage> {
    let one = |line: &JournalLine| match line {
        JournalLine::Damaged { line } => Some(Damage::Line { file: FILE, line: *line }),
        _ => None,
    };
    lines.iter().filter_map(one).take(TOLD)
}

impl JournalLine {
    /// The line for the disk.
    ///
    /// # Errors
    /// [`RecordError::Other`] for a value that JSON can't hold.
    pub fn store(&self) -> Result<StoreJob, RecordError> {
        lines::append(FILE, self)
    }
}
