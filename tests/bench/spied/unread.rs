//! What breaks off while settings are read after a restart: what was not asked for is unknown, and nothing that stood
//! there before the restart is noted as read after it.

use crate::spy::{Act, Do, Heard, Played, Scene};
use quadjig::board::value::Number;
use quadjig::record::journal::Journal;
use quadjig::record::ledger::Ledger;
use quadjig::record::{CraftRecord, JournalLine};
use quadjig::virtual_board::{Conduct, Deed, WorldConfig};
use std::path::Path;

/// More settings than are asked for at a time, none of which the sheet has a word for.
const MANY: &str = concat!(
    "require battery out\n",
    "set \"LIGHT_LEVEL\" to 41\nset \"LIGHT_HUE\" to 121\nset \"BEEP_LOUD\" to 81\nset \"TURN_ROLL_DPS\" to 541\n",
    "set \"TURN_PITCH_DPS\" to 541\nset \"TURN_YAW_DPS\" to 361\nset \"SOFT_ROLL_PC\" to 26\n",
    "set \"SOFT_PITCH_PC\" to 26\nset \"SOFT_YAW_PC\" to 11\nset \"LEAN_MOST_DEG\" to 46\nset \"THR_MOST_PC\" to 99\n",
    "set \"LOG_HZ\" to 1\nset \"CAM_TILT_DEG\" to 21\nset \"PACK_MAH\" to 451\nkeep\n",
);

fn journal(played: &Played) -> Vec<JournalLine> {
    Journal::parse(Path::new("j"), played.journal().as_bytes()).unwrap().lines
}

/// Names that the journal has as read after a restart, with the values that they have there.
fn read(played: &Played) -> Vec<(String, f64)> {
    let reads = journal(played).into_iter().filter_map(|line| match line {
        JournalLine::Outcome { read, .. } => read,
        _ => None,
    });
    let value = |number: Number| number.to_string().parse().unwrap();
    reads.flatten().map(|(name, number)| (name.to_string(), value(number))).collect()
}

/// A board that says that it stores and does not has its old values after the restart. The answers of the first eight that
/// are asked for then are lost, so that the others are not asked for. Source: the virtual board's own truth.
#[test]
fn what_was_not_asked_for_after_a_restart_is_not_noted_as_read() {
    let conduct = Conduct { stores: Deed::Hollow, ..Conduct::default() };
    let config = WorldConfig { conduct, ..WorldConfig::default() };
    let first = |heard: &Heard| matches!(heard, Heard::Value(name, _) if name.as_str() <= "LIGHT_HUE");
    let lost = Act::when(|view| view.board.starts() == 2, 0, vec![Do::LoseHeard(1000, first)]);
    let played = Scene::new(&config, MANY).act(lost).play();
    assert!(played.flat().contains("Reading ARM_CHANNEL"), "{}", played.screen);
    assert!(played.journal().contains("\"failed\""), "{}", played.journal());
    for (name, value) in read(&played) {
        let is = played.setting(&name, false).as_f64().unwrap();
        assert!((is - value).abs() < 0.1, "{name} is noted as {value}, and is {is}");
    }
    // What is not known stays open.
    let record = CraftRecord { journal: journal(&played), ..CraftRecord::default() };
    let open = Ledger::of(&record).names();
    assert!(open.iter().any(|name| name.as_str() == "TURN_YAW_DPS"), "{open:?}");
}
