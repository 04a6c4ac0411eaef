//! What runs that were cut off leave for finishing them or for putting back what they wrote: values of before, values
//! that were to be, recipe and parameters.
//!
//! Promises: it goes by the snapshot of before and by the journal, and by one of them where the other is damaged or
//! gone; a text counts only where it is the one of its hash. Must not be here: what is done about it.

use super::ledger::{CutOff, Ledger};
use super::provenance::Input;
use super::{CraftRecord, JournalLine, Snapshot};
use crate::board::sheet::Settings;
use crate::board::value::{Number, SettingName};
use crate::language::canonical::sha256;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// A setting that was written, or was about to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Written {
    /// What it was before the first of the runs, or was stored as before one earlier; `None`: nobody knows.
    pub before: Option<Number>,
    /// What it was to be last.
    pub wanted: Number,
}

/// See the module.
#[derive(Debug, Clone)]
pub struct Left<'a> {
    record: &'a CraftRecord,
    /// Runs that are not settled, the first one first; at least one.
    pub runs: Vec<CutOff>,
    /// All that they wrote or were about to write, and what else is not settled, as far as the journal can be read.
    pub written: BTreeMap<SettingName, Written>,
    /// All settings as they were before the first of them, if that copy is whole.
    pub before: Option<Snapshot>,
    /// A line of the journal is damaged: they may have written more.
    pub damaged: bool,
}

/// The snapshot of a run's beginning, wherever the journal's words would lead.
fn snapshot_file(run: &CutOff) -> PathBuf {
    Path::new("snapshots").join(Path::new(&run.snapshot).file_name().unwrap_or_default())
}

/// The files of a craft's folder that are needed to recover, relative to it.
#[must_use]
pub fn files(record: &CraftRecord) -> Vec<PathBuf> {
    let ledger = Ledger::of(record);
    let runs: Vec<&CutOff> = ledger.left().map(|(_, run)| run).collect();
    let snapshot = runs.first().map(|run| snapshot_file(run));
    let inputs = runs.iter().filter_map(|run| run.provenance.as_ref()).flat_map(|made| &made.files);
    let mut files: Vec<PathBuf> = snapshot.into_iter().chain(inputs.filter_map(Input::kept)).collect();
    files.sort();
    files.dedup();
    files
}

impl<'a> Left<'a> {
    /// What is not settled; `None`: all is.
    #[must_use]
    pub fn of(record: &'a CraftRecord) -> Option<Self> {
        let ledger = Ledger::of(record);
        let runs: Vec<(usize, &CutOff)> = ledger.left().collect();
        let first = runs.first()?.0;
        let begins = |line: &JournalLine| matches!(line, JournalLine::Begin { .. });
        let since = record.journal.iter().enumerate().filter(|(_, line)| begins(line)).nth(first)?.0;
        let before = record.at_hand.get(&snapshot_file(runs[0].1));
        let before = before.and_then(|bytes| Snapshot::parse(Path::new(&runs[0].1.snapshot), bytes).ok());
        // What an earlier run began is as it was stored before that: this run's copy has what stood there meanwhile.
        let begun = ledger.open().filter(|(_, entry)| entry.since() < first);
        let begun = begun
            .filter_map(|(name, entry)| Some((name.clone(), Written { before: entry.old(), wanted: entry.wanted()? })));
        let mut written: BTreeMap<SettingName, Written> = begun.collect();
        for line in &record.journal[since..] {
            let JournalLine::Intent { writes, .. } = line else { continue };
            for write in writes {
                let Some(name) = SettingName::new(&write.name) else { continue };
                let copied = before.as_ref().and_then(|copy| copy.settings.get(&name)).copied();
                let one = written.entry(name).or_insert(Written { before: copied.or(write.from), wanted: write.to });
                one.wanted = write.to;
            }
        }
        let runs = runs.into_iter().map(|(_, run)| run.clone()).collect();
        Some(Self { record, runs, written, before, damaged: !ledger.damaged().is_empty() })
    }

    /// The record that it is of.
    #[must_use]
    pub fn record(&self) -> &CraftRecord {
        self.record
    }

    /// Settings that give back what was there, among those that the board has now. What a damaged line may have said
    /// is covered by the whole copy.
    #[must_use]
    pub fn back(&self) -> Settings {
        let whole = self.before.as_ref().filter(|_| self.damaged).map(|copy| copy.settings.clone());
        let each = self.written.iter().filter_map(|(name, one)| Some((name.clone(), one.before?)));
        whole.into_iter().flatten().chain(each).collect()
    }

    /// Settings of which nobody knows what they were.
    pub fn without_way_back(&self) -> impl Iterator<Item = &SettingName> {
        self.written.iter().filter(|(_, one)| one.before.is_none()).map(|(name, _)| name)
    }

    /// The last of the runs that carried out a recipe.
    #[must_use]
    pub fn of_recipe(&self) -> Option<&CutOff> {
        self.runs.iter().rev().find(|run| run.provenance.as_ref().is_some_and(|made| !made.files.is_empty()))
    }

    /// The texts of a run's recipe under their names, the named one first; `None`: not all of them are there as they were.
    #[must_use]
    pub fn texts(&self, run: &CutOff) -> Option<Vec<(String, String)>> {
        let text = |input: &Input| {
            let bytes = self.record.at_hand.get(&input.kept()?)?;
            let text = String::from_utf8(bytes.clone()).ok().filter(|text| sha256(text) == input.sha256)?;
            Some((input.name.clone(), text))
        };
        run.provenance.as_ref()?.files.iter().map(text).collect()
    }
}
