//! The recipes that come with the project: clean, in the one layout, and each rehearsed to its end.

use quadjig::bench::attended::NamedCard;
use quadjig::board::{shipped, vocabulary};
use quadjig::language::finding::Severity;
use quadjig::language::format::format;
use quadjig::language::sources::Disk as Files;
use quadjig::plan::checks;
use quadjig::rehearsal::rehearse::{Script, rehearse, willing};
use quadjig::rehearsal::simulated::Disk;
use quadjig::report::screen::Style;
use quadjig::report::transcript::{NOTHING_SHOWN, Transcript};
use quadjig::virtual_board::{World, WorldConfig};
use std::path::{Path, PathBuf};

/// All of them, used files included.
fn all() -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![PathBuf::from("recipes")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            // A collection has a root and a check of its own: `tests/cli/shared.rs`.
            if path.is_dir() && path.ends_with("collection") {
                continue;
            }
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ending| ending == "jig") {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

/// The second craft's recipe is written for a radio whose card is there.
fn card(recipe: &Path) -> Option<NamedCard> {
    let card = recipe.ends_with("second-craft.jig").then(|| shipped::radio_card("bench").unwrap().unwrap())?;
    Some(NamedCard { card, text: None, file: false })
}

fn script(recipe: &Path) -> Script {
    let reading = vocabulary::read(&Files, recipe, &[]);
    let sheets = vec![shipped::sheet("finch").unwrap().unwrap()];
    let card = card(recipe);
    let findings = checks::reading(&reading, &sheets, card.as_ref().map(|named| &named.card));
    let told: Vec<_> = findings.iter().filter(|finding| finding.severity != Severity::Hint).collect();
    assert!(told.is_empty(), "{}: {told:#?}", recipe.display());
    Script { recipe: reading.recipe.unwrap(), sheets, card }
}

#[test]
fn they_are_all_there() {
    let names: Vec<_> = all().iter().map(|path| path.display().to_string()).collect();
    for wanted in ["common/receiver", "first-craft", "minimal", "second-craft", "with-given"] {
        assert!(names.contains(&format!("recipes/{wanted}.jig")), "{wanted} in {names:?}");
    }
}

#[test]
fn they_are_in_the_one_layout() {
    for recipe in all() {
        let text = std::fs::read_to_string(&recipe).unwrap();
        assert_eq!(format(&text).unwrap(), text, "{}", recipe.display());
    }
}

/// To its end, and without a word that could be read as a proof about a real craft.
#[test]
fn each_finishes_in_a_rehearsal() {
    for recipe in all() {
        let script = script(&recipe);
        // A part is rehearsed in the recipe that uses it.
        if script.recipe.is_part {
            continue;
        }
        let config = WorldConfig::default();
        let mut operator = willing(&config);
        let mut transcript = Transcript::new(Style::default());
        let mut told = String::new();
        let rehearsed = rehearse(&script, World::new(config), &mut operator, Disk::default(), |_, seen| {
            told.push_str(&transcript.seen(seen));
        });
        told.push_str(&transcript.end(&rehearsed));
        assert_eq!(rehearsed.result, Ok(()), "{}", recipe.display());
        assert_eq!(rehearsed.changed["ARM_CHANNEL"], 6, "{}", recipe.display());
        assert!(told.trim_end().ends_with("no craft was touched; this proves nothing about yours"), "{told}");
        let rest = told.replace(NOTHING_SHOWN, "").replace("nothing here proves anything about a craft", "");
        for word in ["prove", "Prove", "PROVE", "proof", "passed"] {
            assert!(!rest.contains(word), "{word} in the rehearsal of {}", recipe.display());
        }
    }
}

/// The card leaves less to do than the search for the switches does.
#[test]
fn the_second_craft_takes_less_time_at_the_bench() {
    let took = |name: &str| {
        let config = WorldConfig::default();
        let mut operator = willing(&config);
        rehearse(&script(Path::new(name)), World::new(config), &mut operator, Disk::default(), |_, _| {}).took
    };
    assert!(took("recipes/second-craft.jig") < took("recipes/first-craft.jig"));
}
