//! Two recipes compared by meaning, as text and JSON.
//!
//! Promises: both say the same; what came from a recipe has passed the gate. Must not be here: what differs.

use super::findings::Places;
use super::gate;
use crate::language::canonical::recipe_hash;
use crate::language::difference::{Change, Difference, Said, Subject};
use crate::language::recipe::Recipe;
use crate::language::span::Place;
use serde::Serialize;

/// What `diff` reports.
#[derive(Debug, Serialize)]
pub struct DiffJson {
    schema: &'static str,
    old: SideJson,
    new: SideJson,
    differences: Vec<DifferenceJson>,
}

#[derive(Debug, Serialize)]
struct SideJson {
    file: String,
    /// None where there is no recipe on this side.
    recipe_hash: Option<String>,
}

#[derive(Debug, Serialize)]
struct DifferenceJson {
    subject: Subject,
    change: &'static str,
    turns_motors: bool,
    old: Option<SaidJson>,
    new: Option<SaidJson>,
}

#[derive(Debug, Serialize)]
struct SaidJson {
    words: String,
    /// None for what the head says.
    at: Option<Place>,
}

/// One side of a comparison: how it is called, and the recipe, if there is one.
#[derive(Debug, Clone, Copy)]
pub struct Side<'r> {
    /// How it was named.
    pub name: &'r str,
    /// What it says.
    pub recipe: Option<&'r Recipe>,
}

/// The differences as JSON.
#[must_use]
pub fn json(old: Side<'_>, new: Side<'_>, differences: &[Difference]) -> DiffJson {
    let side = |side: Side<'_>| SideJson { file: side.name.to_owned(), recipe_hash: side.recipe.map(recipe_hash) };
    let said = |side: Side<'_>, said: &Said| SaidJson {
        words: said.words.clone(),
        at: said.statement.zip(side.recipe).and_then(|(index, recipe)| {
            recipe.statements.get(index).map(|statement| Places::new(&recipe.files).place(&statement.span))
        }),
    };
    let one = |difference: &Difference| {
        let (change, before, after) = match &difference.change {
            Change::Added(new) => ("added", None, Some(new)),
            Change::Removed(old) => ("removed", Some(old), None),
            Change::Changed(old, new) => ("changed", Some(old), Some(new)),
            Change::Moved(old, new) => ("moved", Some(old), Some(new)),
        };
        DifferenceJson {
            subject: difference.subject,
            change,
            turns_motors: difference.turns_motors,
            old: before.map(|words| said(old, words)),
            new: after.map(|words| said(new, words)),
        }
    };
    DiffJson {
        schema: "quadjig.diff/1",
        old: side(old),
        new: side(new),
        differences: differences.iter().map(one).collect(),
    }
}

/// The differences as lines, by subject.
#[must_use]
pub fn text(old: Side<'_>, new: Side<'_>, differences: &[Difference]) -> String {
    let mut text = format!("old: {}\nnew: {}\n", gate::line(old.name), gate::line(new.name));
    if differences.is_empty() {
        text.push_str("The two mean the same.\n");
        return text;
    }
    points(differences).into_iter().fold(text, |text, line| text + &line + "\n")
}

/// Every difference as lines, by subject.
#[must_use]
pub fn points(differences: &[Difference]) -> Vec<String> {
    let mut lines = Vec::new();
    let mut before = None;
    for Difference { subject, turns_motors, change } in differences {
        if before.replace(*subject) != Some(*subject) {
            lines.push(heading(*subject).to_owned());
        }
        let mut add = |change: &str, words: &Said| lines.push(format!("  {change:<8} {}", gate::line(&words.words)));
        match change {
            Change::Added(new) => add("added", new),
            Change::Removed(old) => add("removed", old),
            Change::Changed(old, new) => {
                add("changed", old);
                add("to", new);
            }
            Change::Moved(_, new) => add("moved", new),
        }
        if *turns_motors && *subject != Subject::MotorStep {
            lines.push("           this can turn a motor".to_owned());
        }
    }
    lines
}

fn heading(subject: Subject) -> &'static str {
    match subject {
        Subject::Head => "what it is for:",
        Subject::Guard => "guards:",
        Subject::Setting => "settings:",
        Subject::MotorStep => "motor steps:",
        Subject::Test => "tests:",
        Subject::Question => "said and asked:",
    }
}
