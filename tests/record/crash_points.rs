//! Killed at any step of the disk and before any frame of a batch: the next start says the truth about the board.
//!
//! The truth is the virtual board's own: what each setting holds, and what it has stored.

use crate::bench::stand::{Hands, Log, Played, Plot, Stand, Then, keys};
use crate::faults::disk::{Disk, DiskFault};
use quadjig::seam::Key;
use quadjig::virtual_board::{World, WorldConfig};
use std::collections::BTreeMap;
use std::time::Duration;

/// A batch, kept; nothing turns.
const BATCH: &str = concat!(
    "recipe \"Wren 95, stand\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n",
    "require props off\nrequire throttle low\nrequire battery out\nchannels roll, pitch, throttle, yaw\n",
    "switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n",
    "bind arm to switch B position 2\nat zero throttle spin\nidle at 1150\nkeep\n",
);

/// What happens between the kill and the next start.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Meanwhile {
    Nothing,
    /// The board loses its power, and what it had not stored.
    BoardRestarts,
    /// The computer loses its power, and what it had not synced.
    DiskLosesPower(usize),
}

const ALL: [Meanwhile; 4] =
    [Meanwhile::Nothing, Meanwhile::BoardRestarts, Meanwhile::DiskLosesPower(0), Meanwhile::DiskLosesPower(30)];

/// Every setting: what it holds and what is stored.
fn truth(board: &World) -> BTreeMap<String, (f64, f64)> {
    let truth = board.truth();
    let settings = truth["settings"].as_object().unwrap();
    let number = |value: &serde_json::Value| value.as_f64().unwrap();
    settings.iter().map(|(name, s)| (name.clone(), (number(&s["working"]), number(&s["stored"])))).collect()
}

fn passes(board: &mut World, ms: u64) {
    let now = board.now() + Duration::from_millis(ms);
    board.advance(now);
}

/// The same craft and disk, with the next program.
fn next(board: World, mut disk: Disk, declines: bool) -> Played {
    disk.again();
    let mut stand = Stand::new(BATCH);
    (stand.board, stand.disk) = (board, disk);
    if declines {
        stand.hands = Hands::willing(&WorldConfig::default()).who_answers(|_| Some(keys(900, 60, [Key::Escape])));
    }
    stand.play()
}

/// The board's own name of what stands in the sheet's words before it.
fn own(called: &str) -> &str {
    called.split_once(" (").map_or(called, |(_, name)| name.trim_end_matches(')'))
}

/// What the lines of a start say of settings, and the board's truth at that moment: every word is true, and nothing
/// that a restart would change is left out.
#[track_caller]
fn says_the_truth(log: &Log, board: &BTreeMap<String, (f64, f64)>, new: &BTreeMap<String, (f64, f64)>, what: &str) {
    let lines = log.lines();
    let mut said: Vec<String> = Vec::new();
    for line in &lines {
        if let Some((name, rest)) = line.split_once(" was to go from ") {
            let (now, stored) = board[name];
            let called = match now {
                now if (now - new[name].1).abs() < 0.1 => "it is new.".to_owned(),
                now if (now - stored).abs() < 0.1 => "it is old.".to_owned(),
                now => format!("it is on its way: {now}."),
            };
            assert!(rest.ends_with(&called), "{what}: {line}, and it is {now}, stored {stored}");
            said.push(name.to_owned());
        }
        if let Some((_, names)) = line.split_once("did not come to keep them over a restart: ") {
            for name in names.trim_end_matches('.').split(", ").map(own) {
                assert!((board[name].0 - new[name].1).abs() < 0.1, "{what}: {line}");
                said.push(name.to_owned());
            }
        }
        if let Some((_, names)) = line.split_once("they are not on the board any more: ") {
            for name in names.trim_end_matches('.').split(", ").map(own) {
                assert!((board[name].0 - new[name].1).abs() > 0.1, "{what}: {line}");
                said.push(name.to_owned());
            }
        }
    }
    for (name, (now, stored)) in board {
        if (now - stored).abs() > 0.1 {
            assert!(said.contains(name), "{what}: {name} is {now}, stored {stored}, and nothing is said: {lines:#?}");
        }
    }
}

/// From the kill to the end: the next start is declined, the one after it is carried out, the last has nothing to say.
fn goes_on(killed: Played, meanwhile: Meanwhile, whole: &BTreeMap<String, (f64, f64)>, what: &str) {
    assert_eq!(killed.result, None, "{what}");
    let (mut board, mut disk) = (killed.board, killed.disk);
    // A board that was on its way down comes back first, and stores what it was told to.
    passes(&mut board, 3000);
    match meanwhile {
        Meanwhile::Nothing => {}
        Meanwhile::BoardRestarts => {
            let now = board.now();
            board.line(now, "restart").unwrap();
            passes(&mut board, 3000);
        }
        Meanwhile::DiskLosesPower(more) => disk.lose_power(more),
    }
    let now = truth(&board);
    let declined = next(board, disk, true);
    assert_eq!(declined.code(), 4, "{what}\n{}", declined.log.tail());
    says_the_truth(&declined.log, &now, whole, &format!("{what}, next start"));
    let now = truth(&declined.board);
    let done = next(declined.board, declined.disk, false);
    assert_eq!(done.result, Some(Ok(())), "{what}\n{}", done.log.tail());
    says_the_truth(&done.log, &now, whole, &format!("{what}, the start after it"));
    assert_eq!(truth(&done.board), *whole, "{what}");
    let last = next(done.board, done.disk, false);
    for words in ["cut off", "was to go from", "did not come to keep", "damaged"] {
        assert!(!last.log.says(words), "{what}: {:#?}", last.log.lines());
    }
}

#[test]
fn killed_at_any_step_of_the_disk() {
    let whole = Stand::new(BATCH).play();
    assert_eq!(whole.result, Some(Ok(())), "{}", whole.log.tail());
    let (steps, settings) = (whole.disk.steps(), truth(&whole.board));
    assert!(steps > 30, "{steps}");
    for step in 0..steps {
        for fault in [DiskFault::KilledBefore, DiskFault::KilledIn] {
            let meanwhile = ALL[(step * 2 + usize::from(fault == DiskFault::KilledIn)) % ALL.len()];
            let mut stand = Stand::new(BATCH);
            stand.disk = Disk::that(step, fault);
            let killed = stand.play();
            goes_on(killed, meanwhile, &settings, &format!("{fault:?} {step}, {meanwhile:?}"));
        }
    }
}

#[test]
fn killed_behind_any_write_of_a_batch() {
    let whole = Stand::new(BATCH).play();
    let (writes, settings) = (whole.log.writes().len(), truth(&whole.board));
    assert!(writes > 5, "{writes}");
    for after in 1..=writes {
        for meanwhile in ALL {
            let at = move |_: &World, log: &Log| log.writes().len() >= after;
            let killed = Stand::new(BATCH).plot(Plot::when(at, 0, vec![Then::Die])).play();
            goes_on(killed, meanwhile, &settings, &format!("behind write {after}, {meanwhile:?}"));
        }
    }
}
