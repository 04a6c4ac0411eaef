//! What a session says on its way out is what the board has, now and after a restart.

use super::kit::{Sat, Turn, on, session, turns};
use quadjig::seam::Key;
use quadjig::virtual_board::{World, WorldConfig};

const BIND: [Turn; 3] = [
    Turn::Line("require battery out"),
    Turn::Line("switch B on channel 6 rests at 1000, 1500, 2000"),
    Turn::Line("bind arm to switch B position 2"),
];

fn value(board: &World, name: &str, which: &str) -> i64 {
    board.truth()["settings"][name][which].as_i64().unwrap()
}

fn with_slow_store(more: &[Turn]) -> Sat {
    let mut config = WorldConfig::default();
    config.speech.store_takes = 3;
    let turns = BIND.iter().chain(more).cloned().collect();
    on(World::new(config.clone()), &config, turns).sit()
}

/// The board stores all the same: after a restart the binding that was undone is back, and the person is told.
#[test]
fn a_keep_stopped_at_the_store_and_then_undone_may_come_back_with_a_restart() {
    let sat = with_slow_store(&[Turn::Key("keep", 900, Key::Interrupt), Turn::Line("undo")]);
    assert!(sat.result.is_ok(), "{}", sat.text);
    // The truth: on the board the old binding, in its store the one that was undone.
    assert_eq!((value(&sat.board, "ARM_CHANNEL", "working"), value(&sat.board, "ARM_CHANNEL", "stored")), (5, 6));
    sat.never_says("Nothing stands otherwise on the board than before this session");
    sat.never_says("gone after a restart");
    sat.says("Nothing stands otherwise on the board now than before this session; a restart may change that");
    sat.says("A store of these did not come to an end that was seen, so what a restart brings is unknown: arm: channel = 5 now, or 6");
    assert!(sat.prompts.last().unwrap().contains("3 not kept"), "{:?}", sat.prompts);
}

/// The next keep settles it: stored, restarted, read.
#[test]
fn a_keep_after_it_settles_it() {
    let sat = with_slow_store(&[Turn::Key("keep", 900, Key::Interrupt), Turn::Line("undo"), Turn::Line("keep")]);
    assert!(sat.result.is_ok(), "{}", sat.text);
    assert_eq!((value(&sat.board, "ARM_CHANNEL", "working"), value(&sat.board, "ARM_CHANNEL", "stored")), (5, 5));
    assert!(!sat.prompts.last().unwrap().contains("not kept"), "{:?}\n{}", sat.prompts, sat.text);
    sat.says("Nothing stands otherwise on the board than before this session.");
}

#[test]
fn an_undo_that_breaks_off_says_what_is_unknown_and_how_to_close_the_arm_band() {
    let whole = turns(BIND.iter().cloned().chain([Turn::Line("undo")]).collect()).sit();
    let writes = {
        use quadjig::board::mavlink::FrameClass;
        let sent = whole.sent.iter().flat_map(|(_, bytes)| crate::bench::stand::classed(bytes));
        sent.filter(|(class, ..)| *class == Some(FrameClass::Writes)).count()
    };
    assert!(writes > 8, "{writes}");
    let mut planned = turns(BIND.iter().cloned().chain([Turn::Line("undo"), Turn::Line("look")]).collect());
    planned.out_at_write = Some(writes);
    let sat = planned.sit();
    sat.says("Not read since it was to be written, so unknown: arm: channel (was 6, was to become 5)");
    sat.says("An arm band may be open").says("`unbind arm`");
    sat.says("What stands on the board now was not read again");
}

#[test]
fn leaving_without_keep_says_so_in_the_closing_too() {
    let sat = session(&["require battery out", "idle at 1120"]).sit();
    let closing = &sat.text[sat.text.rfind("1 setting stands otherwise").unwrap()..];
    let closing = closing.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(closing.contains("Written and not kept, so gone after a restart: idle = 1120 us."), "{closing}");
}

#[test]
fn only_what_this_session_read_after_a_restart_is_called_kept() {
    let sat = turns(vec![
        Turn::Line("require battery out"),
        Turn::Line("idle at 1120"),
        Turn::Line("look changes"),
        Turn::Line("keep"),
        // By another hand; then a step is broken off, so that all is read again.
        Turn::Moves(vec![(500, "set CELLS 3")], "look"),
        Turn::Key("find switch B", 800, Key::Interrupt),
        Turn::Line("look changes"),
    ])
    .sit();
    let first = sat.after("look changes").to_owned();
    assert!(first.contains("1050 us before, 1120 us now, not kept yet"), "{first}");
    let last = &sat.text[sat.text.rfind("> look changes").unwrap()..];
    assert!(last.contains("1050 us before, 1120 us now, kept"), "{}", sat.text);
    assert!(last.contains("not by this session"), "{}", sat.text);
}
