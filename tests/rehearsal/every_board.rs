//! One recipe, unchanged, on every board: functions bound directly and by rows, over MAVLink, a console and packets.
//!
//! What the boards mean in the end is the same, compared in words of the vocabulary and bands of functions.

use super::kit::{BOARDS, play, play_with};
use quadjig::board::binding::{bound_now, functions};
use quadjig::board::sheet::{Settings, Sheet};
use quadjig::board::value::SettingName;
use quadjig::board::{shipped, vocabulary};
use quadjig::language::sources::Disk;
use quadjig::rehearsal::played::make_for;
use quadjig::rehearsal::rehearse::{Script, willing};
use quadjig::rehearsal::simulated::Disk as Memory;
use quadjig::virtual_board::{World, WorldConfig};
use std::collections::BTreeSet;
use std::path::PathBuf;

/// The shipped recipe of a first craft, written for these boards.
pub fn script(sheet: Sheet) -> Script {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("recipes/first-craft.jig");
    let text = std::fs::read_to_string(&path).unwrap();
    let all: BTreeSet<&str> = BOARDS.into_iter().chain([&sheet.board[..]]).collect();
    let all: Vec<String> = all.into_iter().map(|board| format!("board \"{board}\"\n")).collect();
    assert_eq!(text.matches("board \"Finch\"\n").count(), 1);
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("first.jig");
    std::fs::write(&file, text.replace("board \"Finch\"\n", &all.concat())).unwrap();
    let reading = vocabulary::read(&Disk, &file, &[]);
    assert!(reading.findings.is_empty(), "{:#?}", reading.findings);
    Script { recipe: reading.recipe.unwrap(), sheets: vec![sheet], card: None }
}

/// What settings mean: each word with its number, and where each function is on.
pub fn meaning(sheet: &Sheet, settings: &Settings) -> Vec<String> {
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
    for name in BOARDS {
        let script = script(shipped::sheet(name).unwrap().unwrap());
        let make = make_for(&script.sheets).unwrap();
        assert_eq!(make.name, name);
        let play = play(&script, WorldConfig::default().made(make));
        assert_eq!(play.rehearsed.result, Ok(()), "{name}: {:#?}", play.lines.last());
        let meaning = meaning(&script.sheets[0], &play.rehearsed.settings);
        assert!(meaning.iter().any(|line| line.starts_with("arm [BoundNow")), "{meaning:#?}");
        told.push((meaning, play.rehearsed.restarts, play.rehearsed.questions));
    }
    assert_eq!(told[0], told[1], "direct and rows");
    assert_eq!(told[0], told[2], "MAVLink and a console");
    assert_eq!(told[0], told[3], "MAVLink and packets with a length");
    assert_eq!(told[0], told[4], "MAVLink and packets of stuffed bytes");
}

/// Positions apart take a row each; rows that were used for them before are freed; what else stands in the table stays.
#[test]
fn positions_apart_are_rows_and_the_rest_of_the_table_stays() {
    for name in ["Finch R", "Finch C", "Finch Q"] {
        let head = format!(
            "recipe \"Rows\"\nedition 1\ncraft quad x\nboard \"{name}\"\nrequire battery out\nrequire props off\n"
        );
        let body = "switch D on channel 8 rests at 1000, 1500, 2000 on link loss flagged\n\
                    bind self-level to switch D positions 0, 2\nkeep\n";
        let files = quadjig::language::sources::Memory::of([("rows.jig", format!("{head}{body}"))]);
        let reading = vocabulary::read(&files, std::path::Path::new("rows.jig"), &[]);
        assert!(reading.findings.is_empty(), "{:#?}", reading.findings);
        let sheets = vec![shipped::sheet(name).unwrap().unwrap()];
        let script = Script { recipe: reading.recipe.unwrap(), sheets, card: None };
        let config = WorldConfig { make: Some(make_for(&script.sheets).unwrap()), ..WorldConfig::default() };
        let mut world = World::new(config.clone());
        // A buzzer, three bands of self-level elsewhere, and lights.
        for (row, numbers) in [
            (1, [2, 7, 1754, 2146]),
            (2, [3, 9, 850, 1050]),
            (3, [3, 9, 1250, 1450]),
            (5, [3, 9, 1650, 1850]),
            (8, [4, 5, 850, 1250]),
        ] {
            for (role, number) in ["FUNC", "CHANNEL", "FROM", "TO"].into_iter().zip(numbers) {
                world.line(world.now(), &format!("set ROW{row}_{role} {number}")).unwrap();
            }
        }
        let play = play_with(&script, world, &mut willing(&config), Memory::default());
        assert_eq!(play.rehearsed.result, Ok(()), "{name}: {:#?}", play.lines);
        let rows: Vec<Vec<i64>> = (1..=8)
            .map(|row| {
                let value = |role: &str| {
                    let name = SettingName::new(&format!("ROW{row}_{role}")).unwrap();
                    play.rehearsed.settings[&name].real().to_string().parse().unwrap()
                };
                ["FUNC", "CHANNEL", "FROM", "TO"].map(value).to_vec()
            })
            .collect();
        assert_eq!(rows[0], [2, 7, 1754, 2146], "{name}");
        assert_eq!(rows[7], [4, 5, 850, 1250], "{name}");
        let levels = rows.iter().filter(|row| row[0] == 3).collect::<Vec<_>>();
        assert!(levels.len() == 2 && levels.iter().all(|row| row[1] == 8), "{name}: {rows:?}");
        assert_eq!(
            rows.iter().filter(|row| row[..] == [0, 0, 850, 850]).count(),
            4,
            "{name}: freed and free: {rows:?}"
        );
    }
}
