//! The journal of a craft: what a run was about to write, and what became of it.
//!
//! Promises: a run whose end is missing is found, with every intent and how far it came; a torn last
//! line was never answered as stored, so nothing acted on it and it counts as not written.
//! Must not be here: what to do about an interrupted run.

use super::{CraftRecord, Intent, JournalLine, RecordError, StoreJob, WriteState, lines};
use crate::board::signals::Identity;
use crate::board::value::{Number, SettingName};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// Written into every line that begins a run.
pub const SCHEMA: &str = "quadjig.journal/1";

/// The journal's file in the craft's folder.
pub const FILE: &str = "journal.jsonl";

/// A journal, read.
#[derive(Debug, Clone, PartialEq)]
pub struct Journal {
    /// Every whole line, in order.
    pub lines: Vec<JournalLine>,
    /// Bytes of the whole lines.
    pub whole: usize,
    /// Whether something without a line feed follows them: a write that was cut off.
    pub torn: bool,
}

impl Journal {
    /// Reads a journal's bytes; `file` is named in errors.
    ///
    /// # Errors
    /// [`RecordError::Unreadable`] with the first line that is no record, or begins a run under a
    /// schema that this version does not know.
    pub fn parse(file: &Path, bytes: &[u8]) -> Result<Self, RecordError> {
        let known = |line: &JournalLine| !matches!(line, JournalLine::Begin { schema, .. } if schema != SCHEMA);
        let lines::Read { lines, whole } = lines::read(file, bytes, known)?;
        Ok(Self { lines, whole, torn: whole < bytes.len() })
    }
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

/// A run that began and never ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Interrupted {
    /// The run's own name.
    pub run: String,
    /// When it began, RFC 3339.
    pub at: String,
    /// Its recipe.
    pub recipe: String,
    /// The plan's fingerprint.
    pub fingerprint: String,
    /// Snapshot taken at its beginning, relative to the craft's folder.
    pub snapshot: String,
    /// The board as it was then.
    pub board: Identity,
    /// Everything that it was about to write, in order.
    pub intents: Vec<Unfinished>,
}

impl Interrupted {
    /// The intents of which nobody knows whether they are on the board.
    pub fn open(&self) -> impl Iterator<Item = &Unfinished> {
        self.intents.iter().filter(|intent| intent.is_open())
    }
}

/// Writes of one step, and how far they came.
#[derive(Debug, Clone, PartialEq)]
pub struct Unfinished {
    /// Step from 1.
    pub step: usize,
    /// The settings.
    pub writes: Vec<Intent>,
    /// The last state that was noted; `None`: none was.
    pub state: Option<WriteState>,
}

impl Unfinished {
    /// Whether they were never read back as written.
    #[must_use]
    pub fn is_open(&self) -> bool {
        matches!(self.state, None | Some(WriteState::Accepted | WriteState::Failed))
    }
}

/// The last run of a craft, if it began and never ended.
#[must_use]
pub fn interrupted(record: &CraftRecord) -> Option<Interrupted> {
    let last = record.journal.iter().rposition(|line| matches!(line, JournalLine::Begin { .. }))?;
    let JournalLine::Begin { run, at, recipe, fingerprint, snapshot, board, .. } = &record.journal[last] else {
        return None;
    };
    let mut intents: Vec<Unfinished> = Vec::new();
    for line in &record.journal[last + 1..] {
        match line {
            JournalLine::Intent { step, writes, .. } => {
                intents.push(Unfinished { step: *step, writes: writes.clone(), state: None });
            }
            JournalLine::Outcome { step, state, .. } => {
                // A step may write more than once, as a search does: an outcome belongs to the latest.
                if let Some(intent) = intents.iter_mut().rev().find(|intent| intent.step == *step) {
                    intent.state = Some(*state);
                }
            }
            JournalLine::End { .. } => return None,
            JournalLine::Begin { .. } => {}
        }
    }
    Some(Interrupted {
        run: run.clone(),
        at: at.clone(),
        recipe: recipe.clone(),
        fingerprint: fingerprint.clone(),
        snapshot: snapshot.clone(),
        board: board.clone(),
        intents,
    })
}

/// Settings that some run wrote, or was about to, and no run since has seen outlive a restart: whether they are on
/// the board and stored is not known, so the next `keep` has to store them. An intent without an outcome counts: the
/// write may have left before the program died.
/// What was put back to the value from before, and read back so, is not unsaved any more, unless a storage command was
/// accepted meanwhile: then the other value is what the board has after a restart.
#[must_use]
pub fn unsaved(record: &CraftRecord) -> BTreeSet<SettingName> {
    // With each name the value that it had when all was last known to be stored; none once that may have changed.
    let mut written: BTreeMap<SettingName, Option<Number>> = BTreeMap::new();
    let mut latest: BTreeMap<usize, &[Intent]> = BTreeMap::new();
    for line in &record.journal {
        match line {
            JournalLine::Begin { .. } => latest.clear(),
            JournalLine::Intent { step, writes, .. } => {
                // A store is announced by an intent without writes: from here on it may have been carried out.
                if writes.is_empty() {
                    for was in written.values_mut() {
                        *was = None;
                    }
                }
                for (name, write) in named(writes) {
                    written.entry(name).or_insert(Some(write.from));
                }
                latest.insert(*step, writes);
            }
            JournalLine::Outcome { state: WriteState::KeptOverRestart, .. } => written.clear(),
            JournalLine::Outcome { step, state: WriteState::ReadBack, .. } => {
                // A name may stand twice, where a band is closed first and opened last: its last value stands.
                let stands: BTreeMap<_, _> = latest.get(step).into_iter().flat_map(|writes| named(writes)).collect();
                written.retain(|name, was| {
                    let back = stands.get(name).zip(*was).is_some_and(|(write, was)| write.to.same(was));
                    !back
                });
            }
            _ => {}
        }
    }
    written.into_keys().collect()
}

fn named(writes: &[Intent]) -> impl Iterator<Item = (SettingName, &Intent)> {
    writes.iter().filter_map(|write| SettingName::new(&write.name).map(|name| (name, write)))
}
