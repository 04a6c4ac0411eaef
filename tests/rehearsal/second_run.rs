//! The same recipe again on the same craft: nothing is written, and after a change by hand just that.
//!
//! Judged by the bytes that left for the board.

use super::first_craft::script;
use super::kit::{Play, play_with};
use quadjig::board::mavlink::{FrameClass, classify, frames};
use quadjig::rehearsal::rehearse::willing;
use quadjig::rehearsal::simulated::Disk;
use quadjig::virtual_board::{World, WorldConfig};

fn run(board: World, disk: Disk) -> Play {
    let mut operator = willing(board.config());
    let play = play_with(&script("recipes/first-craft.jig"), board, &mut operator, disk);
    assert_eq!(play.rehearsed.result, Ok(()), "{:#?}", play.lines[play.lines.len().saturating_sub(12)..].to_vec());
    play
}

/// Frames of a class that left.
fn sent(play: &Play, class: FrameClass) -> Vec<Vec<u8>> {
    let bytes = play.rehearsed.sent.iter().flat_map(|(_, bytes)| frames(bytes));
    bytes.filter(|frame| classify(frame) == Some(class)).map(<[u8]>::to_vec).collect()
}

/// The name in a frame that writes a setting: 16 bytes behind value, system and component, after ten of the head
/// (MAVLink `PARAM_SET`, its fields by size).
fn name(frame: &[u8]) -> String {
    String::from_utf8_lossy(&frame[16..32]).trim_end_matches('\0').to_owned()
}

#[test]
fn a_second_run_writes_nothing() {
    let first = run(World::new(WorldConfig::default()), Disk::default());
    for class in [FrameClass::Writes, FrameClass::Stores, FrameClass::Restarts] {
        assert!(!sent(&first, class).is_empty(), "the first run does: {class:?}");
    }
    assert!(first.rehearsed.changed.len() > 10);

    let second = run(first.rehearsed.board, first.rehearsed.disk);
    for class in [FrameClass::Writes, FrameClass::Stores, FrameClass::Restarts] {
        assert_eq!(sent(&second, class), Vec::<Vec<u8>>::new(), "{class:?}");
    }
    assert!(second.rehearsed.changed.is_empty() && second.rehearsed.restarts == 0);
    assert!(second.told("Nothing was changed on the board."));

    let third = run(second.rehearsed.board, second.rehearsed.disk);
    assert_eq!(sent(&third, FrameClass::Writes), Vec::<Vec<u8>>::new());
}

#[test]
fn after_a_change_by_hand_just_that_is_written() {
    for (by_hand, setting, back) in
        [("set BUZZ_FROM 1506", "BUZZ_FROM", 1754), ("set LOSS_WAIT_MS 900", "LOSS_WAIT_MS", 500)]
    {
        let mut first = run(World::new(WorldConfig::default()), Disk::default()).rehearsed;
        first.board.line(first.board.now(), by_hand).unwrap();
        let next = run(first.board, first.disk);
        let written: Vec<String> = sent(&next, FrameClass::Writes).iter().map(|frame| name(frame)).collect();
        assert_eq!(written, [setting]);
        assert_eq!(next.rehearsed.board.truth()["settings"][setting]["stored"], back);
    }
}
