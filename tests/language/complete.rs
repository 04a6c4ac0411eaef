//! Completion and hints, held against the examples of the grammar: whatever may be written is offered, and
//! whatever is offered may be written.

use proptest::prelude::*;
use quadjig::language::codes;
use quadjig::language::complete::{Candidate, complete, hint};
use quadjig::language::known::Known;
use quadjig::language::read_statement;
use quadjig::language::recipe::GivenKind;
use std::fmt::Write as _;

/// Every example of the grammar that is no line of a head.
fn examples() -> Vec<String> {
    all_examples().0
}

/// The examples that are no line of a head, and those that are.
fn all_examples() -> (Vec<String>, Vec<String>) {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/grammar/edition_1.pest")).unwrap();
    let all: Vec<String> = text.lines().filter_map(|line| line.strip_prefix("//     ")).map(str::to_owned).collect();
    assert!(all.len() > 50, "{all:?}");
    let head = ["recipe ", "edition ", "craft ", "board \"", "given ", "use "];
    all.into_iter().partition(|line| !head.iter().any(|word| line.starts_with(word)))
}

fn known() -> Known {
    let words = |all: &[&str]| all.iter().map(|&word| word.to_owned()).collect::<Vec<_>>();
    Known {
        functions: words(&["arm", "self-level", "lights"]),
        settings: vec![
            ("idle".to_owned(), vec![]),
            ("loop-rate".to_owned(), vec![]),
            ("zero-throttle".to_owned(), words(&["spin", "rest"])),
        ],
        raw: words(&["ROTOR_TRIM", "A \"B\""]),
        protocols: words(&["crsf", "sbus"]),
        signals: words(&["oneshot125", "dshot300"]),
        switches: vec![
            ("B".to_owned(), 3),
            ("C".to_owned(), 2),
            ("D".to_owned(), 2),
            ("F".to_owned(), 2),
            ("arm-switch".to_owned(), 2),
        ],
        ..Known::default()
    }
}

fn texts(candidates: &[Candidate]) -> Vec<&str> {
    candidates.iter().map(|candidate| candidate.text.as_str()).collect()
}

fn offered(before: &str) -> Vec<String> {
    complete(before, &known()).1.into_iter().map(|candidate| candidate.text).collect()
}

/// Where words of an example begin, with the word; strings are one word.
fn words_of(text: &str) -> Vec<(usize, &str)> {
    let (mut found, mut start, mut quoted) = (Vec::new(), None, false);
    for (at, c) in text.char_indices().chain([(text.len(), ' ')]) {
        quoted ^= c == '"';
        if !quoted && (c == ' ' || c == ',') {
            found.extend(start.take().map(|start| (start, &text[start..at])));
        } else if start.is_none() {
            start = Some(at);
        }
    }
    found
}

#[test]
fn the_next_word_of_every_example_is_offered_at_every_boundary() {
    for example in examples() {
        for (at, word) in words_of(&example) {
            let found = offered(&example[..at]);
            // Numbers, texts, and the name of a parameter can't be known beforehand.
            let free = word.starts_with(|c: char| c.is_ascii_digit() || c == '-') || word == "idle-floor";
            let text = word.starts_with('"') && word != "\"ROTOR_TRIM\"";
            if !free && !text {
                // A unit of several words is offered whole.
                let begins = |text: &str| text.split(' ').next() == Some(word);
                assert!(
                    found.iter().any(|text| begins(text) || text == word),
                    "`{word}` is not offered after `{}`",
                    &example[..at]
                );
                // And when half of it stands there.
                let half = at + word.chars().next().unwrap().len_utf8();
                let (start, half) = complete(&example[..half], &known());
                assert_eq!(start, at, "{example}");
                assert!(texts(&half).iter().any(|text| begins(text) || *text == word), "{example}: {half:?}");
            }
        }
    }
}

/// In a file the lines of its head are offered as well, with the names that are known there.
#[test]
fn a_file_offers_its_head_as_well() {
    let words = |all: &[&str]| all.iter().map(|&word| word.to_owned()).collect::<Vec<_>>();
    let mut switches = known().switches;
    switches.push(("C".to_owned(), 2));
    let known = Known {
        head: true,
        switches,
        boards: words(&["Finch"]),
        files: words(&["common/receiver.jig"]),
        parameters: vec![
            ("lowest".to_owned(), GivenKind::Quantity),
            ("left".to_owned(), GivenKind::Switch),
            ("link".to_owned(), GivenKind::Word(words(&["crsf"]))),
        ],
        told: vec![("idle-floor".to_owned(), GivenKind::Quantity), ("arm-switch".to_owned(), GivenKind::Switch)],
        ..known()
    };
    let offered = |before: &str| complete(before, &known).1;
    let (bench, head) = all_examples();
    assert!(head.len() >= 6, "{head:?}");
    for example in head.iter().chain(&bench) {
        for (at, word) in words_of(example) {
            let found = offered(&example[..at]);
            // Numbers and titles can't be known beforehand, nor a new parameter's name and words.
            let free = word.starts_with(|c: char| c.is_ascii_digit() || c == '-') || example[..at].trim() == "given";
            let text = word.starts_with('"') && !["\"Finch\"", "\"common/receiver.jig\""].contains(&word);
            let parameter = word == "idle-floor" && !example.starts_with("use");
            let listed = example[..at].contains(" one of ") && !example[..at].contains("default");
            let begins = |text: &str| text.split(' ').next() == Some(word) || text == word;
            assert!(
                free || text || parameter || listed || found.iter().any(|candidate| begins(&candidate.text)),
                "`{word}` is not offered after `{}`",
                &example[..at]
            );
        }
    }
    assert_eq!(texts(&offered("idle at lo")), ["lowest"]);
    assert_eq!(texts(&offered("board ")), ["turned", "\"Finch\""]);
    assert_eq!(texts(&offered("use \"")), ["\"common/receiver.jig\""]);
    assert_eq!(texts(&offered("use \"common/receiver.jig\" with ")), ["idle-floor", "arm-switch"]);
    assert_eq!(texts(&offered("use \"a.jig\" with idle-floor ")), ["lowest"]);
    assert_eq!(texts(&offered("use \"a.jig\" with arm-switch ")), ["B", "C", "D", "F", "arm-switch", "left"]);
    assert_eq!(texts(&offered("bind arm to switch l")), ["left"]);
    assert_eq!(texts(&offered("receiver ")), ["crsf", "sbus", "link"]);
    assert_eq!(texts(&offered("signal ")), ["oneshot125", "dshot300", "link"]);
    assert_eq!(texts(&offered("given protocol one of crsf, sbus default ")), ["crsf", "sbus"]);
}

/// Reading is the judge: with any word that is offered, a statement breaks off nowhere before its end.
#[test]
fn whatever_is_offered_may_be_written() {
    let mut seen = 0;
    for example in examples() {
        let boundaries = words_of(&example).into_iter().map(|(at, _)| at).chain([example.len()]);
        for at in boundaries {
            let before = if at == example.len() { format!("{example} ") } else { example[..at].to_owned() };
            let (start, found) = complete(&before, &known());
            for candidate in found {
                let text = format!("{}{}", &before[..start], candidate.text);
                let broken = read_statement(&text).err().unwrap_or_default().into_iter().find(|finding| {
                    [codes::UNEXPECTED, codes::UNKNOWN_STATEMENT, codes::UNKNOWN_UNIT].contains(&finding.code)
                });
                assert!(broken.is_none(), "`{text}`: {broken:?}");
                seen += 1;
            }
        }
    }
    assert!(seen > 500, "{seen}");
}

#[test]
fn values_come_from_what_is_known() {
    assert_eq!(offered("bind "), ["arm", "self-level", "lights"]);
    assert_eq!(offered("unbind l"), ["lights"]);
    assert_eq!(offered("bind arm to switch "), ["B", "C", "D", "F", "arm-switch"]);
    assert_eq!(offered("bind arm to switch b"), [""; 0], "switch names keep their case");
    assert_eq!(offered("bind arm to switch B position "), ["0", "1", "2"]);
    assert_eq!(offered("bind arm to switch B positions 0, "), ["1", "2"]);
    assert_eq!(offered("require switch D position "), ["0", "1"]);
    assert_eq!(offered("receiver s"), ["sbus"]);
    assert_eq!(offered("signal "), ["oneshot125", "dshot300"]);
    assert_eq!(offered("set "), ["\"ROTOR_TRIM\"", "\"A \\\"B\\\"\"", "idle", "loop-rate", "zero-throttle"]);
    assert_eq!(offered("set \"R"), ["\"ROTOR_TRIM\""]);
    assert_eq!(offered("set zero-throttle to "), ["spin", "rest"]);
    assert_eq!(offered("expect zero-throttle is s"), ["spin"]);
    assert_eq!(offered("test cut within 250 "), ["us", "ms", "s", "min"]);
    assert_eq!(offered("test cut within 250m"), ["ms", "min"]);
    assert_eq!(offered("require battery at least 3.7 "), ["mV per cell", "V per cell"]);
    assert_eq!(offered("require battery at least 3.7 V p"), ["per cell"]);
}

#[test]
fn what_stands_already_is_not_offered_again() {
    let clauses = |before: &str| offered(before).join(" ");
    assert_eq!(clauses("idle start at 1100 "), "us step until by at for in then");
    assert_eq!(clauses("idle start at 1100 step 25, "), "until by at for in then");
    assert_eq!(clauses("idle start at 1100 step 25 until all spin at most 1200 for 2 s in 5 starts "), "then");
    assert_eq!(clauses("switch B on channel 6 rests at 1000, 2000 "), "us on momentary");
    assert_eq!(offered("keep "), [""; 0]);
}

#[test]
fn a_head_a_comment_and_a_broken_line_offer_nothing() {
    let all = offered("");
    for word in ["recipe", "edition", "craft", "given", "use"] {
        assert!(!all.iter().any(|known| known == word), "{word}");
    }
    assert_eq!(offered("board "), ["turned"]);
    for text in ["idle at 1120 # id", "idle sideways ", "note \"bi", "note \"done\"", "bind arm to switch B,, "] {
        assert_eq!(offered(text), [""; 0], "{text}");
    }
    // A line that goes on, with a comment in between.
    assert_eq!(offered("channels roll, pitch, # the sticks\nthr"), ["throttle"]);
}

/// Every hint of every example, as it grows: read as a person would.
#[test]
fn hints_tell_how_every_example_goes_on() {
    let mut told = String::new();
    for example in examples() {
        for (at, word) in words_of(&example) {
            let (before, whole) = (&example[..at], &example[..at + word.len()]);
            if !before.is_empty() {
                let hint = hint(before, &known());
                assert!(hint.is_some(), "`{before}` has no hint");
            }
            let next = hint(&format!("{whole} "), &known());
            writeln!(told, "{whole} … {}", next.unwrap_or_default()).unwrap();
        }
    }
    let mut lines: Vec<&str> = told.lines().collect();
    let mut seen = std::collections::BTreeSet::new();
    lines.retain(|line| seen.insert(*line));
    insta::assert_snapshot!(lines.join("\n"));
}

#[test]
fn a_hint_follows_what_is_typed() {
    let told = |text: &str| hint(text, &known());
    let told = |text: &str| told(text).unwrap_or_default();
    assert_eq!(told(""), "");
    assert_eq!(told("idl"), "idle");
    assert_eq!(told("idle sideways"), "");
    assert_eq!(told("test "), "sticks|idle|motors|attitude|arm|cut|failsafe|buzzer");
    assert_eq!(told("set \"RO"), "\"ROTOR_TRIM\"");
    assert_eq!(told("note \"half"), "\"");
    assert_eq!(told("note \"whole\""), "");
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Any text at all: no panic, and every candidate begins as what stands there.
    #[test]
    fn no_text_is_too_strange(text in any::<String>()) {
        let (start, found) = complete(&text, &known());
        for candidate in found {
            prop_assert!(candidate.text.starts_with(&text[start..]));
        }
        let _ = hint(&text, &known());
    }

    /// Pieces of statements in any order, cut anywhere: what is offered still reads.
    #[test]
    fn what_is_offered_in_any_mixture_reads(
        picks in proptest::collection::vec((0usize..1000, 0usize..1000), 1..4),
        cut in 0usize..200,
    ) {
        let examples = examples();
        let mut text = String::new();
        for (example, from) in picks {
            let example = &examples[example % examples.len()];
            let all = words_of(example);
            let (at, _) = if text.is_empty() { (0, "") } else { all[from % all.len()] };
            text.push_str(&example[at..]);
            text.push(' ');
        }
        let cut = (0..=text.len().min(cut)).rev().find(|&at| text.is_char_boundary(at)).unwrap();
        let text = &text[..cut];
        let (start, found) = complete(text, &known());
        for candidate in found {
            let whole = format!("{}{}", &text[..start], candidate.text);
            let broken = read_statement(&whole).err().unwrap_or_default().into_iter().any(|finding| {
                finding.code == codes::UNKNOWN_STATEMENT
                    || (finding.code == codes::UNEXPECTED && finding.span.range.end > start)
            });
            prop_assert!(!broken, "{}", whole);
        }
        let _ = hint(text, &known());
    }
}
