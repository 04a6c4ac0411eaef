//! The written canonical form: golden files hold its bytes, and laws what it may not say.
//!
//! A golden file changes only with a new schema: whoever signed a recipe signed these bytes.

use super::{HEAD, WORDS, read_text};
use quadjig::language::canonical::{filled, filled_hash, open, recipe_hash};
use quadjig::language::read;
use quadjig::language::recipe::Recipe;
use quadjig::language::sources::Memory;
use std::path::{Path, PathBuf};

const ALL: &str = include_str!("canonical/all.jig");

fn good(text: &str) -> Recipe {
    with(text, &[])
}

fn with(text: &str, pairs: &[(&str, &str)]) -> Recipe {
    of(&[("test.jig", text)], pairs)
}

fn of(files: &[(&str, &str)], pairs: &[(&str, &str)]) -> Recipe {
    let with: Vec<(String, String)> =
        pairs.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect();
    let reading = read(&Memory::of(files.iter().copied()), Path::new(files[0].0), &with, WORDS);
    assert!(!reading.has_errors(), "{}", super::told(&reading));
    reading.recipe.unwrap()
}

/// The same recipe written by another hand: every clause turned round, other units, comments, another title.
const OTHER_HAND: &str = include_str!("canonical/other_hand.jig");

#[test]
fn the_form_and_its_hashes_are_the_golden_ones() {
    let recipe = with(ALL, &[("floor", "1090 us")]);
    let golden = |name: &str, text: &str| {
        let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/language/canonical").join(name);
        if std::env::var_os("QUADJIG_WRITE_GOLDEN").is_some() {
            std::fs::write(&path, text).unwrap();
        }
        assert_eq!(text, std::fs::read_to_string(&path).unwrap(), "{name}");
    };
    golden("all.open", &open(&recipe));
    golden("all.filled", &filled(&recipe, &["sheet-b", "sheet-a"]).unwrap());
    // By `sha256sum` of the two files.
    assert_eq!(recipe_hash(&recipe), "dad6bdf27d8fee3b0307ed94b718b036482f942ee1ddafb0aabbdff8d99cab70");
    let kept = filled_hash(&recipe, &["sheet-a", "sheet-b"]).unwrap();
    assert_eq!(kept, "abd124dce416cfe6776b777e87d02bfb6c025b97b4f1c7c2059a678055119c2c");
}

#[test]
fn another_hand_that_means_the_same_writes_the_same() {
    let (ours, theirs) = (with(ALL, &[("floor", "1090")]), with(OTHER_HAND, &[("floor", "1.09 ms")]));
    assert_eq!(open(&ours), open(&theirs));
    assert_eq!(filled(&ours, &[]), filled(&theirs, &[]));
}

#[test]
fn the_filled_form_reads_as_a_recipe_that_has_the_same_form() {
    let text = filled(&with(ALL, &[("floor", "1090 us")]), &[]).unwrap();
    let again = text.replace("quadjig.filled/1", "recipe \"Again\"");
    assert_eq!(filled(&good(&again), &[]).unwrap(), text);
}

#[test]
fn a_value_within_what_was_signed_changes_the_filled_hash_alone() {
    let text = format!("{HEAD}given floor default 1100 us from 1050 us to 1150 us\nidle at floor\n");
    let (signed, fitted) = (good(&text), with(&text, &[("floor", "1120 us")]));
    assert_eq!(recipe_hash(&signed), recipe_hash(&fitted));
    assert_ne!(filled_hash(&signed, &[]), filled_hash(&fitted, &[]));
    let literal = good(&format!("{HEAD}idle at 1120\n"));
    assert_eq!(filled_hash(&fitted, &[]), filled_hash(&literal, &[]), "filled is what it does");
    assert_ne!(recipe_hash(&fitted), recipe_hash(&literal), "a parameter is open to whoever runs it");
    for other in [
        text.replace("default 1100", "default 1101"),
        text.replace("from 1050", "from 1040"),
        text.replace("1150 us", "1160 us"),
        text.replace("floor", "lowest"),
    ] {
        assert_ne!(recipe_hash(&good(&other)), recipe_hash(&signed), "{other}");
    }
    let about = text.replace("1150 us\n", "1150 us \"lowest idle to try\"\n");
    assert_eq!(recipe_hash(&good(&about)), recipe_hash(&signed));
}

#[test]
fn without_its_values_a_recipe_has_a_hash_to_sign_and_none_to_keep() {
    let text = format!("{HEAD}given place\ngiven other\nbind arm to switch B positions other, place\n");
    let text = text.replace("bind", "switch B on channel 5 rests at 1000, 1500, 2000\nbind");
    let open_form = open(&good(&text));
    assert!(open_form.ends_with("bind arm to switch B positions other, place\n"), "{open_form}");
    assert_eq!(filled(&good(&text), &[]), None);
    let turned = with(&text, &[("place", "2"), ("other", "1")]);
    assert_eq!(open(&turned), open_form);
    let straight = with(&text, &[("place", "1"), ("other", "2")]);
    assert_eq!(filled(&turned, &[]), filled(&straight, &[]));
    assert!(filled(&turned, &[]).unwrap().ends_with("positions 1, 2\n"));
}

#[test]
fn used_files_are_taken_in() {
    let used =
        "recipe \"Part\"\nedition 1\ncraft quad x\nboard \"Finch\"\ngiven lowest default 1100 us\nidle at lowest\n";
    let top = |line: &str| format!("{HEAD}{line}\nkeep\n");
    let take = |line: &str| of(&[("top.jig", &top(line)), ("part.jig", used)], &[]);
    let literal = |value: &str| good(&top(&format!("idle at {value}")));
    assert_eq!(open(&take("use \"part.jig\"")), open(&literal("1100 us")), "its own default is part of what is signed");
    assert_eq!(open(&take("use \"part.jig\" with lowest 1120 us")), open(&literal("1120 us")));
    let through = take("given idle-floor default 1130 us\nuse \"part.jig\" with lowest idle-floor");
    let plain = good(&top("given idle-floor default 1130 us\nidle at idle-floor"));
    assert_eq!(open(&through), open(&plain), "a parameter that is handed on stays open");
}

#[test]
fn everything_that_means_something_counts() {
    let whole = open(&with(ALL, &[("floor", "1090 us")]));
    let lines: Vec<&str> = ALL.lines().filter(|line| !line.is_empty() && !line.starts_with('#')).collect();
    let first = lines.iter().position(|line| line.starts_with("given spare")).unwrap();
    let text = |lines: &[&str]| lines.join("\n") + "\n";
    // Taking any line away, or turning two round, is another recipe.
    for at in first..lines.len() {
        let mut less = lines.clone();
        let gone = less.remove(at);
        let reading = read_text(&text(&less));
        assert_ne!(open(&reading.recipe.unwrap()), whole, "{gone}");
        if at + 1 < lines.len() && !lines[at].starts_with("given") {
            let mut turned = lines.clone();
            turned.swap(at, at + 1);
            assert_ne!(open(&read_text(&text(&turned)).recipe.unwrap()), whole, "{}", lines[at]);
        }
    }
    // And so is every other word, name, text and number in it.
    for (word, other) in [
        ("quad x", "quad plus"),
        ("turning inward", "turning outward"),
        ("\"Finch\"", "\"Wren\""),
        ("\"2.4\"", "\"2.5\""),
        ("to -3", "to 3"),
        ("\"ROTOR_TRIM\"", "\"ROTOR_TRIN\""),
        ("switch left-rear", "switch Left-rear"),
        ("\"Fit the battery.\"", "\"Fit the  battery.\""),
        ("\"Front is where the camera looks.\"", "\"front is where the camera looks.\""),
        ("\"camera tray screws are tight\"", "\"camera tray screws are loose\""),
        ("lihv", "lipo"),
        ("liion", "lipo"),
        ("arm-switch momentary", "arm-switch"),
        ("default H", "default G"),
        ("one of sbus, crsf", "one of crsf, ibus"),
        ("dshot300", "dshot600"),
        ("zero throttle spin", "zero throttle rest"),
        ("roll, pitch, throttle", "pitch, roll, throttle"),
        ("5.5 %", "5.4 %"),
    ] {
        assert!(ALL.contains(word), "{word}");
        assert_ne!(open(&read_text(&ALL.replacen(word, other, 1)).recipe.unwrap()), whole, "{word}");
    }
}
