//! Laws of what must not matter: the order of independent statements, names of switches, comments and layout, files that
//! are taken in, the encoding of settings, and delays below every limit. Whatever of these is changed, a run ends alike,
//! and the craft means the same.
//!
//! Metamorphic relations as in T. Y. Chen et al., "Metamorphic Testing: A Review of Challenges and Opportunities", ACM
//! Computing Surveys 51 (1), 2018; the relations are ours.

use super::every_board::meaning;
use super::kit::{Play, play};
use quadjig::board::{shipped, vocabulary};
use quadjig::language::sources::Memory;
use quadjig::rehearsal::rehearse::Script;
use quadjig::virtual_board::{Encoding, WorldConfig};
use std::path::Path;
use std::time::Duration;

/// What has to stand first.
const HEAD: &str = "recipe \"Wren 95\"
edition 1
craft quad x
board \"Finch\"
require battery out
require props off
channels roll, pitch, throttle, yaw
switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged
switch C on channel 7 rests at 1000, 2000 on link loss flagged
switch D on channel 8 rests at 1000, 1500, 2000 on link loss flagged
";
/// Statements that say nothing of each other.
const FREE: [&str; 8] = [
    "bind arm to switch B position 2",
    "bind buzzer to switch C position 1",
    "bind self-level to switch D positions 0, 1",
    "at zero throttle spin",
    "signal dshot300 at 4 kHz",
    "failsafe cut motors after 700 ms",
    "battery 2 cells lipo warn at 3.6 V per cell land at 3.4 V per cell",
    "idle at 1150",
];
/// What proves it.
const TAIL: &str = "keep
test arm
test buzzer
power cycle
require battery at least 3.7 V per cell
test idle in 2 starts
test cut within 600 ms
";

fn script(files: &[(&str, String)]) -> Script {
    let reading = vocabulary::read(&Memory::of(files.to_vec()), Path::new(files[0].0), &[]);
    assert!(reading.findings.is_empty(), "{:#?}\n{}", reading.findings, files[0].1);
    Script { recipe: reading.recipe.unwrap(), sheets: vec![shipped::sheet("finch").unwrap().unwrap()], card: None }
}

/// A run that ended well, and what its craft means then.
fn ends_well(text: &str, config: WorldConfig) -> Vec<String> {
    ends(&[("wren.jig", text.to_owned())], config)
}

fn ends(files: &[(&str, String)], config: WorldConfig) -> Vec<String> {
    let script = script(files);
    let Play { rehearsed, lines } = play(&script, config);
    assert_eq!(rehearsed.result, Ok(()), "{}\n{:#?}", files[0].1, lines.last());
    meaning(&script.sheets[0], &rehearsed.settings)
}

fn free(order: impl IntoIterator<Item = usize>) -> String {
    order.into_iter().flat_map(|place| [FREE[place], "\n"]).collect()
}

fn plain() -> String {
    format!("{HEAD}{}{TAIL}", free(0..FREE.len()))
}

/// The place of each in an order of its own: Lehmer's code of a number.
fn order(mut number: usize) -> Vec<usize> {
    let mut left: Vec<usize> = (0..FREE.len()).collect();
    let mut order = Vec::new();
    while !left.is_empty() {
        order.push(left.remove(number % left.len()));
        number /= left.len() + 1;
    }
    order
}

#[test]
fn statements_in_another_order() {
    let as_written = ends_well(&plain(), WorldConfig::default());
    // Of the 40,320 orders of eight, every so many, the last among them.
    for number in (0..=40_319).step_by(40_319 / 11) {
        let text = format!("{HEAD}{}{TAIL}", free(order(number)));
        assert_eq!(ends_well(&text, WorldConfig::default()), as_written, "{text}");
    }
}

#[test]
fn switches_by_another_name() {
    let mut config = WorldConfig::default();
    for (old, new) in [("B", "G"), ("C", "H"), ("D", "B")] {
        let named = config.radio.switches.iter_mut().find(|switch| switch.name == old).unwrap();
        new.clone_into(&mut named.name);
    }
    let text = plain();
    let text = text.replace("switch B", "switch G").replace("switch C", "switch H").replace("switch D", "switch B");
    assert_eq!(ends_well(&text, config), ends_well(&plain(), WorldConfig::default()));
}

/// Channels that run the other way: bands are mirrored about the middle, 1500 µs, to one step of theirs, and all else is alike.
#[test]
fn switches_of_reversed_channels() {
    let mut config = WorldConfig::default();
    for switch in config.radio.switches.iter_mut().filter(|switch| ["B", "C", "D"].contains(&&switch.name[..])) {
        switch.rests.iter_mut().for_each(|rest| *rest = 3000.0 - *rest);
    }
    let text = plain().replace("1000, 1500, 2000", "2000, 1500, 1000").replace("at 1000, 2000", "at 2000, 1000");
    let script = script(&[("wren.jig", text)]);
    let Play { rehearsed, lines } = play(&script, config);
    assert_eq!(rehearsed.result, Ok(()), "{:#?}", lines.last());
    let straight = play(&self::script(&[("wren.jig", plain())]), WorldConfig::default());
    for (name, was) in &straight.rehearsed.settings {
        let (was, now) = (was.real(), rehearsed.settings[name].real());
        let name = name.to_string();
        let other_end = [("_FROM", "_TO"), ("_TO", "_FROM")]
            .into_iter()
            .find_map(|(end, other)| Some(name.strip_suffix(end)?.to_owned() + other));
        let ends = || straight.rehearsed.settings.iter();
        let other_end = other_end.map(|other| ends().find(|(known, _)| known.to_string() == other).unwrap().1.real());
        match other_end {
            // A band that is closed is bound to nothing.
            Some(other) if (was - other).abs() > 0.5 => {
                assert!((now - (3000.0 - other)).abs() <= 4.0, "{name}: {now}, the other way {other}");
            }
            _ => assert!((now - was).abs() < 0.5, "{name}: {now} and {was}"),
        }
    }
}

#[test]
fn comments_and_layout() {
    let text: String = plain()
        .lines()
        .flat_map(|line| {
            let wide = line.replace(' ', "  ").replace("\"Wren  95\"", "\"Wren 95\"");
            ["\n   ".to_owned(), wide, " # ".to_owned(), line.to_owned(), "\n# battery in\n".to_owned()]
        })
        .collect();
    assert_eq!(ends_well(&text, WorldConfig::default()), ends_well(&plain(), WorldConfig::default()));
    let hash = |text: &str| quadjig::language::canonical::recipe_hash(&script(&[("wren.jig", text.to_owned())]).recipe);
    assert_eq!(hash(&text), hash(&plain()));
    assert_ne!(hash(&plain().replace("1150", "1151")), hash(&plain()));
}

#[test]
fn statements_of_a_file_that_is_taken_in() {
    let used = ("shared.jig", format!("recipe \"Shared\"\nedition 1\n{}", free(3..FREE.len())));
    let whole = format!("{HEAD}{}use \"shared.jig\"\n{TAIL}", free(0..3));
    let taken = ends(&[("wren.jig", whole), used], WorldConfig::default());
    assert_eq!(taken, ends_well(&plain(), WorldConfig::default()));
}

#[test]
fn either_encoding_of_settings() {
    let [bytewise, cast] =
        [Encoding::Bytewise, Encoding::Cast].map(|encoding| WorldConfig { encoding, ..WorldConfig::default() });
    assert_eq!(ends_well(&plain(), bytewise), ends_well(&plain(), cast));
}

#[test]
fn delays_below_every_limit() {
    let as_written = ends_well(&plain(), WorldConfig::default());
    for (jitter, baud, restart) in
        [(40, None, 1200), (0, Some(115_200), 3000), (80, None, 6000), (20, Some(460_800), 500)]
    {
        let mut config = WorldConfig { restart: Duration::from_millis(restart), ..WorldConfig::default() };
        (config.wire.jitter, config.wire.baud) = (Duration::from_millis(jitter), baud);
        assert_eq!(ends_well(&plain(), config), as_written, "{jitter} ms, {baud:?}, {restart} ms");
    }
}
