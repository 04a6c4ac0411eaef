//! A craft at a glance, for a list of many: its last run, what was shown of it, and what has voided that.
//!
//! Promises: of a long record only its end is judged line by line, so that a thousand crafts are listed at once; what
//! can't be read is said. Must not be here: the whole story of a craft.

use super::label::{self, Label};
use super::repair::{self, ProofKind};
use super::runs::{Run, runs};
use super::shown::{LastSeen, Shown, judge};
use super::state;
use crate::board::signals::Identity;
use crate::record::journal::{self, Journal};
use crate::record::ledger::{CutOff, Ledger};
use crate::record::{CraftRecord, JournalLine, RecordError, folder, lines, proof};
use std::path::{Path, PathBuf};

/// See the module.
#[derive(Debug, Clone, PartialEq)]
pub struct Glance {
    /// The craft's folder.
    pub folder: PathBuf,
    /// What it is called, if it was named.
    pub label: Option<Label>,
    /// Its board, as it was seen last.
    pub board: Option<Identity>,
    /// The last run.
    pub last: Option<Run>,
    /// Runs that were cut off and are not settled, the last one among them while it goes on.
    pub cut_off: Vec<CutOff>,
    /// What was shown last, of each kind.
    pub shown: Vec<Shown>,
    /// What could not be read, in words.
    pub damage: Vec<String>,
}

impl Glance {
    /// The folder's name.
    #[must_use]
    pub fn folder_name(&self) -> String {
        self.folder.file_name().unwrap_or_default().to_string_lossy().into_owned()
    }

    /// The board's id, or the name that was typed because it has none; else the folder's name.
    #[must_use]
    pub fn id(&self) -> String {
        self.board.as_ref().map_or_else(|| self.folder_name(), Identity::told)
    }

    /// What a person calls it.
    #[must_use]
    pub fn called(&self) -> String {
        self.label.as_ref().map_or_else(|| self.id(), |label| label.name.clone())
    }
}

/// A craft's folder, and what it looks like.
pub type Looked = (PathBuf, Result<Glance, RecordError>);

/// Looks at every craft, by the names of their folders.
///
/// # Errors
/// The folder of all crafts can't be read; where there is none, there are no crafts.
pub fn all(crafts: &Path) -> Result<Vec<Looked>, RecordError> {
    let folders = folders(crafts)?;
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let share = folders.len().div_ceil(threads).max(1);
    let look = |share: &[PathBuf]| share.iter().map(|craft| (craft.clone(), glance(craft))).collect::<Vec<_>>();
    let looked = std::thread::scope(|scope| {
        let looking: Vec<_> = folders.chunks(share).map(|share| scope.spawn(move || look(share))).collect();
        looking.into_iter().map(std::thread::ScopedJoinHandle::join).collect::<Result<Vec<_>, _>>()
    });
    match looked {
        Ok(looked) => Ok(looked.into_iter().flatten().collect()),
        Err(panic) => std::panic::resume_unwind(panic),
    }
}

/// The folders of all crafts, by name.
///
/// # Errors
/// As [`all`].
pub fn folders(crafts: &Path) -> Result<Vec<PathBuf>, RecordError> {
    let mut found = Vec::new();
    for entry in folder::entries(crafts)? {
        let hidden = entry.file_name().to_string_lossy().starts_with('.');
        if !hidden && entry.file_type().is_ok_and(|kind| !kind.is_file()) {
            found.push(entry.path());
        }
    }
    found.sort();
    Ok(found)
}

/// Looks at one craft.
///
/// # Errors
/// Another version's record, or the disk's reason.
pub fn glance(craft: &Path) -> Result<Glance, RecordError> {
    let mut damage = Vec::new();
    let LastRun { lines, torn, ended_before } = last_run(craft)?;
    if torn {
        damage.push(format!("the last line of {} was cut off while it was written", journal::FILE));
    }
    damage.extend(journal::damaged(&lines).map(|damage| damage.to_string()));
    let last = runs(&lines).pop();
    let state = match state::last(craft, last.as_ref().map(|run| (run, lines.as_slice()))) {
        Ok(state) => state,
        Err(state::StateError::Record(error)) => return Err(error),
        Err(error) => {
            damage.push(error.to_string());
            None
        }
    };
    let (voiding, found) = match folder::bytes(&craft.join(repair::FILE))? {
        Some(bytes) => repair::parse(&craft.join(repair::FILE), &bytes)?,
        None => Default::default(),
    };
    damage.extend(found.iter().map(ToString::to_string));
    let seen = state.as_ref().map(|state| LastSeen { board: &state.board, settings: &state.settings });
    let proofs = match folder::bytes(&craft.join(proof::FILE))? {
        Some(bytes) => proof::last_of_each(&craft.join(proof::FILE), &bytes)?,
        None => Vec::new(),
    };
    let mut shown: Vec<Shown> = proofs.iter().map(|(line, proof)| judge(*line, proof, &voiding, seen)).collect();
    shown.sort_by_key(|shown| ProofKind::ALL.iter().position(|kind| *kind == shown.kind));
    let label = match folder::bytes(&craft.join(label::FILE))? {
        Some(bytes) => {
            let label = Label::parse(&craft.join(label::FILE), &bytes)?;
            damage.extend(label.is_none().then(|| format!("{} is damaged and was left out", label::FILE)));
            label
        }
        None => None,
    };
    let board = state.map(|state| state.board).or_else(|| last.as_ref().map(|run| run.board.clone()));
    let ended = |run: &Run| run.end.is_some() && run.damaged == 0;
    let cut_off = if ended_before && last.as_ref().is_none_or(ended) { Vec::new() } else { cut_off(craft)? };
    let mut glance = Glance { folder: craft.to_owned(), label, board, last, cut_off, shown, damage };
    glance.damage.extend(not_its_own(&glance));
    Ok(glance)
}

/// A record that lies in another folder than its board's: a copy, or one that was moved.
fn not_its_own(glance: &Glance) -> Option<String> {
    let board = glance.board.as_ref()?;
    let own = folder::of_board(Path::new(""), board).ok()?;
    (own != Path::new(&glance.folder_name())).then(|| {
        format!(
            "this is the record of {}, in a folder of another name: a run on that craft does not use it",
            board.told()
        )
    })
}

/// Runs that were cut off: what was declined since has settled none of them.
fn cut_off(craft: &Path) -> Result<Vec<CutOff>, RecordError> {
    let file = craft.join(journal::FILE);
    let journal = folder::bytes(&file)?.map(|bytes| Journal::parse(&file, &bytes)).transpose()?;
    let journal = journal.map(|journal| journal.lines).unwrap_or_default();
    let record = CraftRecord { journal, ..CraftRecord::default() };
    Ok(Ledger::of(&record).cut_off().into_iter().cloned().collect())
}

/// The end of a journal.
#[derive(Default)]
struct LastRun {
    /// The lines of its last run.
    lines: Vec<JournalLine>,
    /// Whether the file's end is torn.
    torn: bool,
    /// Whether each run before noted its end, by how its last line begins.
    ended_before: bool,
}

fn last_run(craft: &Path) -> Result<LastRun, RecordError> {
    let file = craft.join(journal::FILE);
    let Some(bytes) = folder::bytes(&file)? else {
        return Ok(LastRun { ended_before: true, ..LastRun::default() });
    };
    let (begins, ends) = (b"{\"event\":\"begin\"", b"{\"event\":\"end\"");
    let mut ended = true;
    let mut ended_before = true;
    let mut tail = 0;
    let mut at = 0;
    for line in bytes.split_inclusive(|byte| *byte == b'\n') {
        if line.starts_with(begins) {
            (tail, ended_before) = (at, ended_before && ended);
        }
        (ended, at) = (line.starts_with(ends), at + line.len());
    }
    // Of a long journal this takes as long as all the rest: only what has to be named by its line is counted.
    let before = || lines::count(&bytes[..tail]);
    let mut read = Journal::parse(&file, &bytes[tail..]).map_err(|error| match error {
        RecordError::Unreadable { file, line } => RecordError::Unreadable { file, line: line + before() },
        other => other,
    })?;
    for line in &mut read.lines {
        if let JournalLine::Damaged { line } = line {
            *line += before();
        }
    }
    Ok(LastRun { lines: read.lines, torn: read.torn, ended_before })
}
