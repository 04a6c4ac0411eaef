//! Ratios on a real path: this program and the reference library by turns, at the same board behind the same
//! pseudo-terminal, for wires on which the bytes alone take a second or more.

use super::served::Served;
use super::{Case, LOSSES, SEEDS, median, ours, reading};
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::sync::Mutex;

/// Baud rate and settings.
const WIRES: [(u32, usize); 5] = [(57_600, 200), (57_600, 500), (57_600, 1500), (115_200, 400), (115_200, 1500)];
/// Readings at a time: they mostly wait for their wires.
const AT_A_TIME: usize = 3;
/// Seeds where not all is asked for.
const FEW: u64 = 5;

/// Ratio of one reading, and whether it was whole.
type One = (f64, bool);

/// `only`: baud rates and numbers of settings; a wire is measured where it has each of them.
pub fn figures(full: bool, only: &[usize]) {
    let peer = peer();
    println!("\nreading all settings over a pseudo-terminal, as a ratio to the time of the bytes alone");
    if peer.is_none() {
        println!("  *** NO REFERENCE LIBRARY: run tests/peers/install, or name its Python in QUADJIG_PEERS.");
        println!("  *** Only our own figures follow.");
    }
    let (wires, losses, seeds) = if full { (&WIRES[..], &LOSSES[..], SEEDS) } else { (&WIRES[..1], &LOSSES[..3], FEW) };
    println!("  median of {seeds} seeds; in brackets the readings that were whole, where not all were");
    println!(
        "  {:>7} {:>8} {:>6} {:>7} {:>16} {:>16} {:>10}",
        "baud", "settings", "lost", "bytes", "ours", "reference", "ours/ref."
    );
    let wanted = |(baud, settings): &&(u32, usize)| {
        only.iter().all(|number| number == settings || u32::try_from(*number).is_ok_and(|number| number == *baud))
    };
    for (baud, settings) in wires.iter().filter(wanted) {
        for loss in losses {
            line(Case { baud: *baud, settings: *settings, loss: *loss }, seeds, peer.as_ref());
        }
    }
}

fn line(case: Case, seeds: u64, peer: Option<&PathBuf>) {
    let jobs = Mutex::new((1..=seeds).collect::<Vec<_>>());
    let done: Mutex<(Vec<One>, Vec<One>)> = Mutex::default();
    std::thread::scope(|scope| {
        for _ in 0..AT_A_TIME {
            scope.spawn(|| {
                loop {
                    let Some(seed) = jobs.lock().unwrap().pop() else { return };
                    let mine = || one(case, seed, Command::new(std::env::current_exe().unwrap()).arg(ours::WORD));
                    let theirs = || peer.map(|peer| one(case, seed, Command::new(peer).arg(script())));
                    // By turns, so that neither always comes first.
                    let (mine, theirs) = if seed % 2 == 0 {
                        let theirs = theirs();
                        (mine(), theirs)
                    } else {
                        (mine(), theirs())
                    };
                    let mut done = done.lock().unwrap();
                    done.0.push(mine);
                    done.1.extend(theirs);
                }
            });
        }
    });
    let (mine, theirs) = done.into_inner().unwrap();
    let bytes = reading::wire_time(case.baud, case.settings).as_secs_f64();
    let (mine, theirs) = (Column::of(&mine), Column::of(&theirs));
    let beside = if theirs.ratio.is_nan() { String::from("–") } else { format!("{:.3}", mine.ratio / theirs.ratio) };
    println!(
        "  {:>7} {:>8} {:>4} % {bytes:>5.2} s {:>16} {:>16} {beside:>10}",
        case.baud,
        case.settings,
        case.loss * 100.0,
        mine.words,
        theirs.words
    );
}

/// The median of those that were whole.
struct Column {
    ratio: f64,
    words: String,
}

impl Column {
    fn of(all: &[One]) -> Self {
        let mut whole: Vec<f64> = all.iter().filter(|one| one.1).map(|one| one.0).collect();
        let count = whole.len();
        let ratio = if count == 0 { f64::NAN } else { median(&mut whole) };
        let words = match (count, all.len()) {
            (_, 0) => "–".to_owned(),
            (0, all) => format!("none (0 of {all})"),
            (count, all) if count < all => format!("{ratio:.3} ({count} of {all})"),
            _ => format!("{ratio:.3}"),
        };
        Self { ratio, words }
    }
}

fn one(case: Case, seed: u64, command: &mut Command) -> One {
    let board = Served::start(case, seed);
    let out = command.arg(&board.port).arg(case.baud.to_string()).stdin(Stdio::null()).output().unwrap();
    let text = String::from_utf8_lossy(&out.stdout);
    let mut words = text.split_whitespace().rev();
    let settings: usize = words.next().and_then(|word| word.parse().ok()).expect("a count");
    let seconds: f64 = words.next().and_then(|word| word.parse().ok()).expect("seconds");
    (seconds / reading::wire_time(case.baud, case.settings).as_secs_f64(), settings == case.settings)
}

fn script() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/benches/settings/peer.py")
}

/// The Python that has the reference library.
fn peer() -> Option<PathBuf> {
    let usual = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("target/peers/bin/python");
    let python = std::env::var_os("QUADJIG_PEERS").map_or(usual, PathBuf::from);
    let there = Command::new(&python).args(["-c", "import pymavlink, serial"]).stderr(Stdio::null()).status();
    there.is_ok_and(|status| status.success()).then_some(python)
}
