//! Proofs given at the bench, one a line, added and never changed.
//!
//! Promises: a proof of another schema is refused, not half understood. Must not be here: whether a
//! proof still stands (the plan compares what it depends on).

use super::{Proof, RecordError, StoreJob, lines};
use std::path::Path;

/// Written into every proof.
pub const SCHEMA: &str = "quadjig.proof/1";

/// The proofs' file in the craft's folder.
pub const FILE: &str = "measurements/proofs.jsonl";

/// Reads the proofs of a file's bytes; a torn last line was never answered as stored and counts as
/// not given.
///
/// # Errors
/// [`RecordError::Unreadable`] with the first line that is no proof of this schema.
pub fn parse(file: &Path, bytes: &[u8]) -> Result<Vec<Proof>, RecordError> {
    lines::read(file, bytes, |proof: &Proof| proof.schema == SCHEMA).map(|read| read.lines)
}

impl Proof {
    /// The line for the disk.
    ///
    /// # Errors
    /// [`RecordError::Other`] for a value that JSON can't hold.
    pub fn store(&self) -> Result<StoreJob, RecordError> {
        lines::append(FILE, self)
    }
}
