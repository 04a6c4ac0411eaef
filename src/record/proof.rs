//! Proofs given at the bench, one a line, added and never changed.
//!
//! Promises: a proof of another schema is refused, not half understood; one that is damaged counts as not given. Must not be here: whether a
//! proof still stands (the plan compares what it depends on).

use super::lines::{self, Verdict};
use super::{Damage, Proof, RecordError, StoreJob};
use std::path::Path;

/// Written into every proof.
pub const SCHEMA: &str = "quadjig.proof/1";

/// The proofs' file in the craft's folder.
pub const FILE: &str = "measurements/proofs.jsonl";

/// Reads the proofs of a file's bytes; a torn last line was never answered as stored and counts as
/// not given, and a damaged one does not count either.
///
/// # Errors
/// [`RecordError::Unreadable`] with the first line that another version wrote.
pub fn parse(file: &Path, bytes: &[u8]) -> Result<(Vec<Proof>, Vec<Damage>), RecordError> {
    let judge = |proof: &Proof, _| if proof.schema == SCHEMA { Verdict::Fine } else { Verdict::Foreign };
    let lines::Read { lines, torn } = lines::read(file, bytes, judge)?;
    let mut damage = Vec::new();
    let kept = |line: Result<Proof, usize>| line.map_err(|line| damage.push(Damage::Line { file: FILE, line })).ok();
    let proofs = lines.into_iter().filter_map(kept).collect();
    damage.extend(torn.then_some(Damage::Torn(FILE)));
    Ok((proofs, damage))
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
