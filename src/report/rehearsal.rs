//! Rehearsals summed up: as JSON, `quadjig.rehearse/1`, and a fleet as text.
//!
//! Promises: the fields that the project's command reference names; no word that could be read as a
//! proof about a real craft. Must not be here: how a rehearsal is played, the transcript of one.

use super::findings::FindingJson;
use super::gate;
use super::screen::Style;
use super::screen::line::{Ink, Page};
use super::transcript::{NOTHING_SHOWN, minutes, reason};
use crate::language::units::Pulse;
use crate::measure::time::Time;
use crate::rehearsal::fleet::Craft;
use crate::seam::exit::Exit;
use crate::seam::fault::Fault;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;

/// Name of this form of JSON.
pub const SCHEMA: &str = "quadjig.rehearse/1";
/// Columns of a summary.
const WIDTH: usize = 96;

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

/// A fleet as text.
#[must_use]
pub fn fleet_text(title: &str, board: &str, craft: &[Craft], style: Style) -> String {
    let mut page = Page::new(style, WIDTH);
    page.heading("Rehearsal on a fleet");
    page.say("recipe", &format!("\"{}\"", gate::line(title)));
    let seeds = match craft {
        [] => String::new(),
        [one] => format!(", seed {}", one.seed),
        [first, .., last] => format!(", seeds {} to {}", first.seed, last.seed),
    };
    page.inked(
        Ink::Warning,
        "VIRTUAL",
        &format!("{} {board} craft{seeds}, played by a scripted operator", craft.len()),
    );
    page.gap();
    let finished = craft.iter().filter(|craft| craft.result.is_ok()).count();
    page.inked(Ink::Strong, "finished", &format!("{finished} of {}", craft.len()));
    for (why, seeds) in reasons(craft) {
        page.inked(Ink::Warning, "not", &format!("{}: {}", seeds_in_words(&seeds), gate::lines(&why)));
    }
    page.gap();
    idle(&mut page, craft);
    page.say("questions", &range(craft.iter().map(|craft| u64::from(craft.questions)), " a craft"));
    page.say("restarts", &range(craft.iter().map(|craft| u64::from(craft.restarts)), " a craft"));
    if let Some((least, middle, most)) = spread(craft.iter().map(|craft| craft.took)) {
        let times = format!("{} to {}, the middle one {}", minutes(least), minutes(most), minutes(middle));
        page.say("bench time", &format!("{times}; simulated"));
    }
    page.gap();
    page.say("", NOTHING_SHOWN);
    let mut text = page.lines().join("\n");
    text.push('\n');
    text
}

/// Reasons with the seeds of their craft, the most frequent first.
fn reasons(craft: &[Craft]) -> Vec<(String, Vec<u64>)> {
    let mut by_reason: BTreeMap<String, Vec<u64>> = BTreeMap::new();
    for craft in craft {
        if let Err(fault) = &craft.result {
            by_reason.entry(reason(fault)).or_default().push(craft.seed);
        }
    }
    let mut reasons: Vec<_> = by_reason.into_iter().collect();
    reasons.sort_by_key(|(_, seeds)| (std::cmp::Reverse(seeds.len()), seeds.first().copied()));
    reasons
}

fn seeds_in_words(seeds: &[u64]) -> String {
    const SHOWN: usize = 8;
    let list: Vec<String> = seeds.iter().take(SHOWN).map(u64::to_string).collect();
    let more = if seeds.len() > SHOWN { format!(" and {} more", seeds.len() - SHOWN) } else { String::new() };
    format!("{} ({} {}{more})", seeds.len(), if seeds.len() == 1 { "seed" } else { "seeds" }, list.join(", "))
}

/// What the searches kept, and how that stands to what the motors of the same craft really need.
fn idle(page: &mut Page, craft: &[Craft]) {
    let found: Vec<(&Craft, Pulse)> = craft
        .iter()
        .filter_map(|craft| craft.idle.as_ref().filter(|idle| idle.lowest.is_some()).map(|idle| (craft, idle.kept)))
        .collect();
    let Some((least, middle, most)) = spread(found.iter().map(|(_, kept)| *kept)) else { return };
    page.say("idle kept", &format!("{least} to {most}, the middle one {middle}, by {} craft", found.len()));
    // Rounded down: what is said to stand above the need is at least that.
    #[expect(clippy::cast_possible_truncation, reason = "a difference of pulses")]
    let above = found.iter().map(|(craft, kept)| (f64::from(kept.0) - craft.sure_start()).floor() as i64);
    if let Some((least, middle, most)) = spread(above) {
        page.say(
            "above need",
            &format!(
                "{least} to {most} us, the middle one {middle} us, over the pulse that starts each motor of that \
                 virtual craft 999 times in 1,000"
            ),
        );
    }
    page.gap();
}

fn range(values: impl Iterator<Item = u64>, what: &str) -> String {
    match spread(values) {
        None => "none".to_owned(),
        Some((least, _, most)) if least == most => format!("{least}{what}"),
        Some((least, _, most)) => format!("{least} to {most}{what}"),
    }
}

/// Least, middle and most of some values.
fn spread<T: Ord + Copy>(values: impl Iterator<Item = T>) -> Option<(T, T, T)> {
    let mut values: Vec<T> = values.collect();
    values.sort_unstable();
    Some((*values.first()?, *values.get(values.len() / 2)?, *values.last()?))
}
