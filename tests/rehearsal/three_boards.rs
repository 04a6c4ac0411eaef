//! One recipe, unchanged, on three boards: functions bound directly, by rows, and by rows over a console.
//!
//! What the boards mean in the end is the same, compared in words of the vocabulary and bands of functions.

use super::kit::play;
use quadjig::board::binding::{bound_now, functions};
use quadjig::board::sheet::{Settings, Sheet};
use quadjig::board::{shipped, vocabulary};
use quadjig::language::sources::Disk;
use quadjig::rehearsal::rehearse::{Script, kind_for};
use quadjig::virtual_board::WorldConfig;
use std::path::PathBuf;

/// The shipped recipe of a first craft, written for these boards.
fn script(sheet: &str) -> Script {
    let words: Vec<&str> = vocabulary::WORDS.iter().map(|word| word.word).collect();
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("recipes/first-craft.jig");
    let text = std::fs::read_to_string(&path).unwrap();
    let all = "board \"Finch\"\nboard \"Finch R\"\nboard \"Finch C\"\n";
    assert_eq!(text.matches("board \"Finch\"\n").count(), 1);
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("first.jig");
    std::fs::write(&file, text.replace("board \"Finch\"\n", all)).unwrap();
    let reading = quadjig::language::read(&Disk, &file, &[], &words);
    assert!(reading.findings.is_empty(), "{:#?}", reading.findings);
    Script { recipe: reading.recipe.unwrap(), sheets: vec![shipped::sheet(sheet).unwrap().unwrap()], card: None }
}

/// What settings mean: each word with its number, and where each function is on.
fn meaning(sheet: &Sheet, settings: &Settings) -> Vec<String> {
    let words = sheet.settings.iter().map(|(word, entry)| format!("{word} {}", settings[&entry.name]));
    let bands = functions(sheet).into_iter().map(|function| {
        let bands = bound_now(sheet, settings, function).unwrap();
        format!("{} {bands:?}", function.0)
    });
    words.chain(bands).collect()
}

#[test]
fn the_same_recipe_means_the_same_on_every_board() {
    let mut told = Vec::new();
    for name in ["Finch", "Finch R", "Finch C"] {
        let script = script(name);
        let kind = kind_for(&script.sheets).unwrap();
        assert_eq!(kind.name(), name);
        let play = play(&script, WorldConfig { board: kind, ..WorldConfig::default() });
        assert_eq!(play.rehearsed.result, Ok(()), "{name}: {:#?}", play.lines.last());
        let meaning = meaning(&script.sheets[0], &play.rehearsed.settings);
        assert!(meaning.iter().any(|line| line.starts_with("arm [BoundNow")), "{meaning:#?}");
        told.push((meaning, play.rehearsed.restarts, play.rehearsed.questions));
    }
    assert_eq!(told[0], told[1], "direct and rows");
    assert_eq!(told[0], told[2], "MAVLink and a console");
}
