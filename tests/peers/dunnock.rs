//! The Dunnock, a board that nothing here was written for: its sheet comes from its description alone.

use super::kit::{Peer, arguments, has_it_all, holds, short_runs};
use crate::cli::Sandbox;
use crate::cli::attended::motors::attended;
use crate::cli::desk::board::Board;
use crate::cli::desk::{Attended, willing};

const DUNNOCK: Peer = Peer("Dunnock");

/// All that this board can be asked.
const LINES: &str = "require battery out
channels pitch, roll, throttle, yaw
switch S on channel 5 rests at 1004, 1508, 1996 on link loss flagged
switch T on channel 7 rests at 1011, 1989 on link loss flagged
bind arm to switch S position 2
bind buzzer to switch T position 1
at zero throttle spin
failsafe cut motors after 500 ms
battery 2 cells lipo warn at 3.6 V per cell land at 3.4 V per cell
keep
require throttle low
test arm
test buzzer
require battery in
idle start at 1092 step 10 until all spin, at most 1180, for 1 s, in 1 starts, then add 10
keep
test motors
test cut within 800 ms
test failsafe
";

/// In the board's own numbers: rows 1 and 2 were free, and the lower of the two switches' ends leaves the other positions out.
const WANTED: [(&str, i64); 13] = [
    ("FROM_NOSE", 1),
    ("FROM_LEAN", 2),
    ("FROM_PUSH", 3),
    ("REST_OR_SPIN", 1),
    ("LOST", 1),
    ("LOST_AFTER", 10),
    ("CELLS", 2),
    ("CALL_AT", 360),
    ("LAND_AT", 340),
    ("WAVE", 5),
    ("TURNED_A", 0),
    ("SHINE", 60),
    ("HUE", -45),
];

fn dunnock(test: &str) -> Option<Board> {
    DUNNOCK.board(test, &[])
}

fn checked(sandbox: &Sandbox, board: &mut Board) -> (Option<i32>, String) {
    let port = board.port.clone();
    let arguments = ["check-sheet", "sheet.toml", "--port", &port, "--fields"];
    let ended = Attended::start(sandbox, board, &arguments).end(willing);
    (ended.code, ended.screen.split_whitespace().collect::<Vec<_>>().join(" "))
}

#[test]
fn its_sheet_is_understood_field_by_field() {
    let Some(mut board) = dunnock("check-sheet") else { return };
    let sandbox = DUNNOCK.sandbox("");
    let before = board.settings();
    let (code, screen) = checked(&sandbox, &mut board);
    assert_eq!(code, Some(0), "{screen}");
    for words in [
        "who it is: Dunnock, firmware 3.2, id d0a7150c42e6b318",
        "motor outputs: 1000 1000 1000 1000 us",
        "LEAST_DRIVE at 1 1e 00 30 idle 3 %",
        "WAVE at 3 5a 5 signal dshot300",
        "pulses at 6 d0 07 d0 07 d0 07 d0 07 2000 2000 2000 2000, so 1000 1000 1000 1000 us",
    ] {
        assert!(screen.contains(words), "{words}: {screen}");
    }
    assert_eq!(board.settings(), before);
}

#[test]
fn a_craft_with_it_is_set_up_from_end_to_end() {
    let Some(mut board) = dunnock("run") else { return };
    let sandbox = DUNNOCK.sandbox(LINES);
    short_runs(&sandbox);
    let port = board.port.clone();
    let ended = attended(&sandbox, &mut board, &arguments("run", &port, &[]));
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    holds(&mut board, &WANTED);
    let truth = board.truth();
    // The lowest step of 10 us at which every motor starts, and 10 us on top; in tenths of a per cent.
    let highest_start = truth["highest_start"].as_i64().unwrap();
    let idle = truth["settings"]["LEAST_DRIVE"]["stored"].as_i64().unwrap() + 1000;
    assert!((highest_start + 10..highest_start + 20).contains(&idle), "{idle}: {}", ended.screen);
    // Bits and bytes that are kept for later are as they were.
    assert_eq!((&truth["untouched"]["WAYS"], &truth["untouched"]["TURNED"]), (&(0x5A & 0x8E).into(), &0xA0.into()));
    assert_eq!(truth["settings"]["PAD"]["stored"], 0x77);
    let arms = (1..=6).find(|row| truth["settings"][format!("DOES_{row}")]["stored"] == 1).unwrap();
    let low = truth["settings"][format!("LOW_{arms}")]["stored"].as_i64().unwrap();
    assert!(1508 < low && low <= 1996 && low % 5 == 0, "{low}");
    assert!(board.rests());
    has_it_all(&sandbox, &port);
}
