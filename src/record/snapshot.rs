//! Snapshots: copies of all settings of a board, one file each, never changed afterwards.
//!
//! Promises: what was written is read as the same values. Must not be here: comparing two, or
//! bringing one back.

use super::{RecordError, Snapshot, StoreJob, lines};
use crate::board::sheet::Settings;
use crate::board::signals::Identity;
use std::path::Path;

/// Written into every snapshot.
pub const SCHEMA: &str = "quadjig.snapshot/1";

impl Snapshot {
    /// A copy taken at this moment (RFC 3339).
    #[must_use]
    pub fn new(taken: String, board: Identity, settings: Settings) -> Self {
        Self { schema: SCHEMA.to_owned(), taken, board, settings }
    }

    /// Its file in the craft's folder, named after the moment: `snapshots/20260301T101500Z.json`.
    #[must_use]
    pub fn file(&self) -> String {
        let fits = |c: &char| c.is_ascii_alphanumeric();
        let stem: String = self.taken.chars().filter(fits).take(40).collect();
        format!("snapshots/{}.json", if stem.is_empty() { "undated" } else { &stem })
    }

    /// Reads a snapshot's bytes.
    ///
    /// # Errors
    /// [`RecordError::Unreadable`] with the line where it is no snapshot of this schema.
    pub fn parse(file: &Path, bytes: &[u8]) -> Result<Self, RecordError> {
        lines::read_file(file, bytes, |found: &Self| found.schema == SCHEMA)
    }

    /// The file for the disk.
    ///
    /// # Errors
    /// [`RecordError::Other`] for a value that JSON can't hold.
    pub fn store(&self) -> Result<StoreJob, RecordError> {
        lines::replace(&self.file(), self)
    }
}
