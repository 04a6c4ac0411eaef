//! What the tests of this folder share: a recipe from text, and one play of it.

use crate::pace::gives_way;
use quadjig::board::{shipped, vocabulary};
use quadjig::language::sources::Memory;
use quadjig::rehearsal::operator::Operator;
use quadjig::rehearsal::played::make_for;
use quadjig::rehearsal::rehearse::{Rehearsed, Script, rehearse, willing};
use quadjig::rehearsal::simulated::{Disk, TranscriptEvent};
use quadjig::virtual_board::{World, WorldConfig};
use std::path::Path;

/// The head of every recipe here: battery out, propellers off, arm bound, motors spinning at zero throttle.
pub const HEAD: &str = "recipe \"Wren 95\"
edition 1
craft quad x
board \"Finch\"
require battery out
require props off
switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged
bind arm to switch B position 2
at zero throttle spin
keep
";

/// A script of [`HEAD`] and some lines.
pub fn script(lines: &str) -> Script {
    let files = Memory::of([("wren.jig", format!("{HEAD}{lines}"))]);
    let reading = vocabulary::read(&files, Path::new("wren.jig"), &[]);
    assert!(reading.findings.is_empty(), "{:#?}", reading.findings);
    Script { recipe: reading.recipe.unwrap(), sheets: vec![shipped::sheet("finch").unwrap().unwrap()], card: None }
}

/// A play with the lines that a transcript would have, for a test that fails.
pub struct Play {
    pub rehearsed: Rehearsed,
    pub lines: Vec<String>,
}

impl Play {
    /// Whether something like this was shown or asked.
    pub fn told(&self, what: &str) -> bool {
        self.lines.iter().any(|line| line.contains(what))
    }
}

/// Plays a script with a given operator.
pub fn play_with(script: &Script, board: World, operator: &mut dyn Operator, disk: Disk) -> Play {
    gives_way();
    let mut lines = Vec::new();
    let rehearsed = rehearse(script, board, operator, disk, |now, seen: &TranscriptEvent<'_>| {
        lines.push(format!("{:>9} {seen:?}", now.0 / 1000));
    });
    Play { rehearsed, lines }
}

/// Plays a script with the willing operator on a fresh craft.
pub fn play(script: &Script, config: WorldConfig) -> Play {
    let mut operator = willing(&config);
    play_with(script, World::new(config), &mut operator, Disk::default())
}

/// The virtual boards: bound directly, by rows, over a console, and over packets of either framing.
pub const BOARDS: [&str; 5] = ["Finch", "Finch R", "Finch C", "Finch P", "Finch Q"];

/// A script of some lines for one of them, battery out and propellers off.
pub fn script_for(board: &str, lines: &str) -> Script {
    let head = format!(
        "recipe \"Wren 95\"\nedition 1\ncraft quad x\nboard \"{board}\"\nrequire battery out\nrequire props off\n"
    );
    let files = Memory::of([("wren.jig", format!("{head}{lines}"))]);
    let reading = vocabulary::read(&files, Path::new("wren.jig"), &[]);
    Script { recipe: reading.recipe.unwrap(), sheets: vec![shipped::sheet(board).unwrap().unwrap()], card: None }
}

/// A play on a craft whose world was moved by these lines before.
pub fn play_moved(script: &Script, world: &[&str], disk: Disk, config: WorldConfig) -> Play {
    let mut board = World::new(WorldConfig { make: Some(make_for(&script.sheets).unwrap()), ..config });
    for line in world {
        let now = board.now();
        board.line(now, line).unwrap();
    }
    let mut operator = willing(board.config());
    play_with(script, board, &mut operator, disk)
}

/// The same on a fresh craft with an empty record.
pub fn plain(board: &str, lines: &str, world: &[&str]) -> Play {
    play_moved(&script_for(board, lines), world, Disk::default(), WorldConfig::default())
}
