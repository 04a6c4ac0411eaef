//! Many crafts, a few lines each.

use super::{CraftJson, day, ended, hanging, open, short, why};
use crate::record::crafts::glance::{Glance, Looked};
use crate::report::gate;
use serde::Serialize;
use std::fmt::Write;

/// Columns of a name.
const NAMES: usize = 6;

/// What `craft list` reports.
#[derive(Debug, Serialize)]
pub struct ListJson {
    schema: &'static str,
    crafts: Vec<CraftJson>,
    unreadable: Vec<UnreadableJson>,
}

#[derive(Debug, Serialize)]
struct UnreadableJson {
    folder: String,
    why: String,
}

/// As JSON.
#[must_use]
pub fn json(crafts: &[Looked]) -> ListJson {
    ListJson {
        schema: "quadjig.craft-list/1",
        crafts: crafts.iter().filter_map(|(_, craft)| craft.as_ref().ok()).map(CraftJson::from).collect(),
        unreadable: crafts
            .iter()
            .filter_map(|(folder, craft)| {
                let why = craft.as_ref().err()?.to_string();
                Some(UnreadableJson { folder: folder.display().to_string(), why })
            })
            .collect(),
    }
}

/// As lines.
#[must_use]
pub fn text(crafts: &[Looked], plain: bool) -> String {
    // Writing into a string cannot fail.
    let mut text = String::new();
    for (folder, craft) in crafts {
        match craft {
            Ok(craft) if plain => one_plain(&mut text, craft),
            Ok(craft) => one(&mut text, craft),
            Err(error) => {
                let folder = folder.display().to_string();
                let _ = writeln!(text, "{}\n  cannot be read: {}", gate::line(&folder), gate::line(&error.to_string()));
            }
        }
    }
    if crafts.is_empty() {
        text.push_str("No craft has a record yet.\n");
    }
    text
}

fn head(craft: &Glance) -> String {
    let mark =
        if craft.board.as_ref().is_some_and(crate::board::signals::Identity::is_virtual) { "  VIRTUAL" } else { "" };
    let name = craft.called();
    let id = craft.id();
    let id = if id == name { String::new() } else { format!("  {}", gate::line(&id)) };
    format!("{}{id}{mark}", gate::line(&name))
}

fn tests(craft: &Glance, stand: bool) -> Vec<String> {
    let of = craft.shown.iter().filter(|shown| shown.void.is_empty() == stand);
    of.map(|shown| {
        let told = format!("{} {}", shown.kind.word(), day(&shown.at));
        if stand { told } else { format!("{told} ({})", why(shown)) }
    })
    .collect()
}

fn one(text: &mut String, craft: &Glance) {
    let _ = writeln!(text, "{}", head(craft));
    let mut say = |name: &str, value: &str| text.push_str(&hanging(name, NAMES, value));
    match &craft.last {
        Some(run) => {
            let hash = run.provenance.as_ref().and_then(|made| made.recipe_hash.as_ref());
            let hash = hash.map_or_else(String::new, |hash| format!("  {}", short(hash)));
            let (at, recipe) = (day(&run.at), gate::line(&run.recipe));
            say("last", &format!("{at}  \"{recipe}\"{hash}  {}", ended(run)));
        }
        None => say("last", "no run"),
    }
    for run in open(craft) {
        say("open", &run);
    }
    let (stand, void) = (tests(craft, true), tests(craft, false));
    if !stand.is_empty() {
        say("tests", &stand.join(", "));
    }
    for test in void {
        say("void", &test);
    }
    for damage in &craft.damage {
        say("damage", &gate::line(damage));
    }
}

fn one_plain(text: &mut String, craft: &Glance) {
    let _ = writeln!(text, "craft: {}", head(craft));
    if let Some(run) = &craft.last {
        let _ = writeln!(text, "last run: {}\nrecipe: {}", day(&run.at), gate::line(&run.recipe));
        if let Some(hash) = run.provenance.as_ref().and_then(|made| made.recipe_hash.as_ref()) {
            let _ = writeln!(text, "recipe hash: {}", gate::line(hash));
        }
        let _ = writeln!(text, "outcome: {}", ended(run));
    } else {
        text.push_str("last run: none\n");
    }
    for run in open(craft) {
        let _ = writeln!(text, "open: {run}");
    }
    for test in tests(craft, true) {
        let _ = writeln!(text, "test: {test}");
    }
    for test in tests(craft, false) {
        let _ = writeln!(text, "void: {test}");
    }
    for damage in &craft.damage {
        let _ = writeln!(text, "damage: {}", gate::line(damage));
    }
}
