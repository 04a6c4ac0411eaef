//! The Wagtail, a board that speaks through the reference library, set up by the program itself at a terminal.

use super::kit::{CHANNELS, Peer, a_key_stops, arguments, copies, cut, give, has_it_all, holds, short_runs};
use crate::cli::attended::motors::attended;
use crate::cli::desk::seen::{ALL_TO_LAST, Seen};
use crate::cli::desk::{Attended, Deed, typed, willing};
use std::time::Duration;

const WAGTAIL: Peer = Peer("Wagtail");

/// What is left once its switches arm: nothing of it is as on a Finch.
const ENDS: &str = "test buzzer
power cycle
idle start at 1110 step 10 until all spin, at most 1180, for 1 s, in 1 starts, then add 10
keep
test cut within 800 ms
test failsafe
";

/// What a first set-up asks besides: sticks, and how the board sits.
const SEEN_TO: &str = "require battery out
channels throttle, roll, pitch, yaw
require throttle low
board turned 45 deg
keep
find sticks
test sticks
test attitude
calibrate level
keep
";

/// What is found of its radio and bound, a motor signal over a power cycle, its voltage, and an idle that is tested.
const FOUND: &str = "require battery out
channels throttle, roll, pitch, yaw
find switch K with 3 positions
find switch L with 2 positions
find link loss
bind arm to switch K position 2
bind self-level to switch L position 1
at zero throttle spin
idle at 1140
signal dshot300
battery 2 cells lipo warn at 3.6 V per cell land at 3.4 V per cell
keep
require throttle low
power cycle
calibrate battery
keep
test idle in 2 starts
";

/// Motors that are plugged and wired otherwise than the sheet says, put right.
const ORDERED: &str = "require battery out
channels throttle, roll, pitch, yaw
require throttle low
order motors
";

/// What the recipe has to come to on the board, in the board's own numbers. The idle is found below.
const WANTED: [(&str, i64); 17] = [
    ("IN_PUSH", 1),
    ("IN_LEAN", 2),
    ("IN_NOSE", 3),
    ("IN_SWING", 4),
    ("LIVE_IN", 7),
    ("LIVE_HI", 2100),
    ("HORN_IN", 8),
    ("HORN_HI", 2100),
    ("EVEN_IN", -1),
    ("STICK_AT_BOTTOM", 1),
    ("SILENCE_DOES", 4),
    ("SILENCE_AFTER", 5),
    ("PACK_COUNT", 2),
    ("PACK_SORT", 1),
    ("PACK_CALLS", 360),
    ("PACK_ENDS", 340),
    ("GLOW_SHADE", -30),
];

/// How long an answer takes, in seconds: well under what lets a motor turn, and over it.
const PROMPT: &str = "0.05";
const QUICK: &str = "0.2";
const SLOW: &str = "0.6";

#[test]
fn a_copy_holds_every_setting_whatever_order_they_come_in() {
    let Some(mut board) = WAGTAIL.board("snapshot", &[SLOW]) else { return };
    let copy = copies(&WAGTAIL.sandbox(""), &mut board, &[]);
    // First 64 bits of the SHA-256 of the long id, by another implementation.
    assert_eq!(copy["board"]["id"], "ee967a1b1060e433");
}

#[test]
fn a_craft_with_a_board_of_other_hands_is_set_up_from_end_to_end() {
    let Some(mut board) = WAGTAIL.board("run", &[QUICK]) else { return };
    let sandbox = WAGTAIL.sandbox(&Peer::set_up(ENDS));
    let port = board.port.clone();
    let before = board.settings();
    let first = sandbox.run(&arguments("dry-run", &port, &["--exit-code"]));
    assert!(first.starts_with("exit code: 3\n"), "{first}");
    assert_eq!(board.settings(), before, "a dry run writes nothing");

    let ended = Attended::start(&sandbox, &mut board, &arguments("run", &port, &[])).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    // The battery was never in before it was said to be out, and a restart that was announced takes nobody's word away.
    for (question, planned) in
        [("Are the propellers off?", "Propellers off, and no other craft"), ("Is the battery out?", "  Battery out")]
    {
        let (asked, planned) = (ended.screen.matches(question).count(), first.matches(planned).count());
        assert!((1..=planned).contains(&asked), "{question} {asked} times, planned {planned}:\n{}", ended.screen);
    }
    let truth = board.truth();
    let paths = truth["paths"].as_array().unwrap();
    assert_eq!(paths.len(), 3, "two restarts");
    assert!(paths.windows(2).all(|pair| pair[0] != pair[1]), "back under another path each time: {paths:?}");
    holds(&mut board, &WANTED);
    let settings = board.settings();
    // Position 2 of switch K rests at 1988 µs and is inside, position 1 at 1497 µs is not; so for switch L.
    for (name, above, at_most) in [("LIVE_LO", 1497, 1988), ("HORN_LO", 1020, 1980)] {
        let low = settings[name]["working"].as_i64().unwrap();
        assert!(above < low && low <= at_most && low % 10 == 0, "{name} is {low}");
    }
    // The lowest step of 10 µs at which every motor starts, and 10 µs on top.
    let highest_start = board.truth()["highest_start"].as_i64().unwrap();
    assert_eq!(settings["LOWEST_DRIVE"]["working"], (highest_start + 9) / 10 * 10 + 10);
    assert!(board.rests());
    has_it_all(&sandbox, &port);
}

/// Sticks, how it sits, and its level.
#[test]
fn sticks_seat_and_level_of_a_board_of_other_hands_are_seen_to() {
    let Some(mut board) = WAGTAIL.board("seen to", &[QUICK]) else { return };
    let sandbox = WAGTAIL.sandbox(SEEN_TO);
    let port = board.port.clone();
    let ended = Attended::start(&sandbox, &mut board, &arguments("run", &port, &[])).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    holds(&mut board, &[("SEAT_TURN", 45)]);
    // It sits 1.5 degrees out of level to the right and 0.75 nose up; what it stores is what makes it see none.
    for (name, off) in [("SEAT_LEAN", 1.5), ("SEAT_NOSE", 0.75)] {
        let held = &board.settings()[name];
        assert_eq!(held["working"], held["stored"], "{name}");
        let trim = held["working"].as_f64().unwrap();
        assert!((trim.abs() - off).abs() < 0.6, "{name} is {trim}");
    }
    let seen = board.truth()["seen"].clone();
    assert!(seen.as_array().unwrap()[..2].iter().all(|angle| angle.as_f64().unwrap().abs() < 0.6), "{seen}");
}

/// What is found, bound and proved where nothing is known of the radio.
#[test]
fn radio_signal_voltage_and_idle_of_a_board_of_other_hands_are_seen_to() {
    let Some(mut board) = WAGTAIL.board("found", &[PROMPT]) else { return };
    board.line("set DRIVE_WAVE 7");
    board.line(&format!("set PACK_SCALE {}", 8.25 * 1.02));
    let sandbox = WAGTAIL.sandbox(FOUND);
    let port = board.port.clone();
    let ended = Attended::start(&sandbox, &mut board, &arguments("run", &port, &[])).end(|seen| match seen {
        Seen::Asked(asked) if asked.title.contains("multimeter") => typed("7.80"),
        // This radio's switches have names of their own.
        Seen::Invited(sentence) if sentence.starts_with("Put all switches") => {
            let ends =
                if sentence.starts_with(ALL_TO_LAST) { ["flip K 2", "flip L 1"] } else { ["flip K 0", "flip L 0"] };
            ends.map(|line| (Duration::from_millis(400), Deed::World(line.to_owned()))).to_vec()
        }
        other => willing(other),
    });
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    holds(&mut board, &[("LIVE_IN", 7), ("EVEN_IN", 8), ("DRIVE_WAVE", 3), ("LOWEST_DRIVE", 1140)]);
    let settings = board.settings();
    let scale = settings["PACK_SCALE"]["stored"].as_f64().unwrap();
    assert!((scale - 8.25).abs() < 0.03, "{scale}");
    // Position 2 of switch K rests at 1988 µs, position 1 at 1497; of switch L 1 at 1980, 0 at 1020.
    for (name, rests, other) in [("LIVE", 1988, 1497), ("EVEN", 1980, 1020)] {
        let end = |end: &str| settings[&format!("{name}_{end}")]["stored"].as_i64().unwrap();
        assert!(other < end("LO") && end("LO") < rests && rests < end("HI"), "{name}: {settings}");
    }
    assert!(ended.screen.contains("2 of 2 starts"), "{}", ended.screen);
    assert!(board.rests());
}

/// Two motors at each other's plugs, and one whose wires are swapped: what really turned is said, and in the end it is so.
#[test]
fn motors_of_a_board_of_other_hands_are_put_right() {
    let Some(mut board) = WAGTAIL.board("put right", &[PROMPT]) else { return };
    board.line("plug 1 front right");
    board.line("swap rear right");
    let sandbox = WAGTAIL.sandbox(ORDERED);
    short_runs(&sandbox);
    let port = board.port.clone();
    let ended = attended(&sandbox, &mut board, &arguments("run", &port, &[]));
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    for words in ["exchange motors 1 and 2 by setting", "reverse the rear right motor by setting"] {
        assert!(ended.screen.contains(words), "{words}: {}", ended.screen);
    }
    // Socket 2 has the rear right one, which turns the wrong way: it is motor 1 from now on, and a direction goes with the
    // number.
    holds(&mut board, &[("SHAFT_A_FROM", 2), ("SHAFT_B_FROM", 1), ("SHAFT_C_FROM", 3), ("SHAFT_D_FROM", 4)]);
    holds(&mut board, &[("SHAFT_A_BACK", 1), ("SHAFT_B_BACK", 0), ("SHAFT_C_BACK", 0), ("SHAFT_D_BACK", 0)]);
    let truth = board.truth();
    for (motor, (corner, number, clockwise)) in truth["motors"].as_array().unwrap().iter().zip([
        ("rear right", 1, true),
        ("front right", 2, false),
        ("rear left", 3, false),
        ("front left", 4, true),
    ]) {
        let told = (motor["corner"].as_str(), motor["number"].as_u64(), motor["clockwise"].as_bool());
        assert_eq!(told, (Some(corner), Some(number), Some(clockwise)), "{motor}");
    }
    assert!(board.rests());
    has_it_all(&sandbox, &port);
}

/// What the board is told of its receiver is in force before arm is bound; one that it does not have is said to be unheard.
#[test]
fn a_receiver_is_set_before_arm_is_bound_on_a_board_of_other_hands() {
    let Some(mut board) = WAGTAIL.board("receiver", &[PROMPT]) else { return };
    let sandbox = WAGTAIL.sandbox(&format!(
        "require battery out\nreceiver sbus on port 5\nset \"GLOW_SHADE\" to -20\nunbind buzzer\n{CHANNELS}keep\n\
         expect receiver-port is 5\nrequire throttle low\n"
    ));
    sandbox.write("other.jig", &WAGTAIL.recipe("require battery out\nreceiver ppm on port 6\n"));
    let said = sandbox.run(&["check", "other.jig", "--sheet", "sheet.toml"]);
    for words in
        ["`receiver-protocol` cannot be `ppm`", "words allowed: crsf, sbus", "6 is outside of what Wagtail takes"]
    {
        assert!(said.contains(words), "{words}: {said}");
    }
    let port = board.port.clone();
    // It speaks as the recipe says, and is plugged in elsewhere.
    board.line("receiver 2 4");
    for line in ["set HORN_IN 8", "set HORN_LO 1500", "set HORN_HI 2100"] {
        board.line(line);
    }
    let mut run = Attended::start(&sandbox, &mut board, &arguments("run", &port, &[]));
    let told = |screen: &str| screen.contains("Arm is not bound while its switch is not heard.");
    assert!(run.until(willing, |screen, _| told(screen)), "{}", run.screen());
    let truth = run.board.truth();
    let settings = &truth["settings"];
    assert_eq!((&settings["EAR_TONGUE"]["stored"], &settings["EAR_SOCKET"]["stored"]), (&2.into(), &5.into()));
    assert_eq!((&truth["hears"], &truth["board"]["starts"]), (&false.into(), &3.into()), "{truth}");
    assert_eq!(settings["LIVE_IN"]["working"], -1, "{settings}");
    run.board.line("receiver 2 5");
    let ended = run.end(willing);
    drop(run);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    holds(&mut board, &[("EAR_TONGUE", 2), ("EAR_SOCKET", 5), ("GLOW_SHADE", -20), ("LIVE_IN", 7), ("LIVE_HI", 2100)]);
    assert!(ended.screen.contains("buzzer: to"), "{}", ended.screen);
    has_it_all(&sandbox, &port);
}

#[test]
fn a_board_that_signs_is_read_with_its_key_and_with_no_other() {
    let key = "6b".repeat(32);
    let Some(board) = WAGTAIL.board("signed", &[SLOW, &key]) else { return };
    let sandbox = WAGTAIL.sandbox("");
    sandbox.write("its.key", &key).write("another.key", &"6c".repeat(32));
    let copy = |more: &[&str]| {
        let arguments = ["snapshot", "--port", &board.port, "--output", "copy.json"];
        sandbox.run(&[&arguments, more].concat())
    };
    let said = copy(&[]);
    assert!(said.starts_with("exit code: 5\n") && said.contains("it may take only signed ones"), "{said}");
    let said = copy(&["--signing-key", "another.key"]);
    assert!(said.starts_with("exit code: 5\n") && said.contains("it signs its frames with another key"), "{said}");
    let said = copy(&["--signing-key", "its.key"]);
    assert_eq!(said, "exit code: 0\n--- stdout\n64 settings copied into `copy.json`\n");
}

#[test]
fn any_key_stops_the_motors_of_a_board_of_other_hands() {
    let Some(mut board) = WAGTAIL.board("stop", &[QUICK]) else { return };
    a_key_stops(&WAGTAIL, &mut board);
}

#[test]
fn over_a_slow_link_no_motor_turns() {
    let Some(mut board) = WAGTAIL.board("slow", &[SLOW]) else { return };
    give(&mut board);
    let sandbox = WAGTAIL.sandbox(&cut());
    let port = board.port.clone();
    let ended = Attended::start(&sandbox, &mut board, &arguments("run", &port, &[])).end(willing);
    assert_eq!(ended.code, Some(4), "{}", ended.screen);
    let words = "This link is slow: an answer takes ";
    let told = ended.screen.split_once(words).unwrap_or_else(|| panic!("{}", ended.screen)).1;
    let trip: u32 = told.split_once(" ms").unwrap().0.parse().unwrap();
    assert!(trip >= 600, "{trip}:\n{}", ended.screen);
    assert!(!ended.screen.contains("Switch K to position 2"), "a start was invited:\n{}", ended.screen);
    assert!(board.rests());
}
