//! Rehearsals summed up as JSON, `quadjig.rehearse/1`.
//!
//! Promises: the fields that the project's command reference names; no word that could be read as a
//! proof about a real craft. Must not be here: how a rehearsal is played, one or a fleet of them as text.

use super::findings::FindingJson;
use super::transcript::reason;
use crate::measure::time::Time;
use crate::rehearsal::fleet::Craft;
use crate::seam::exit::Exit;
use crate::seam::fault::Fault;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;

/// Name of this form of JSON.
pub const SCHEMA: &str = "quadjig.rehearse/1";

/// See the module.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RehearseJson {
    /// [`SCHEMA`].
    pub schema: &'static str,
    /// Always `rehearsal`: nothing here was measured on a craft.
    pub kind: &'static str,
    /// `finished` if every craft finished, else the outcome that the exit code tells.
    pub outcome: &'static str,
    /// The craft, in the order of their seeds.
    pub fleet: Vec<CraftJson>,
    /// What is wrong with the recipe, where it was not rehearsed for that.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub findings: Vec<FindingJson>,
}

/// One craft.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CraftJson {
    /// Its seed.
    pub seed: u64,
    /// How it ended: `finished`, `refused`, `stopped`, `broken-off` or `fell-short`.
    pub outcome: &'static str,
    /// Why it did not finish.
    pub reason: Option<String>,
    /// What the board stores otherwise than before, by its own names.
    pub settings: BTreeMap<String, Value>,
    /// Questions asked.
    pub questions: u32,
    /// Restarts of the board.
    pub restarts: u32,
    /// Simulated bench time, in seconds.
    pub seconds: f64,
}

impl RehearseJson {
    /// The craft of a rehearsal.
    #[must_use]
    pub fn of(craft: &[Craft]) -> Self {
        Self {
            schema: SCHEMA,
            kind: "rehearsal",
            outcome: exit(craft).outcome(),
            fleet: craft.iter().map(CraftJson::of).collect(),
            findings: Vec::new(),
        }
    }

    /// A recipe that was not rehearsed, for what is wrong with it.
    #[must_use]
    pub fn refused(findings: Vec<FindingJson>) -> Self {
        Self { schema: SCHEMA, kind: "rehearsal", outcome: Exit::Document.outcome(), fleet: Vec::new(), findings }
    }
}

impl CraftJson {
    fn of(craft: &Craft) -> Self {
        Self {
            seed: craft.seed,
            outcome: exit_of(&craft.result).outcome(),
            reason: craft.result.as_ref().err().map(reason),
            settings: craft.changed.clone(),
            questions: craft.questions,
            restarts: craft.restarts,
            seconds: seconds(craft.took),
        }
    }
}

/// How a fleet ended: well if every craft finished, else as the worst of its runs.
#[must_use]
pub fn exit(craft: &[Craft]) -> Exit {
    craft.iter().map(|craft| exit_of(&craft.result)).max().unwrap_or(Exit::Done)
}

fn exit_of(result: &Result<(), Fault>) -> Exit {
    result.as_ref().err().map_or(Exit::Done, Fault::exit)
}

#[expect(clippy::cast_precision_loss, reason = "far below 2^53 µs, which are 285 years")]
fn seconds(time: Time) -> f64 {
    (time.0 / 1000) as f64 / 1000.0
}
