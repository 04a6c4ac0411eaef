//! One cause, one finding; and no mistake hides another.

use super::mistakes::{check, instead};
use super::{HEAD, WORDS, told};
use quadjig::board::shipped;
use quadjig::language::finding::Severity;
use quadjig::language::read;
use quadjig::language::sources::Memory;
use quadjig::plan::checks::reading;
use std::path::Path;

/// Codes of a whole recipe that is right but for the lines put in the place of one, each with the text it points at.
fn codes(line: &str, other: &str) -> Vec<(&'static str, String)> {
    let text = instead(line, other);
    check(&text).into_iter().map(|finding| (finding.code, text[finding.span.range].to_owned())).collect()
}

fn code(code: &'static str, at: &str) -> (&'static str, String) {
    (code, at.to_owned())
}

#[test]
fn one_missing_line_is_one_finding_that_shows_every_place() {
    let text = instead("require props off", "");
    let found = check(&text);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!((found[0].code, &text[found[0].span.range.clone()]), ("CM1", "test arm"));
    let also: Vec<&str> = found[0].also.iter().map(|(span, _)| &text[span.range.clone()]).collect();
    assert!(also.contains(&"power cycle") && also.contains(&"test failsafe"), "{also:?}");
    assert_eq!(found[0].fixes.len(), 1, "one line mends it");
}

#[test]
fn a_word_that_is_wrong_everywhere_is_one_finding_that_mends_all() {
    let text = instead("keep", "bind buzer to switch D position 2\nunbind buzer\nkeep");
    let found: Vec<_> = check(&text).into_iter().filter(|finding| finding.code == "BB3").collect();
    assert_eq!((found.len(), found[0].fixes.len(), found[0].also.len()), (1, 2, 1));
}

/// A word that is misspelt once accuses neither the parameter nor the switch that it means.
#[test]
fn the_innocent_are_not_accused() {
    let line = "idle start at idle-floor step 25 until all spin";
    assert_eq!(codes(line, "idle start at idle-flor step 25 until all spin"), [code("RG3", "idle-flor")]);
    assert_eq!(codes("bind arm to switch B position 2", "bind arm to switch b position 2"), [code("CS1", "b")]);
    assert_eq!(
        codes("find switch D with 3 positions", "find swich D with 3 positions"),
        [code("RS2", "swich")],
        "a switch is known though the line that finds it is misspelt"
    );
    assert_eq!(
        codes("find switch D with 3 positions", "find switch D with 3 V positions"),
        [code("RQ1", "3 V")],
        "and though it has a bad value"
    );
    // The one that nothing mentions is told all the same.
    let both = codes(
        "find switch D with 3 positions",
        "find swich D with 3 positions\nswitch E on channel 9 rests at 1000, 2000",
    );
    assert_eq!(both, [code("RS2", "swich"), code("CS9", "E")]);
}

#[test]
fn a_mistake_hides_no_deeper_one() {
    // Of the same line: the position that the switch does not have stands behind the misspelt word.
    assert_eq!(
        codes("bind buzzer to switch C position 1", "bind buzzer to swich C position 4"),
        [code("RS2", "swich"), code("CS3", "4")]
    );
    // Of another line: props are still missing, though a value of the statement that turns motors is bad.
    let text = instead("require props off", "").replace("test cut within 250 ms", "test cut within 250");
    let found: Vec<&str> = check(&text).iter().map(|finding| finding.code).collect();
    assert_eq!(found, ["CM1", "RQ2"]);
    // Of the whole recipe, without its frame, which is a hint by itself.
    let text = instead("craft quad x turning inward", "").replace("test cut within 250 ms", "test cut within 250");
    let found: Vec<&str> = check(&text).iter().map(|finding| finding.code).collect();
    assert_eq!(found, ["RQ2"]);
    // Two statements in one line are both read.
    assert_eq!(codes("test arm", "test arm require level within 2"), [code("RS2", "require"), code("RQ2", "2")]);
}

/// Of a switch whose declaration has a mistake in it nothing is said to be left open.
#[test]
fn what_a_mistake_hides_is_not_open() {
    let text = instead(
        "switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged",
        "switch B on channel six rests at 1000, 1500, 2000 on link loss flagged",
    );
    let read = read(&Memory::of([("test.jig", text)]), Path::new("test.jig"), &[], WORDS);
    let found = reading(&read, &[shipped::sheet("Finch").unwrap().unwrap()], None);
    assert_eq!(found.iter().map(|finding| finding.code).collect::<Vec<_>>(), ["RG3"]);
}

/// A file that tells of a whole radio serves a recipe that binds to one of its switches.
#[test]
fn a_switch_of_a_used_radio_that_is_not_needed_is_no_error() {
    let radio = "recipe \"Radio\"\nedition 1\nswitch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n\
        switch C on channel 7 rests at 1000, 2000 on link loss flagged\n";
    let top = format!("{HEAD}require props off\nuse \"radio.jig\"\nbind arm to switch C position 1\nkeep\ntest arm\n");
    let read = read(&Memory::of([("top.jig", top.as_str()), ("radio.jig", radio)]), Path::new("top.jig"), &[], WORDS);
    let found = reading(&read, &[shipped::sheet("Finch").unwrap().unwrap()], None);
    let told: Vec<_> = found.iter().map(|finding| (finding.code, finding.severity)).collect();
    assert_eq!(told, [("CS9", Severity::Hint)]);
}

/// Every error of reading shows how its statement is written, with an example.
#[test]
fn every_reading_error_shows_the_form_of_its_statement() {
    for (line, wrong) in [
        ("failsafe cut motors after 500 ms", "failsafe cut motors after 500"),
        ("require level within 2 deg", "require level within 2 V"),
        ("test idle in 5 starts", "test idle in five starts"),
        ("signal dshot300 at 4 kHz", "signal dshot at 4 kHz"),
        ("idle start at idle-floor step 25 until all spin", "idle start at idle-floor step 25"),
        ("note \"Battery out.\"", "note \"Battery out."),
        ("keep", "use \"receiver\"\nkeep"),
    ] {
        let found = check(&instead(line, wrong));
        let hints: Vec<&String> = found.iter().flat_map(|finding| &finding.hints).collect();
        let form = |hint: &&&String| hint.starts_with("this is written `") || hint.starts_with("an example: `");
        assert_eq!((found.len(), hints.iter().filter(form).count()), (1, 1), "{wrong}: {found:?}");
    }
}

/// What a file holds that could not be used, nobody knows; so nothing is said to be missing.
#[test]
fn a_refused_use_is_one_finding() {
    let top = format!(
        "{HEAD}use \"gone.jig\"\nbind buzzer to switch C position 1\nrequire battery at least 3.7 V per cell\nat zero throttle spin\nkeep\ntest motors\n"
    );
    let read = read(&Memory::of([("test.jig", top.as_str())]), Path::new("test.jig"), &[], WORDS);
    let found = reading(&read, &[], None);
    let found: Vec<_> = found.iter().filter(|finding| finding.severity == Severity::Error).collect();
    assert_eq!(found.len(), 1, "{found:?}\n{}", told(&read));
    assert_eq!(found[0].code, "RU3");
}

/// The nearest sheet judges what is written for a board that is misspelt.
#[test]
fn functions_are_judged_by_the_sheet_that_is_meant() {
    let text = instead("board \"Finch\"", "board \"Finsh\"").replace("bind buzzer", "bind buzer");
    let found = check(&text);
    let told: Vec<_> = found.iter().map(|finding| (finding.code, finding.severity)).collect();
    assert_eq!(told, [("BB10", Severity::Warning), ("BB3", Severity::Error)]);
}

#[test]
fn a_used_file_is_named_as_it_can_be_opened() {
    let files = [
        ("recipes/top.jig", format!("{HEAD}use \"common/a.jig\"\nuse \"common/gone.jig\"\n")),
        ("recipes/common/a.jig", format!("{HEAD}keep it\n")),
    ];
    let read = read(&Memory::of(files), Path::new("recipes/top.jig"), &[], WORDS);
    assert_eq!(read.files[1].name, "recipes/common/a.jig");
    assert!(told(&read).contains("`recipes/common/gone.jig` cannot be read"), "{}", told(&read));
}
