//! A journal as the runs that it tells of.
//!
//! Must not be here: what is not settled of what they wrote (see `ledger`).

use crate::board::signals::Identity;
use crate::record::provenance::Provenance;
use crate::record::{Intent, JournalLine};
use jiff::Timestamp;

/// How the title of a run begins that puts back what another one wrote.
pub const PUT_BACK: &str = "put back";

/// How the outcome of a run begins that did not come to its end.
pub const BROKEN_OFF: &str = "ended: ";

/// The outcome of a run that came to its end, with all that was asked for.
pub const DONE: &str = "done";

/// Whether an outcome is that of a run that came to its end.
#[must_use]
pub fn is_whole(outcome: &str) -> bool {
    !outcome.starts_with(BROKEN_OFF)
}

/// One run.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Its name.
    pub name: String,
    /// When it began, RFC 3339.
    pub at: String,
    /// Title of its recipe, or what it was.
    pub recipe: String,
    /// The snapshot of its beginning, relative to the craft's folder.
    pub snapshot: String,
    /// On which board.
    pub board: Identity,
    /// None in records of versions before.
    pub provenance: Option<Provenance>,
    /// What it announced to write.
    pub writes: Vec<Intent>,
    /// How it ended; `None`: it was cut off, or goes on.
    pub end: Option<End>,
    /// Lines of it that are damaged.
    pub damaged: usize,
}

/// The end of a run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct End {
    /// When, RFC 3339.
    pub at: String,
    /// How.
    pub outcome: String,
    /// The snapshot of the end, if all settings were read again.
    pub snapshot: Option<String>,
}

impl Run {
    /// Whether it came to its end, with all that was asked for.
    #[must_use]
    pub fn is_done(&self) -> bool {
        self.end.as_ref().is_some_and(|end| end.outcome == DONE)
    }
}

/// When a run was under way: from its beginning to its end, else to the beginning of the next one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    from: Timestamp,
    to: Option<Timestamp>,
}

impl Span {
    /// Of one of a journal's runs, from 0; `None`: there is none, or a moment of it can't be read.
    #[must_use]
    pub fn of(runs: &[Run], at: usize) -> Option<Self> {
        let run = runs.get(at)?;
        let next = || runs.get(at + 1).map(|next| &next.at);
        let to = run.end.as_ref().map(|end| &end.at).or_else(next);
        Some(Self { from: run.at.parse().ok()?, to: to.map(|at| at.parse()).transpose().ok()? })
    }

    /// Whether a moment, RFC 3339, is within.
    #[must_use]
    pub fn holds(&self, at: &str) -> bool {
        let within = |at: Timestamp| self.from <= at && self.to.is_none_or(|to| at <= to);
        at.parse().is_ok_and(within)
    }
}

/// The runs of a journal, the first one first.
#[must_use]
pub fn runs(journal: &[JournalLine]) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for line in journal {
        match line {
            JournalLine::Begin { run, at, recipe, snapshot, board, provenance, .. } => runs.push(Run {
                name: run.clone(),
                at: at.clone(),
                recipe: recipe.clone(),
                snapshot: snapshot.clone(),
                board: board.clone(),
                provenance: provenance.as_deref().cloned(),
                writes: Vec::new(),
                end: None,
                damaged: 0,
            }),
            other => {
                let Some(last) = runs.last_mut() else { continue };
                match other {
                    JournalLine::Intent { writes, .. } => last.writes.extend(writes.iter().cloned()),
                    JournalLine::End { at, outcome, snapshot } => {
                        let end = End { at: at.clone(), outcome: outcome.clone(), snapshot: snapshot.clone() };
                        last.end = Some(end);
                    }
                    JournalLine::Damaged { .. } => last.damaged += 1,
                    JournalLine::Begin { .. } | JournalLine::Outcome { .. } => {}
                }
            }
        }
    }
    runs
}
