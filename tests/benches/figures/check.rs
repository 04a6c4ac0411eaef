//! `quadjig check` of a small and of the largest recipe, as a process and in this one.

use crate::spread::{Spread, beside, ms};
use quadjig::board::{shipped, vocabulary};
use quadjig::language::sources::Memory;
use quadjig::language::{Reading, limits, read};
use quadjig::plan::checks;
use quadjig::report::findings;
use quadjig::report::findings::Look;
use std::fmt::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

const HEAD: &str = "recipe \"Figures\"
edition 1
craft quad x turning inward
board \"Finch\"
require props off
battery 2 cells lipo warn at 3.6 V per cell land at 3.4 V per cell
";
/// Statements that may stand again and again, long and short, as recipes mix them.
const LINES: [&str; 8] = [
    "note \"Strap the craft down, and keep your hands clear of the motors.\"",
    "require throttle low",
    "require battery at least 3.7 V per cell",
    "test idle in 5 starts",
    "require level within 2 deg # on the plate",
    "pause \"Turn the craft so that its nose points away from you.\"",
    "test cut within 250 ms",
    "require disarmed",
];

/// A recipe of so many statements.
pub fn recipe(statements: usize) -> String {
    let mut text = HEAD.to_owned();
    for line in LINES.iter().cycle().take(statements - HEAD.lines().count()) {
        writeln!(text, "{line}").unwrap();
    }
    text
}

fn reading(text: &str) -> Reading {
    let words: Vec<&str> = vocabulary::WORDS.iter().map(|word| word.word).collect();
    read(&Memory::of([("figures.jig", text)]), Path::new("figures.jig"), &[], &words)
}

pub fn figures() {
    println!("\nquadjig check, above the cost of a process");
    let none = spawn(&["--version".as_ref()], 60);
    println!("  --version             {none}");
    for (statements, runs, goal) in [(50, 60, 2), (limits::STATEMENTS, 30, 20)] {
        let text = recipe(statements);
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("figures.jig");
        std::fs::write(&file, &text).unwrap();
        // By turns, so that both meet the same machine.
        let (mut base, mut all) = (Vec::new(), Vec::new());
        for _ in 0..runs {
            base.push(spawn(&["--version".as_ref()], 1).median());
            all.push(spawn(&["check".as_ref(), file.as_os_str()], 1).median());
        }
        let (base, all) = (Spread::of(base), Spread::of(all));
        let goal = Duration::from_millis(goal);
        println!("  {statements:>6} statements, median above: {}", beside(above(all.median(), base.median()), goal));
        println!("  {:>6} least above: {}", "", beside(above(all.least(), base.least()), goal));
        in_process(&text, runs);
    }
    by_length();
    by_pairs();
}

/// A recipe of up to so many KiB whose lines are as long as its statements are few enough.
fn long(kib: usize, line: &str) -> String {
    let mut text = HEAD.to_owned();
    let each = kib * 1024 / (limits::STATEMENTS - 100);
    while text.len() + each + 16 < kib * 1024 {
        let _ = writeln!(text, "{line}{}\"", "x".repeat(each.saturating_sub(line.len() + 2)));
    }
    text
}

/// Whether twice the text takes twice the time: reading, checking and laying out, for good lines and for bad ones.
fn by_length() {
    println!("  by length, busy time for each 100 KiB");
    for (what, line) in [("good", "note \""), ("bad", "nota \""), ("half bad", "note x \"")] {
        for kib in [128, 256, 512, 1024] {
            let text = long(kib, line);
            let whole = || {
                let read = reading(&text);
                let found = checks::reading(&read, &[], None);
                (found.len(), quadjig::language::format::format(&text).is_ok())
            };
            let took = Spread::busy(3, whole).least();
            let each = took * 100 / u32::try_from(kib).unwrap_or(u32::MAX);
            println!("  {what:>10} {kib:>5} KiB   {} in all, {} each", ms(took), ms(each));
        }
    }
}

/// A file of 500 parameters that is named again and again, each time with values for all of them: up to so many KiB.
fn handed(kib: usize) -> Memory {
    let (mut used, mut with) = (HEAD.to_owned(), String::from("use \"used.jig\" with a0 0"));
    for number in 0..500 {
        let _ = writeln!(used, "given a{number} default {number}\nset \"A{number}\" to a{number}");
        if number > 0 {
            let _ = write!(with, ", a{number} {number}");
        }
    }
    with.truncate(with[..limits::LINE_BYTES - 8].rfind(',').unwrap_or(with.len()));
    let mut text = HEAD.to_owned();
    while text.len() + with.len() < kib * 1024 {
        let _ = writeln!(text, "{with}");
    }
    Memory::of([("figures.jig", text), ("used.jig", used)])
}

/// Whether twice the pairs of `use … with` take twice the time.
fn by_pairs() {
    println!("  `use … with` of 500 parameters, busy time for each 100 KiB");
    let words: Vec<&str> = vocabulary::WORDS.iter().map(|word| word.word).collect();
    for kib in [128, 256, 512, 1024] {
        let files = handed(kib);
        let whole = || {
            let reading = read(&files, Path::new("figures.jig"), &[], &words);
            (reading.findings.len(), reading.recipe.as_ref().map(quadjig::language::canonical::recipe_hash))
        };
        let took = Spread::busy(3, whole).least();
        println!(
            "  {kib:>16} KiB   {} in all, {} each",
            ms(took),
            ms(took * 100 / u32::try_from(kib).unwrap_or(u32::MAX))
        );
    }
}

fn above(all: Duration, base: Duration) -> Duration {
    all.saturating_sub(base)
}

fn spawn(words: &[&std::ffi::OsStr], runs: usize) -> Spread {
    Spread::time(runs, || {
        let mut command = Command::new(env!("CARGO_BIN_EXE_quadjig"));
        let ended = command.args(words).stdout(Stdio::null()).stderr(Stdio::inherit()).status().unwrap();
        assert!(ended.success(), "{words:?}");
    })
}

/// Where the time goes: least time on a core.
fn in_process(text: &str, runs: usize) {
    let sheets = [shipped::sheet("finch").unwrap().unwrap()];
    let read = reading(text);
    let found = checks::reading(&read, &sheets, None);
    println!("         {} KiB, {} findings", text.len() / 1024, found.len());
    println!("         reading   {}", ms(Spread::busy(runs, || reading(text)).least()));
    println!("         sheets    {}", ms(Spread::busy(runs, || shipped::sheet("finch")).least()));
    println!("         checks    {}", ms(Spread::busy(runs, || checks::reading(&read, &sheets, None)).least()));
    let words = || findings::text(&read.files, &found, Look::Plain);
    println!("         words     {}", ms(Spread::busy(runs, words).least()));
}
