//! The Redstart, a board whose packets nobody here's codec makes, set up by the program itself at a terminal.

use super::kit::{Peer, a_key_stops, arguments, copies, has_it_all, holds};
use crate::cli::desk::board::Board;
use crate::cli::desk::{Attended, willing};

const REDSTART: Peer = Peer("Redstart");

/// All that this board can be asked; its settings are the Wagtail's.
const ENDS: &str = "require battery in
idle start at 1112 step 12 until all spin, at most 1180, for 1 s, in 1 starts, then add 12
keep
test cut within 800 ms
test failsafe
";

const WANTED: [(&str, i64); 8] = [
    ("IN_PUSH", 1),
    ("IN_LEAN", 2),
    ("LIVE_IN", 7),
    ("HORN_IN", 8),
    ("EVEN_IN", -1),
    ("SILENCE_DOES", 4),
    ("PACK_CALLS", 360),
    ("GLOW_SHADE", -30),
];

fn redstart(test: &str) -> Option<Board> {
    REDSTART.board(test, &["0.004"])
}

#[test]
fn a_copy_holds_every_setting_of_every_packet() {
    let Some(mut board) = redstart("snapshot") else { return };
    let copy = copies(&REDSTART.sandbox(""), &mut board, &["--sheet", "sheet.toml"]);
    assert_eq!((&copy["board"]["kind"], &copy["board"]["firmware"]), (&"Redstart".into(), &"1.7".into()));
}

#[test]
fn a_craft_with_a_packet_board_of_other_hands_is_set_up_from_end_to_end() {
    let Some(mut board) = redstart("run") else { return };
    let sandbox = REDSTART.sandbox(&Peer::set_up(ENDS));
    let port = board.port.clone();
    let ended = Attended::start(&sandbox, &mut board, &arguments("run", &port, &[])).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    holds(&mut board, &WANTED);
    // The lowest step at which every motor starts, and 12 us on top.
    let highest_start = board.truth()["highest_start"].as_i64().unwrap();
    let idle = board.settings()["LOWEST_DRIVE"]["working"].as_i64().unwrap();
    assert!((highest_start + 12..highest_start + 24).contains(&idle), "{idle}: {}", ended.screen);
    assert!(board.rests());
    has_it_all(&sandbox, &port);
}

#[test]
fn any_key_stops_the_motors_of_a_packet_board_of_other_hands() {
    let Some(mut board) = redstart("stop") else { return };
    a_key_stops(&REDSTART, &mut board);
}
