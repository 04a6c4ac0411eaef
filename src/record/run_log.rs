//! What a run saw and was told, each with its moment: measurements with their samples, attestations, stops.
//!
//! Promises: one file a run, one line a thing, each with its checksum; what was measured and what was said by a person
//! stand apart. Nothing on the board depends on it. Must not be here: what the plan may conclude (see `proof`).

use super::crafts::runs::runs;
use super::lines::{self, Verdict};
use super::provenance::Provenance;
use super::{CraftRecord, RecordError, StoreJob, folder};
use serde::{Deserialize, Serialize};
use std::path::Path;

/// Written into every line.
pub const SCHEMA: &str = "quadjig.run-log/1";

/// One thing.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LogEntry {
    /// [`SCHEMA`].
    pub schema: String,
    /// When, RFC 3339.
    pub at: String,
    /// What.
    pub seen: LogEvent,
}

/// See the module.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "what")]
#[expect(missing_docs, reason = "the fields are named for the reader of the file")]
pub enum LogEvent {
    /// A step began.
    Step { title: String },
    /// A signal told it.
    Measured {
        text: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        samples: Option<Samples>,
    },
    /// A person said it.
    Attested { text: String },
    /// It was as it should be.
    Good { text: String },
    /// A warning that was shown.
    Warning { text: String },
    /// One start of all motors, as each was seen.
    Start {
        pulse: i32,
        start: u32,
        motors: Vec<Motor>,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        samples: Option<Samples>,
    },
    /// A stop began. `delivery`: what became of it; `None` in logs that did not keep that.
    Stop {
        reason: String,
        #[serde(default, skip_serializing_if = "Option::is_none")]
        delivery: Option<String>,
    },
    /// After a stop: whether all outputs were seen at rest.
    AtRest { seen: bool },
}

/// One motor in one start.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Motor {
    /// Corner.
    pub corner: String,
    /// Median speed in rpm, if measured.
    pub rpm: Option<f64>,
    /// Coefficient of variation of the speed, if measured.
    pub unevenness: Option<f64>,
    /// Whether it counts as turning.
    pub turns: bool,
    /// How it was judged.
    pub judged: String,
}

/// What a figure was measured from, by the moment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Samples {
    /// What the moment 0 is.
    pub zero: String,
    /// Where it is a time from there to rest: not shorter, in milliseconds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_ms: Option<f64>,
    /// Not longer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub most_ms: Option<f64>,
    /// One for each signal.
    pub lines: Vec<SampleLine>,
}

impl Samples {
    /// How many samples there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.lines.iter().map(|line| line.values.len()).sum()
    }
}

/// Samples of one signal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SampleLine {
    /// Of what.
    pub name: String,
    /// Its unit.
    pub unit: String,
    /// When, in milliseconds from the moment 0.
    pub at_ms: Vec<i64>,
    /// As many values.
    pub values: Vec<f64>,
}

/// The file of a run, in the craft's folder.
#[must_use]
pub fn file(run: &str) -> String {
    let stem: String = run.chars().filter(char::is_ascii_alphanumeric).take(40).collect();
    format!("runs/{}.jsonl", if stem.is_empty() { "unnamed" } else { &stem })
}

/// A run's log, and whether it is whole; empty where none was kept.
///
/// # Errors
/// As [`parse`], or the disk's reason.
pub fn of_run(craft: &Path, made: &Provenance) -> Result<(Vec<LogEntry>, bool), RecordError> {
    // A journal edited by hand leads nowhere else.
    let file = craft.join("runs").join(Path::new(&made.log).file_name().unwrap_or_default());
    let Some(bytes) = folder::bytes(&file)? else { return Ok((Vec::new(), true)) };
    let (log, damaged) = parse(&file, &bytes)?;
    Ok((log, !damaged))
}

/// What the last run of a craft in which motors were started saw; nothing where there is none.
///
/// # Errors
/// As [`parse`], or the disk's reason.
pub fn of_last_starts(craft: &Path) -> Result<Vec<LogEntry>, RecordError> {
    // The journal has the runs in their order, whatever their clocks said.
    let runs = runs(&CraftRecord::read(craft)?.journal);
    for made in runs.iter().rev().filter_map(|run| run.provenance.as_ref()) {
        let (log, _) = of_run(craft, made)?;
        if log.iter().any(|entry| matches!(entry.seen, LogEvent::Start { .. })) {
            return Ok(log);
        }
    }
    Ok(Vec::new())
}

/// Lines for the end of a run's file.
///
/// # Errors
/// [`RecordError::Other`] for a value that JSON can't hold.
pub fn store(file: &str, entries: &[LogEntry]) -> Result<StoreJob, RecordError> {
    lines::append_all(file, entries)
}

/// What a run's file says, and whether some of it is damaged or torn.
///
/// # Errors
/// [`RecordError::Unreadable`] with the first line that another version wrote.
pub fn parse(file: &Path, bytes: &[u8]) -> Result<(Vec<LogEntry>, bool), RecordError> {
    let judge = |entry: &LogEntry, summed| Verdict::of(entry.schema == SCHEMA, summed);
    let lines::Read { lines, torn } = lines::read(file, bytes, judge)?;
    let damaged = torn || lines.iter().any(Result::is_err);
    Ok((lines.into_iter().flatten().collect(), damaged))
}
