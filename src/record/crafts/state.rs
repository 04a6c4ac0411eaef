//! The settings of a craft as its record knows them: the last whole reading, and what was written after it.
//!
//! Promises: what was announced and not read back is not known, and left out. Must not be here: boards on a wire.

use super::runs::Run;
use crate::board::sheet::Settings;
use crate::board::signals::Identity;
use crate::board::value::SettingName;
use crate::record::snapshot::SnapshotError;
use crate::record::{JournalLine, RecordError, Snapshot, WriteState, folder, journal};
use std::collections::BTreeMap;
use std::path::Path;

/// See the module.
#[derive(Debug, Clone, PartialEq)]
pub struct LastState {
    /// When its settings were read, RFC 3339.
    pub at: String,
    /// The board.
    pub board: Identity,
    /// What is known.
    pub settings: Settings,
}

/// Why a snapshot of a record could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StateError {
    /// It is no snapshot.
    #[error(transparent)]
    Snapshot(#[from] SnapshotError),
    /// The disk's reason.
    #[error(transparent)]
    Record(#[from] RecordError),
    /// The journal names it, and it is not there.
    #[error("{0} is named by the journal and is not there")]
    Gone(std::path::PathBuf),
}

/// A snapshot of a craft's folder.
///
/// # Errors
/// It is gone, or no snapshot.
pub fn snapshot(craft: &Path, file: &str) -> Result<Snapshot, StateError> {
    // A journal edited by hand leads nowhere else.
    let path = craft.join("snapshots").join(Path::new(file).file_name().unwrap_or_default());
    let bytes = folder::bytes(&path)?.ok_or_else(|| StateError::Gone(path.clone()))?;
    Ok(Snapshot::parse(&path, &bytes)?)
}

/// The copy by which a craft is known last: that of its last `run`, or a later one that was taken by no run. Which run was
/// the last the journal tells, and no clock.
///
/// # Errors
/// The journal can't be read.
pub fn newest(craft: &Path, run: Option<&Run>) -> Result<Option<String>, RecordError> {
    let of_run = run.map(own);
    let entries = std::fs::read_dir(craft.join("snapshots")).into_iter().flatten();
    let names = entries.filter_map(|entry| entry.ok()?.file_name().into_string().ok());
    let later = |name: &String| of_run.as_ref().is_none_or(|own| moment(name) > moment(own));
    let mut later: Vec<String> = names.filter(|name| name.ends_with("Z.json") && later(name)).collect();
    if of_run.is_some() && !later.is_empty() {
        let journal = folder::bytes(&craft.join(journal::FILE))?.unwrap_or_default();
        later.retain(|name| {
            let field = format!("snapshots/{name}\"");
            !journal.windows(field.len()).any(|part| part == field.as_bytes())
        });
    }
    Ok(later.into_iter().max_by(|a, b| moment(a).cmp(moment(b))).or(of_run))
}

/// The copy of a run's end, else of its beginning.
fn own(run: &Run) -> String {
    let file = run.end.as_ref().and_then(|end| end.snapshot.as_ref()).unwrap_or(&run.snapshot);
    Path::new(file).file_name().unwrap_or_default().to_string_lossy().into_owned()
}

/// A snapshot's name without the letter behind its fraction, which is not always as long.
fn moment(name: &str) -> &str {
    name.trim_end_matches("Z.json")
}

/// The craft as its record knows it last. `run`, with the lines that follow its beginning: the last one of the journal.
///
/// # Errors
/// The snapshot that it would be known by can't be read.
pub fn last(craft: &Path, run: Option<(&Run, &[JournalLine])>) -> Result<Option<LastState>, StateError> {
    let Some(file) = newest(craft, run.map(|(run, _)| run))? else { return Ok(None) };
    let mut state = LastState::from(snapshot(craft, &file)?);
    let unread = |run: &Run| run.end.as_ref().is_none_or(|end| end.snapshot.is_none());
    if let Some((_, lines)) = run.filter(|(run, _)| own(run) == file && unread(run)) {
        overlay(&mut state.settings, lines);
    }
    Ok(Some(state))
}

impl From<Snapshot> for LastState {
    fn from(snapshot: Snapshot) -> Self {
        Self { at: snapshot.taken, board: snapshot.board, settings: snapshot.settings }
    }
}

/// What a run wrote on top of what stood.
fn overlay(settings: &mut Settings, lines: &[JournalLine]) {
    let mut announced: BTreeMap<usize, Settings> = BTreeMap::new();
    for line in lines {
        match line {
            JournalLine::Intent { step, writes, .. } => {
                let named = writes.iter().filter_map(|write| Some((SettingName::new(&write.name)?, write.to)));
                let named: Settings = named.collect();
                settings.retain(|name, _| !named.contains_key(name));
                announced.insert(*step, named);
            }
            JournalLine::Outcome { read: Some(read), .. } => {
                settings.extend(read.iter().map(|(name, value)| (name.clone(), *value)));
            }
            JournalLine::Outcome { step, state: WriteState::ReadBack, read: None, .. } => {
                settings.extend(announced.remove(step).unwrap_or_default());
            }
            // What it said is unknown, and so is what it may have been about.
            JournalLine::Damaged { .. } => {
                announced.clear();
                settings.clear();
            }
            _ => {}
        }
    }
}
