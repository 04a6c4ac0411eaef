//! One craft's record as a story: who it is, its runs, what was shown, repaired, and is still open.

use super::{CraftJson, RunJson, ended_among, facts, moment, open, short, why};
use crate::language::characters::shell_word;
use crate::record::CraftRecord;
use crate::record::crafts::glance::Glance;
use crate::record::crafts::runs::Run;
use crate::record::ledger::Ledger;
use crate::report::gate;
use serde::Serialize;

/// What `craft show` reports.
#[derive(Debug, Serialize)]
pub struct StoryJson {
    schema: &'static str,
    craft: CraftJson,
    runs: Vec<RunJson>,
    repairs: Vec<RepairJson>,
    unsettled: Vec<UnsettledJson>,
}

#[derive(Debug, Serialize)]
struct RepairJson {
    at: String,
    part: String,
}

#[derive(Debug, Serialize)]
struct UnsettledJson {
    setting: String,
    was: Option<crate::board::value::Number>,
    wanted: Option<crate::board::value::Number>,
    read: Option<crate::board::value::Number>,
}

/// All that is told.
#[derive(Debug, Clone, Copy)]
pub struct Story<'a> {
    /// At a glance.
    pub craft: &'a Glance,
    /// Its whole record.
    pub record: &'a CraftRecord,
    /// Its runs.
    pub runs: &'a [Run],
}

/// As JSON.
#[must_use]
pub fn json(story: Story<'_>) -> StoryJson {
    let ledger = Ledger::of(story.record);
    StoryJson {
        schema: "quadjig.craft-show/1",
        craft: story.craft.into(),
        runs: story.runs.iter().map(RunJson::from).collect(),
        repairs: repairs(story).map(|(at, part)| RepairJson { at: at.to_owned(), part }).collect(),
        unsettled: ledger
            .open()
            .map(|(name, entry)| UnsettledJson {
                setting: name.to_string(),
                was: entry.old(),
                wanted: entry.wanted(),
                read: entry.read(),
            })
            .collect(),
    }
}

fn repairs(story: Story<'_>) -> impl Iterator<Item = (&str, String)> {
    story.record.repairs.iter().map(|repair| (repair.at.as_str(), repair.part.words()))
}

/// As lines.
#[must_use]
pub fn text(story: Story<'_>, plain: bool) -> String {
    let craft = story.craft;
    let mut all: Vec<(String, String)> = Vec::new();
    let mut say = |name: &str, value: &str| all.push((name.to_owned(), gate::line(value).into_owned()));
    say("craft", &craft.called());
    say("id", &craft.id());
    if let Some(board) = &craft.board {
        say("board", &board.kind);
        say("firmware", &board.firmware);
        if board.is_virtual() {
            say("", "VIRTUAL");
        }
    }
    say("record", &format!("`{}`", shell_word(&craft.folder)));
    for (number, run) in story.runs.iter().enumerate() {
        let made = run.provenance.as_ref();
        let hash =
            made.and_then(|made| made.recipe_hash.as_deref()).map_or_else(String::new, |it| format!("  {}", short(it)));
        let who = made.and_then(|made| made.operator.as_ref()).map_or_else(String::new, |who| format!("  by {who}"));
        let told =
            format!("{}  \"{}\"{hash}{who}  {}", moment(&run.at), run.recipe, ended_among(number, story.runs, craft));
        say(&format!("run {}", number + 1), &told);
    }
    for run in open(craft) {
        say("open", &run);
    }
    for shown in &craft.shown {
        let at = moment(&shown.at);
        let told = if shown.void.is_empty() { at } else { format!("{at}  VOID: {}", why(shown)) };
        say(&format!("test {}", shown.kind.word()), &told);
    }
    for (at, part) in repairs(story) {
        say("changed", &format!("{}  {part}", moment(at)));
    }
    for (name, entry) in Ledger::of(story.record).open() {
        let value = |value: Option<_>| {
            value.map_or_else(|| "unknown".to_owned(), |it: crate::board::value::Number| it.to_string())
        };
        let told = format!(
            "{name}: was {}, to become {}, read as {}",
            value(entry.old()),
            value(entry.wanted()),
            value(entry.read())
        );
        say("not settled", &told);
    }
    for damage in &craft.damage {
        say("damage", damage);
    }
    facts(&all, plain)
}
