//! Recipes, sheets, radio cards and snapshots as accidents leave them: bytes lost, doubled, moved, exchanged; words and
//! lines of one in another. No answer takes long, none panics, and a recipe that can be laid out keeps its meaning and
//! its comments.
//!
//! A short run stands in the suite; `QUADJIG_MUTATIONS=100000 cargo test --release --test all language::mutated` is the
//! long one.

use super::WORDS;
use super::format::comments;
use crate::measure::dice::Dice;
use quadjig::board::{radio_card_file, sheet_file, shipped};
use quadjig::language::format::format;
use quadjig::language::read;
use quadjig::language::sources::Memory;
use quadjig::plan::checks::reading;
use quadjig::record::Snapshot;
use std::path::Path;
use std::time::Duration;

/// Accidents where nothing else is asked for.
const FEW: usize = 600;
/// No answer takes longer on a core, unoptimised as it is.
const LONGEST: Duration = Duration::from_secs(1);

const RECIPES: &[&str] = &[
    include_str!("mistakes/base.jig"),
    include_str!("../../recipes/arm-switch.jig"),
    include_str!("../../recipes/first-craft.jig"),
    include_str!("../../recipes/second-craft.jig"),
    include_str!("../../recipes/with-given.jig"),
    include_str!("../../recipes/common/receiver.jig"),
];

/// A snapshot as `quadjig snapshot` writes one.
const SNAPSHOT: &str = r#"{"schema":"quadjig.snapshot/1","taken":"2026-03-01T10:15:00Z","board":{"kind":"Finch","firmware":"2.4.1","id":"0011223344556677"},"settings":{"IDLE_US":1100,"LOOP_HZ":4000,"ROTOR_TRIM":-3,"VOLT_RATIO":11.25}}"#;

/// What accidents bring in from elsewhere.
const STRANGE: &[&str] = &[
    "\"",
    "\\",
    "#",
    ",",
    "\n",
    "\r\n",
    "\t",
    "\u{feff}",
    "“",
    "’",
    "°",
    "µ",
    "\u{200b}",
    "\u{0}",
    "-",
    "--",
    ";",
    "=",
    "(",
    "[",
    "{",
    "0",
    "999999999999",
    "1e9",
    "3,7",
    " or ",
    " to ",
    "switch",
    "RAUF",
    "ಥ",
    "🕴",
];

#[test]
fn the_snapshot_that_is_damaged_is_one() {
    assert!(Snapshot::parse(Path::new("s.json"), SNAPSHOT.as_bytes()).is_ok());
}

fn below(dice: &mut Dice, count: usize) -> usize {
    usize::try_from(dice.next()).unwrap() % count
}

fn boundary(text: &str, dice: &mut Dice) -> usize {
    let mut at = below(dice, text.len() + 1);
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// A text after one accident to a few.
fn mutated(text: &str, others: &[&str], dice: &mut Dice) -> String {
    let mut text = text.to_owned();
    for _ in 0..=below(dice, 4) {
        let (a, b) = (boundary(&text, dice), boundary(&text, dice));
        let (from, to) = (a.min(b), a.max(b).min(a.min(b) + 60));
        let to = (to..=text.len()).find(|at| text.is_char_boundary(*at)).unwrap_or(text.len());
        let part = text[from..to].to_owned();
        match below(dice, 7) {
            0 => text.replace_range(from..to, ""),
            1 => text.insert_str(boundary(&text, dice), &part),
            2 => text.insert_str(from, STRANGE[below(dice, STRANGE.len())]),
            3 => text.replace_range(from..to, STRANGE[below(dice, STRANGE.len())]),
            4 => text.replace_range(from..to, &part.to_uppercase()),
            5 => {
                let other = others[below(dice, others.len())];
                let lines: Vec<&str> = other.lines().collect();
                let line = lines[below(dice, lines.len())];
                text.insert_str(from, line);
            }
            _ => {
                let mut lines: Vec<&str> = text.lines().collect();
                if lines.len() > 1 {
                    let (a, b) = (below(dice, lines.len()), below(dice, lines.len()));
                    lines.swap(a, b);
                    text = lines.join("\n");
                }
            }
        }
    }
    text
}

/// What this thread has had of its core: other tests take their own.
#[cfg(unix)]
fn busy() -> Duration {
    let now = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    Duration::new(u64::try_from(now.tv_sec).unwrap(), u32::try_from(now.tv_nsec).unwrap())
}

#[cfg(not(unix))]
fn busy() -> Duration {
    std::time::UNIX_EPOCH.elapsed().unwrap()
}

fn quickly<T>(text: &str, what: impl FnOnce() -> T) -> T {
    let begun = busy();
    let answer = what();
    let took = busy().saturating_sub(begun);
    assert!(took < LONGEST, "{took:?} for\n{text}");
    answer
}

fn recipe(text: &str, sheet: &quadjig::board::sheet::Sheet) {
    let whole = |text: &str| read(&Memory::of([("test.jig", text)]), Path::new("test.jig"), &[], WORDS);
    let before = quickly(text, || {
        let before = whole(text);
        let found = reading(&before, std::slice::from_ref(sheet), None);
        for finding in &found {
            let places = finding.also.iter().map(|(span, _)| span).chain(finding.fixes.iter().map(|fix| &fix.span));
            for span in places.chain([&finding.span]) {
                assert!(before.files[span.file.0].text.get(span.range.clone()).is_some(), "{finding:?}\n{text}");
            }
        }
        before
    });
    let Ok(once) = quickly(text, || format(text)) else { return };
    assert_eq!(format(&once).unwrap(), once, "the layout settles:\n{text}");
    assert_eq!(comments(text), comments(&once), "comments stay:\n{text}");
    let after = whole(&once);
    let meaning = |reading: &quadjig::language::Reading| {
        let statements = reading.recipe.iter().flat_map(|recipe| &recipe.statements).map(|s| s.what.clone());
        let codes: Vec<&str> = reading.findings.iter().map(|finding| finding.code).collect();
        (statements.collect::<Vec<_>>(), codes)
    };
    assert_eq!(meaning(&before), meaning(&after), "meaning stays:\n{text}");
}

#[test]
fn accidents_are_read_quickly_and_lay_out_as_they_mean() {
    let asked = std::env::var("QUADJIG_MUTATIONS").ok().and_then(|count| count.parse().ok());
    let count = asked.unwrap_or(FEW);
    let mut dice = Dice::new(12);
    let sheets: Vec<&str> = shipped::SHEETS.iter().map(|sheet| sheet.text).collect();
    let cards: Vec<&str> = shipped::RADIOS.iter().map(|card| card.text).collect();
    let finch = shipped::sheet("Finch").unwrap().unwrap();
    for number in 0..count {
        let texts = match number % 6 {
            0..=2 => RECIPES,
            3 => &sheets,
            4 => &cards,
            _ => &[SNAPSHOT],
        };
        let text = mutated(texts[below(&mut dice, texts.len())], texts, &mut dice);
        match number % 6 {
            0..=2 => recipe(&text, &finch),
            3 => drop(quickly(&text, || sheet_file::read("sheet.toml", &text))),
            4 => drop(quickly(&text, || radio_card_file::read("card.toml", &text))),
            _ => drop(quickly(&text, || Snapshot::parse(Path::new("snapshot.json"), text.as_bytes()))),
        }
    }
}
