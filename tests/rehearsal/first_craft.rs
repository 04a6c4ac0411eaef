//! The first-craft recipe, from beginning to end.

use quadjig::board::{shipped, vocabulary};
use quadjig::language::sources::Disk;
use quadjig::rehearsal::rehearse::{Script, rehearse, willing};
use quadjig::rehearsal::simulated::{Disk as Files, TranscriptEvent};
use quadjig::virtual_board::{World, WorldConfig};
use std::path::Path;

pub fn script(file: &str) -> Script {
    let reading = vocabulary::read(&Disk, Path::new(file), &[]);
    assert!(reading.findings.is_empty(), "{:#?}", reading.findings);
    Script { recipe: reading.recipe.unwrap(), sheets: vec![shipped::sheet("finch").unwrap().unwrap()], card: None }
}

#[test]
fn it_plays_to_its_end() {
    let script = script("recipes/first-craft.jig");
    let config = WorldConfig::default();
    let mut operator = willing(&config);
    let mut lines = Vec::new();
    let rehearsed = rehearse(&script, World::new(config), &mut operator, Files::default(), |now, seen| {
        let line = match seen {
            TranscriptEvent::Asked(question) => format!("ASK {question:?}"),
            TranscriptEvent::Answered(yes) => format!("ANSWERED {yes}"),
            other => format!("{other:?}"),
        };
        lines.push(format!("{:>9} {line}", now.0 / 1000));
    });
    assert_eq!(rehearsed.result, Ok(()), "{}", lines.last().unwrap());
}
