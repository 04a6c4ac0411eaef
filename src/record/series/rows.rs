//! The crafts of a series with their figures, from their own records.
//!
//! Promises: a figure counts only where a run of the series gave it; what can't be read is said. Must not be here: which
//! figures stand out.

use super::SeriesName;
use crate::board::sheet::Settings;
use crate::board::signals::Identity;
use crate::board::value::SettingName;
use crate::record::crafts::compare::{Known, compare, counting, written};
use crate::record::crafts::find::named;
use crate::record::crafts::glance::folders;
use crate::record::crafts::runs::{Run, Span, runs};
use crate::record::crafts::state;
use crate::record::journal::{self, Journal};
use crate::record::run_log::{self, LogEvent};
use crate::record::{Proof, ProofSubject, RecordError, folder, proof};
use jiff::Timestamp;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// A craft of a series.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its folder.
    pub folder: PathBuf,
    /// What it is called.
    pub called: String,
    /// Its board, as it was met last.
    pub board: Identity,
    /// Its runs in the series, the first one first; at least one.
    pub runs: Vec<Run>,
    /// What they gave.
    pub figures: Figures,
    /// Settings at the end that are not as on the first craft, but for what belongs to a single craft or counts by
    /// itself; `None`: not known.
    pub differs: Option<BTreeSet<SettingName>>,
    /// What could not be read.
    pub damage: Vec<String>,
}

/// Figures of a craft; `None`: not measured in the series.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Figures {
    /// Idle in microseconds, and the step of the search that found it.
    pub idle: Option<(i32, Option<i32>)>,
    /// Pack voltage in volts then.
    pub volts: Option<f64>,
    /// The largest coefficient of variation of a motor's speed over the starts at the last idle, and at which corner.
    pub uneven: Option<(f64, String)>,
    /// Cut at worst, milliseconds, as an interval.
    pub cut: Option<(f64, f64)>,
    /// Failsafe, the same.
    pub failsafe: Option<(f64, f64)>,
    /// From the beginning to the end of the last run, if that was done, seconds.
    pub seconds: Option<f64>,
}

impl Row {
    /// Its last run in the series.
    #[must_use]
    pub fn last(&self) -> Option<&Run> {
        self.runs.last()
    }

    /// Whether its last run in the series came to its end, with all that was asked for.
    #[must_use]
    pub fn is_done(&self) -> bool {
        self.last().is_some_and(Run::is_done)
    }
}

fn moment(at: &str) -> Option<Timestamp> {
    at.parse().ok()
}

/// The crafts of a series, in the order in which they were met first. `own`: whether a setting belongs to a single craft.
///
/// # Errors
/// The folder of all crafts can't be read.
pub fn rows(crafts: &Path, name: &SeriesName, own: &dyn Fn(&SettingName) -> bool) -> Result<Vec<Row>, RecordError> {
    let all = folders(crafts)?;
    let mut rows: Vec<Row> = all.iter().filter_map(|folder| row(folder, name)).collect();
    rows.sort_by_key(|row| row.runs.first().and_then(|run| moment(&run.at)));
    let first = rows.first().and_then(ends);
    for row in &mut rows {
        let both = first.as_ref().zip(ends(row));
        row.differs = both.map(|((first, counts), (settings, more))| {
            let counters: BTreeSet<SettingName> = counts.union(&more).cloned().collect();
            let own = first.keys().chain(settings.keys()).filter(|name| own(name)).cloned().collect();
            let found = compare(first, &settings, &Known { own, counters, written: None });
            [found.differ, found.new, found.gone].into_iter().flatten().map(|row| row.name).collect()
        });
    }
    Ok(rows)
}

/// All settings at the end of a craft's last run, and what counted by itself meanwhile.
fn ends(row: &Row) -> Option<(Settings, BTreeSet<SettingName>)> {
    let run = row.last()?;
    let after = state::snapshot(&row.folder, run.end.as_ref()?.snapshot.as_ref()?).ok()?;
    let before = state::snapshot(&row.folder, &run.snapshot).ok()?;
    let written = written([run]).into_keys().collect();
    let counts = counting(&before.settings, &after.settings, &written);
    Some((after.settings, counts))
}

/// A craft as one of the series; nothing where it is none of it, or another version's record.
fn row(folder: &Path, name: &SeriesName) -> Option<Row> {
    let file = folder.join(journal::FILE);
    let bytes = folder::bytes(&file).ok()??;
    let field = format!("\"series\":\"{name}\"");
    if !bytes.windows(field.len()).any(|part| part == field.as_bytes()) {
        return None;
    }
    let journal = Journal::parse(&file, &bytes).ok()?;
    let all = runs(&journal.lines);
    let in_it = |run: &Run| run.provenance.as_ref().is_some_and(|made| made.series.as_deref() == Some(name.as_str()));
    let of_it = all.iter().enumerate().filter(|(_, run)| in_it(run));
    let spans: Vec<Span> = of_it.filter_map(|(at, _)| Span::of(&all, at)).collect();
    let runs: Vec<Run> = all.into_iter().filter(in_it).collect();
    let board = runs.last()?.board.clone();
    let mut damage = Vec::new();
    let mut figures = Figures::default();
    match proofs(folder) {
        Ok(proofs) => {
            let within = |proof: &&Proof| spans.iter().any(|span| span.holds(&proof.at));
            proofs.iter().filter(within).for_each(|proof| figures.take(proof));
        }
        Err(error) => damage.push(error.to_string()),
    }
    figures.uneven = runs.iter().rev().find_map(|run| uneven(folder, run));
    figures.seconds = runs.last().filter(|run| run.is_done()).and_then(|run| {
        let (began, ended) = (moment(&run.at)?, moment(&run.end.as_ref()?.at)?);
        Some(ended.duration_since(began).as_secs_f64())
    });
    let called = named(folder).map_or_else(|| board.told(), |label| label.name);
    Some(Row { folder: folder.to_owned(), called, board, runs, figures, differs: None, damage })
}

fn proofs(folder: &Path) -> Result<Vec<Proof>, RecordError> {
    let file = folder.join(proof::FILE);
    let Some(bytes) = folder::bytes(&file)? else { return Ok(Vec::new()) };
    Ok(proof::parse(&file, &bytes)?.0.into_iter().map(|(_, proof)| proof).collect())
}

impl Figures {
    /// Takes up what was shown; of a kind the last counts.
    fn take(&mut self, proof: &Proof) {
        match proof.subject {
            ProofSubject::Idle { pulse, step, .. } => {
                // A test of the idle that was searched tells no step of its own.
                let known = self.idle.filter(|(idle, _)| *idle == pulse).and_then(|(_, step)| step);
                self.idle = Some((pulse, step.or(known)));
                self.volts = proof.volts.or(self.volts);
            }
            ProofSubject::Cut { least_ms, most_ms } => self.cut = Some((least_ms, most_ms)),
            ProofSubject::Failsafe { least_ms, most_ms } => self.failsafe = Some((least_ms, most_ms)),
            _ => {}
        }
    }
}

/// The worst evenness over the starts at the last idle of a run, as its log has them.
fn uneven(folder: &Path, run: &Run) -> Option<(f64, String)> {
    let log = run_log::of_run(folder, run.provenance.as_ref()?).ok()?.0;
    let starts = |pulse: Option<i32>| {
        log.iter().filter_map(move |entry| match &entry.seen {
            LogEvent::Start { pulse: at, motors, .. } if pulse.is_none_or(|pulse| pulse == *at) => Some((*at, motors)),
            _ => None,
        })
    };
    let last = starts(None).next_back()?.0;
    let motors = starts(Some(last)).flat_map(|(_, motors)| motors);
    let worst = motors.filter_map(|motor| Some((motor.unevenness?, motor.corner.clone())));
    worst.max_by(|a, b| a.0.total_cmp(&b.0))
}
