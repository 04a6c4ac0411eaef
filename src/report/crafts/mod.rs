//! Craft records as they are listed, told and compared: text, plain lines and JSON.
//!
//! Promises: all of them say the same; whatever a file said has passed the gate. Must not be here: what a record means.

pub mod compare;
pub mod list;
pub mod run;
pub mod story;

use super::gate;
use super::words::columns;
use crate::record::crafts::glance::Glance;
use crate::record::crafts::runs::{PUT_BACK, Run, is_whole};
use crate::record::crafts::shown::Shown;
use crate::record::provenance::Input;
use serde::Serialize;

/// Digits of a hash that are shown to people.
const DIGITS: usize = 12;

/// Columns of a line.
const COLUMNS: usize = 80;

/// A craft in JSON.
#[derive(Debug, Clone, Serialize)]
pub struct CraftJson {
    /// What it is called.
    pub name: Option<String>,
    /// Its board's id, or the name that was typed because it has none.
    pub id: String,
    /// Where its record is.
    pub folder: String,
    /// Whether its board is a virtual one.
    pub is_virtual: bool,
    /// Kind of its board.
    pub board: Option<String>,
    /// Firmware as it was seen last.
    pub firmware: Option<String>,
    /// The last run.
    pub last: Option<RunJson>,
    /// Whether a run was cut off and is not settled, or goes on.
    pub open: bool,
    /// What was shown last, of each kind.
    pub tests: Vec<TestJson>,
    /// What could not be read.
    pub damage: Vec<String>,
}

/// A run in JSON.
#[derive(Debug, Clone, Serialize)]
pub struct RunJson {
    /// When it began.
    pub at: String,
    /// Title of its recipe.
    pub recipe: String,
    /// What a review signs.
    pub recipe_hash: Option<String>,
    /// The same, filled.
    pub filled_hash: Option<String>,
    /// How it ended; none: it did not.
    pub outcome: Option<String>,
    /// When it ended.
    pub ended: Option<String>,
    /// Version of the program.
    pub program: Option<String>,
    /// Who sat there.
    pub operator: Option<String>,
    /// Parameters as they were given.
    pub with: Vec<String>,
    /// Every file of the recipe, sheet and card by their hashes.
    pub files: Vec<Input>,
    /// The board sheet.
    pub sheet: Option<Input>,
    /// The radio card.
    pub radio_card: Option<Input>,
    /// Snapshots of the beginning and the end.
    pub snapshots: (String, Option<String>),
}

/// What was shown.
#[derive(Debug, Clone, Serialize)]
pub struct TestJson {
    /// Of what.
    pub test: &'static str,
    /// When.
    pub at: String,
    /// Whether it still counts.
    pub stands: bool,
    /// Why not.
    pub void: Vec<String>,
    /// Pack voltage in volts, if measured.
    pub volts: Option<f64>,
    /// What was shown, with its figures.
    pub shown: crate::record::ProofSubject,
}

impl From<&Glance> for CraftJson {
    fn from(craft: &Glance) -> Self {
        Self {
            name: craft.label.as_ref().map(|label| label.name.clone()),
            id: craft.id(),
            folder: craft.folder.display().to_string(),
            is_virtual: craft.board.as_ref().is_some_and(crate::board::signals::Identity::is_virtual),
            board: craft.board.as_ref().map(|board| board.kind.clone()),
            firmware: craft.board.as_ref().map(|board| board.firmware.clone()),
            last: craft.last.as_ref().map(RunJson::from),
            open: !craft.cut_off.is_empty(),
            tests: craft.shown.iter().map(TestJson::from).collect(),
            damage: craft.damage.clone(),
        }
    }
}

impl From<&Run> for RunJson {
    fn from(run: &Run) -> Self {
        let made = run.provenance.as_ref();
        Self {
            at: run.at.clone(),
            recipe: run.recipe.clone(),
            recipe_hash: made.and_then(|made| made.recipe_hash.clone()),
            filled_hash: made.and_then(|made| made.filled_hash.clone()),
            outcome: run.end.as_ref().map(|end| end.outcome.clone()),
            ended: run.end.as_ref().map(|end| end.at.clone()),
            program: made.map(|made| made.program.clone()),
            operator: made.and_then(|made| made.operator.clone()),
            with: made.map(|made| made.with.clone()).unwrap_or_default(),
            files: made.map(|made| made.files.clone()).unwrap_or_default(),
            sheet: made.map(|made| made.sheet.clone()),
            radio_card: made.and_then(|made| made.radio_card.clone()),
            snapshots: (run.snapshot.clone(), run.end.as_ref().and_then(|end| end.snapshot.clone())),
        }
    }
}

impl From<&Shown> for TestJson {
    fn from(shown: &Shown) -> Self {
        Self {
            test: shown.kind.word(),
            at: shown.at.clone(),
            stands: shown.void.is_empty(),
            void: shown.void.iter().map(crate::record::crafts::shown::Void::words).collect(),
            volts: shown.proof.volts,
            shown: shown.proof.subject.clone(),
        }
    }
}

/// A moment as people read it, to the second.
pub(super) fn moment(at: &str) -> String {
    at.parse::<jiff::Timestamp>()
        .map_or_else(|_| gate::line(at).into_owned(), |at| at.strftime("%Y-%m-%d %H:%M:%SZ").to_string())
}

/// The day of a moment.
pub(super) fn day(at: &str) -> String {
    moment(at).chars().take(10).collect()
}

/// The beginning of a hash.
pub(super) fn short(hash: &str) -> String {
    gate::line(hash).chars().take(DIGITS).collect()
}

/// How a run ended, in words.
pub(super) fn ended(run: &Run) -> String {
    match &run.end {
        Some(end) => gate::line(&end.outcome).into_owned(),
        None => "OPEN: it goes on, or was cut off".to_owned(),
    }
}

/// The same of one among all: what was cut off and has nothing open any more names the run that saw to it.
pub(super) fn ended_among(at: usize, runs: &[Run], craft: &Glance) -> String {
    let run = &runs[at];
    let open = run.end.is_some() || craft.cut_off.iter().any(|open| open.at == run.at);
    let whole = |run: &Run| run.end.as_ref().is_some_and(|end| is_whole(&end.outcome));
    let mut later = runs.iter().enumerate().skip(at + 1).filter(|(_, later)| !open && whole(later));
    let Some((number, later)) = later.next() else { return ended(run) };
    let number = number + 1;
    match later.recipe.as_str() {
        recipe if recipe == run.recipe => format!("cut off; finished by run {number}"),
        recipe if recipe.starts_with(PUT_BACK) => format!("cut off; put back by run {number}"),
        _ => format!("cut off; nothing of it is open since run {number}"),
    }
}

/// Runs that were cut off, each in words.
pub fn open(craft: &Glance) -> impl Iterator<Item = String> {
    craft.cut_off.iter().map(|run| {
        let (at, recipe) = (moment(&run.at), gate::line(&run.recipe));
        format!("{at}  \"{recipe}\" goes on, or was cut off: `quadjig recover` finishes it or puts it back")
    })
}

/// Why a test is void, in words.
pub(super) fn why(shown: &Shown) -> String {
    let why: Vec<String> = shown.void.iter().map(|void| gate::line(&void.words()).into_owned()).collect();
    why.join("; ")
}

/// Facts as lines: `name: value`, or names in a column.
pub(super) fn facts(facts: &[(String, String)], plain: bool) -> String {
    let wide = if plain { 0 } else { facts.iter().map(|(name, _)| name.chars().count()).max().unwrap_or(0) };
    let line = |(name, value): &(String, String)| match (name.is_empty(), plain) {
        (true, true) => format!("{value}\n"),
        (false, true) => format!("{name}: {value}\n"),
        (_, false) => hanging(name, wide, value),
    };
    facts.iter().map(line).collect()
}

/// A fact behind its name; what does not fit in a line goes on below it, never in the middle of a word.
pub(super) fn hanging(name: &str, wide: usize, value: &str) -> String {
    let room = COLUMNS.saturating_sub(wide + 4);
    let mut lines = vec![String::new()];
    // Two spaces part the cells of a line, and stay.
    for word in value.split_inclusive(' ') {
        let line = lines.last().map_or("", String::as_str);
        if !line.is_empty() && columns(line) + columns(word.trim_end()) > room {
            lines.push(String::new());
        }
        lines.last_mut().into_iter().for_each(|line| line.push_str(word));
    }
    let names = std::iter::once(name).chain(std::iter::repeat(""));
    names.zip(lines).fold(String::new(), |all, (name, line)| format!("{all}  {name:<wide$}  {}\n", line.trim_end()))
}
