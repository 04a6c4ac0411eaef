//! What is known of every setting that a run wrote or was about to write: unread, read back, stored as the board says,
//! seen after a restart. The one place where that is known.
//!
//! Promises: it is what the journal's lines amount to, so that a run and the next start say the same; a setting leaves
//! it only once its value was read after a restart that was shown, or was read to be what the board has stored anyway.
//! Must not be here: words, names of a sheet, wires.

use super::crafts::runs::is_whole;
use super::provenance::Provenance;
use super::{CraftRecord, JournalLine, WriteState};
use crate::board::sheet::Settings;
use crate::board::value::{Number, SettingName};
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

/// What shows that a board restarted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RestartEvidence {
    /// The wire went and came, its clock started anew, or its banner came.
    Shown,
    /// A console with none of these: it was silent, and then the same board answered.
    Silence,
    /// The board accepted the restart, and nothing shows that it took place.
    Accepted,
}

impl RestartEvidence {
    /// Whether what is read from here on is what the board had stored.
    #[must_use]
    pub fn restarted(self) -> bool {
        !matches!(self, Self::Accepted)
    }
}

/// What the board has after a restart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Keeping {
    /// The old value: nothing was stored since.
    #[default]
    Old,
    /// What stood when the board said that it stored it.
    BoardSays,
    /// A store was on its way and its end is not known, or something was written after it.
    Unknown,
}

/// One setting that is not settled.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Entry {
    old: Option<Number>,
    before: Option<Number>,
    wanted: Vec<Number>,
    /// How many of these were written before it was read last.
    passed: usize,
    read: Option<Number>,
    keeping: Keeping,
    /// The run that wrote it first.
    since: usize,
    /// The run that wrote or stored it last.
    run: usize,
}

impl Entry {
    /// What it was when it was last known to be stored; `None`: nobody knows.
    #[must_use]
    pub fn old(&self) -> Option<Number> {
        self.old
    }

    /// What it was before the first write that was not read.
    #[must_use]
    pub fn before(&self) -> Option<Number> {
        self.before
    }

    /// What was to be written last.
    #[must_use]
    pub fn wanted(&self) -> Option<Number> {
        self.wanted.last().copied()
    }

    /// All that was to be written, in order.
    #[must_use]
    pub fn written(&self) -> &[Number] {
        &self.wanted
    }

    /// What was to be written since it was read last, in order.
    #[must_use]
    pub fn unread(&self) -> &[Number] {
        self.wanted.get(self.passed..).unwrap_or_default()
    }

    /// What it was read as since the last write; `None`: it was not, so what stands is unknown.
    #[must_use]
    pub fn read(&self) -> Option<Number> {
        self.read
    }

    /// What the board has after a restart.
    #[must_use]
    pub fn keeping(&self) -> Keeping {
        self.keeping
    }

    /// Number of the run that wrote it first, from 0.
    #[must_use]
    pub fn since(&self) -> usize {
        self.since
    }

    /// How a value of it is to be called.
    #[must_use]
    pub fn stands(&self, now: Option<Number>) -> Stands {
        let Some(now) = now else { return Stands::Unknown };
        if self.wanted().is_some_and(|new| now.same(new)) {
            Stands::New
        } else if [self.before, self.old].into_iter().flatten().any(|old| now.same(old)) {
            Stands::Old
        } else if self.unread().iter().any(|value| now.same(*value)) {
            Stands::OnItsWay
        } else {
            Stands::Neither
        }
    }

    fn saw(&mut self, value: Number) {
        self.read = Some(value);
        self.passed = self.wanted.len();
    }

    /// Whether what stands was read, and is what the board has stored as well.
    fn is_as_before(&self) -> bool {
        self.keeping == Keeping::Old && self.read.zip(self.old).is_some_and(|(read, old)| read.same(old))
    }
}

/// See [`Entry::stands`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stands {
    /// What was written last.
    New,
    /// What was there before.
    Old,
    /// Written, and not the last of it: a band is closed first and opened last.
    OnItsWay,
    /// Nothing of what is known.
    Neither,
    /// Not read.
    Unknown,
}

/// A run that began, and did not come to its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CutOff {
    /// When it began, RFC 3339.
    pub at: String,
    /// Its recipe.
    pub recipe: String,
    /// Snapshot taken at its beginning, relative to the craft's folder.
    pub snapshot: String,
    /// Whether there was a plan; a session by hand has none.
    pub planned: bool,
    /// What it was made from; none in the records of versions before.
    pub provenance: Option<Box<Provenance>>,
    /// Whether it noted an end all the same.
    pub ended: bool,
}

/// See the module.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ledger {
    entries: BTreeMap<SettingName, Entry>,
    /// Every run.
    runs: Vec<CutOff>,
    /// So many runs stand before the end of the last one that came to its own.
    whole: usize,
    /// What was announced last under each step of the last run.
    announced: BTreeMap<usize, BTreeMap<SettingName, Number>>,
    /// What this run read after a restart that was shown.
    seen: Settings,
    /// A line of the last run is damaged: outcomes after it may belong to what it announced.
    blind: bool,
    damaged: Vec<usize>,
    /// The craft's folder.
    folder: PathBuf,
    /// Whether the last run is the one that goes on.
    going_on: bool,
}

impl Ledger {
    /// What a craft's journal amounts to.
    #[must_use]
    pub fn of(record: &CraftRecord) -> Self {
        let mut ledger = Self { folder: record.folder.clone(), ..Self::default() };
        record.journal.iter().for_each(|line| ledger.apply(line));
        ledger.seen.clear();
        ledger.going_on = false;
        ledger
    }

    /// Goes on by a line that is on the disk: nothing that it announces has left for the board before.
    pub fn apply(&mut self, line: &JournalLine) {
        match line {
            JournalLine::Begin { at, recipe, snapshot, fingerprint, provenance, .. } => {
                self.runs.push(CutOff {
                    at: at.clone(),
                    recipe: recipe.clone(),
                    snapshot: snapshot.clone(),
                    planned: !fingerprint.is_empty(),
                    provenance: provenance.clone(),
                    ended: false,
                });
                self.announced.clear();
                self.seen.clear();
                self.blind = false;
                self.going_on = true;
            }
            JournalLine::Intent { writes, .. } if writes.is_empty() => self.storing(),
            JournalLine::Intent { step, writes, .. } => {
                let named =
                    || writes.iter().filter_map(|write| SettingName::new(&write.name).map(|name| (name, write)));
                for (name, write) in named() {
                    self.announce(&name, write.from, write.to);
                }
                // A name may stand twice, where a band is closed first and opened last: its last value stands.
                self.announced.insert(*step, named().map(|(name, write)| (name, write.to)).collect());
            }
            JournalLine::Outcome { step, state, read, .. } => self.outcome(*step, *state, read.as_ref()),
            JournalLine::End { outcome, .. } => {
                let run = self.last_run();
                let nothing_open = !self.entries.values().any(|entry| entry.run == run);
                let whole = is_whole(outcome);
                // Behind a damaged line the end may be that of a run whose beginning can't be read.
                if let Some(run) = self.runs.last_mut().filter(|_| !self.blind || nothing_open) {
                    run.ended = true;
                    self.whole = if whole { self.runs.len() } else { self.whole };
                }
                // A run that came to its end planned from all that stood on the board.
                if whole {
                    self.damaged.clear();
                }
            }
            JournalLine::Damaged { line } => {
                self.damaged.push(*line);
                self.announced.clear();
                self.blind = true;
                // It may have announced a store.
                self.storing();
            }
        }
    }

    fn announce(&mut self, name: &SettingName, from: Option<Number>, to: Number) {
        let run = self.last_run();
        let fresh = Entry { old: from, before: from, since: run, ..Entry::default() };
        let entry = self.entries.entry(name.clone()).or_insert(fresh);
        if entry.read.is_some() {
            entry.before = from;
        }
        entry.wanted.push(to);
        entry.read = None;
        entry.run = run;
        if entry.keeping == Keeping::BoardSays {
            entry.keeping = Keeping::Unknown;
        }
        self.seen.remove(name);
    }

    fn storing(&mut self) {
        let run = self.last_run();
        for entry in self.entries.values_mut() {
            entry.keeping = Keeping::Unknown;
            entry.run = run;
        }
    }

    fn last_run(&self) -> usize {
        self.runs.len().saturating_sub(1)
    }

    fn outcome(&mut self, step: usize, state: WriteState, read: Option<&Settings>) {
        match (state, read) {
            (_, Some(read)) => {
                for name in read.keys() {
                    self.entries.remove(name);
                }
                // What was settled by reading alone was read after no restart of this run's.
                if state != WriteState::ReadBack {
                    self.seen.extend(read.iter().map(|(name, value)| (name.clone(), *value)));
                }
            }
            // Lines of the schema before name nothing, and meant everything.
            (WriteState::KeptOverRestart, None) if !self.blind => self.entries.clear(),
            (WriteState::ReadBack, None) => {
                for (name, value) in self.announced.get(&step).into_iter().flatten() {
                    if let Some(entry) = self.entries.get_mut(name) {
                        entry.saw(*value);
                    }
                }
                self.entries.retain(|_, entry| !entry.is_as_before());
            }
            (WriteState::Stored, None) if !self.blind => {
                for entry in self.entries.values_mut().filter(|entry| entry.read.is_some()) {
                    entry.keeping = Keeping::BoardSays;
                }
            }
            _ => {}
        }
    }

    /// These were read from the board just now, outside of any step. Gives what is settled by that: what stands is
    /// what the board has stored.
    pub fn saw(&mut self, read: &Settings) -> Settings {
        let mut settled = Settings::new();
        self.entries.retain(|name, entry| {
            let Some(value) = read.get(name) else { return true };
            entry.saw(*value);
            if entry.is_as_before() {
                settled.insert(name.clone(), *value);
            }
            !entry.is_as_before()
        });
        settled
    }

    /// Every setting that is not settled.
    pub fn open(&self) -> impl Iterator<Item = (&SettingName, &Entry)> {
        self.entries.iter()
    }

    /// Those that earlier runs left.
    pub fn left_before(&self) -> impl Iterator<Item = (&SettingName, &Entry)> {
        let run = self.last_run();
        self.entries.iter().filter(move |(_, entry)| !self.going_on || entry.run != run)
    }

    /// Their names: the next `keep` has to store them.
    #[must_use]
    pub fn names(&self) -> BTreeSet<SettingName> {
        self.entries.keys().cloned().collect()
    }

    /// Whether there is a setting whose value nobody knows.
    #[must_use]
    pub fn has_unread(&self) -> bool {
        self.entries.values().any(|entry| entry.read.is_none())
    }

    /// Whether this run left something of which the end is not known: a write that was not read, or a store.
    #[must_use]
    pub fn is_unfinished(&self) -> bool {
        let run = self.last_run();
        let mut ours = self.entries.values().filter(|entry| self.going_on && entry.run == run);
        ours.any(|entry| entry.read.is_none() || entry.keeping == Keeping::Unknown)
    }

    /// The snapshot taken at the beginning of this run, once it has changed anything.
    #[must_use]
    pub fn way_back(&self) -> Option<PathBuf> {
        let run = self.last_run();
        let changed = !self.seen.is_empty() || self.entries.values().any(|entry| entry.run == run);
        self.runs.last().filter(|_| self.going_on && changed).map(|run| self.folder.join(&run.snapshot))
    }

    /// What this run read after a restart that was shown, and did not write since.
    #[must_use]
    pub fn seen(&self) -> &Settings {
        &self.seen
    }

    /// Runs that were cut off, until a later one came to its end: declining one settles nothing. And those before, as
    /// long as they left something that is not settled.
    #[must_use]
    pub fn cut_off(&self) -> Vec<&CutOff> {
        self.left().map(|(_, run)| run).filter(|run| !run.ended).collect()
    }

    /// The same with those that noted an end, and left something that is not settled; each with its number from 0.
    pub fn left(&self) -> impl Iterator<Item = (usize, &CutOff)> {
        let left = move |run: usize| self.entries.values().any(|entry| entry.run == run);
        self.runs.iter().enumerate().filter(move |(at, run)| left(*at) || (*at >= self.whole && !run.ended))
    }

    /// The run that wrote it last.
    #[must_use]
    pub fn writer(&self, entry: &Entry) -> Option<&CutOff> {
        self.runs.get(entry.run)
    }

    /// Lines that are damaged, of runs since the last one that came to its end.
    #[must_use]
    pub fn damaged(&self) -> &[usize] {
        &self.damaged
    }
}
