//! Proofs given at the bench, one a line, added and never changed.
//!
//! Promises: a proof of another schema is refused, not half understood; one that is damaged counts as not given. Must not be here: whether a
//! proof still stands (the plan compares what it depends on).

use super::crafts::repair::ProofKind;
use super::lines::{self, Verdict};
use super::{Damage, Proof, RecordError, StoreJob};
use std::path::Path;

/// Written into every proof.
pub const SCHEMA: &str = "quadjig.proof/1";

/// The proofs' file in the craft's folder.
pub const FILE: &str = "measurements/proofs.jsonl";

/// A proof with its line, from 0.
pub type Numbered = (usize, Proof);

/// Reads the proofs of a file's bytes, each with its line from 0; a torn last line was never answered as stored and counts as
/// not given, and a damaged one does not count either.
///
/// # Errors
/// [`RecordError::Unreadable`] with the first line that another version wrote.
pub fn parse(file: &Path, bytes: &[u8]) -> Result<(Vec<Numbered>, Vec<Damage>), RecordError> {
    let lines::Read { lines, torn } = lines::read(file, bytes, judge)?;
    let mut damage = Vec::new();
    let kept = |(at, line): (usize, Result<Proof, usize>)| {
        line.map(|proof| (at, proof)).map_err(|line| damage.push(Damage::Line { file: FILE, line })).ok()
    };
    let proofs = lines.into_iter().enumerate().filter_map(kept).collect();
    damage.extend(torn.then_some(Damage::Torn(FILE)));
    Ok((proofs, damage))
}

/// The last whole proof of each kind, with its line from 0. Only these lines are judged: a long record is not read whole.
///
/// # Errors
/// [`RecordError::Unreadable`] with a line that another version wrote.
pub fn last_of_each(file: &Path, bytes: &[u8]) -> Result<Vec<Numbered>, RecordError> {
    let whole = &bytes[..lines::whole(bytes)];
    let mut left = ProofKind::ALL.to_vec();
    let mut found = Vec::new();
    let (mut line, mut at) = (lines::count(whole), whole.len());
    for text in whole.split_inclusive(|byte| *byte == b'\n').rev() {
        (line, at) = (line - 1, at - text.len());
        // A word that stands in the line may mean more than it says: then the line is read, and is of its own kind.
        let Some(kind) = named(text).find_map(|word| left.iter().find(|kind| kind.word().as_bytes() == word)).copied()
        else {
            continue;
        };
        let judge = |proof: &Proof, summed: bool| match judge(proof, summed) {
            Verdict::Fine if !summed && lines::has_sums(&whole[..at]) => Verdict::Damaged,
            verdict => verdict,
        };
        let read = lines::read(file, text, judge).map_err(|error| match error {
            RecordError::Unreadable { file, .. } => RecordError::Unreadable { file, line: line + 1 },
            other => other,
        })?;
        let Some(Ok(proof)) = read.lines.into_iter().next() else { continue };
        if ProofKind::of(&proof.subject) == kind {
            left.retain(|other| *other != kind);
            found.push((line, proof));
        }
    }
    Ok(found)
}

/// The words that a line has where a proof's subject stands.
fn named(line: &[u8]) -> impl Iterator<Item = &[u8]> {
    const BEFORE: &[u8] = b"{\"what\":\"";
    let places = line.windows(BEFORE.len()).enumerate().filter(|(_, window)| *window == BEFORE);
    places.filter_map(|(at, _)| line[at + BEFORE.len()..].split(|byte| *byte == b'"').next())
}

fn judge(proof: &Proof, _: bool) -> Verdict {
    if proof.schema == SCHEMA { Verdict::Fine } else { Verdict::Foreign }
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
