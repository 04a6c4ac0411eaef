//! Checks of the text: one bad recipe a code, with what is said of it; and a good one with nothing said.

use quadjig::language::checks::{check, codes};
use quadjig::language::finding::Severity;
use quadjig::language::recipe::Recipe;
use quadjig::language::sources::Memory;
use quadjig::report::findings::{Look, text};
use std::collections::BTreeSet;
use std::path::Path;

const HEAD: &str = "recipe \"Bench\"\nedition 1\ncraft quad x\nboard \"Finch\"\n\n";

/// A code and the recipe, below [`HEAD`], that has it.
pub const BAD: &[(&str, &str)] = &[
    ("CS1", "bind buzzer to switch C position 1\ntest buzzer\n"),
    ("CS2", "require switch B position 0\nswitch B on channel 6 rests at 1000, 1500, 2000\n"),
    ("CS3", "switch C on channel 7 rests at 1000, 2000\nbind buzzer to switch C position 2\ntest buzzer\n"),
    ("CS4", "find switch B with 7 positions\nrequire switch B position 0\n"),
    ("CS5", "switch B on channel 6 rests at 1000, 1090, 2000\nrequire switch B position 0\n"),
    ("CS6", "switch B on channel 6 rests at 1500, 1000, 2000\nrequire switch B position 0\n"),
    ("CS7", "switch B on channel 19 rests at 1000, 2000\nrequire switch B position 0\n"),
    (
        "CS8",
        "channels roll, pitch, throttle, yaw\nswitch B on channel 3 rests at 1000, 2000\nrequire switch B position 0\n",
    ),
    ("CS9", "switch B on channel 6 rests at 1000, 2000\nfind switch C\n"),
    ("CS10", "given idle-floor default 1100 us\n# idle-floor stands only in a comment\nnote \"idle-floor\"\n"),
    ("CS11", "test sticks centre 900 within 0, ends 1000 to 2000 within 15\n"),
    (
        "CF1",
        "require props off\nswitch B on channel 6 rests at 1000, 1500, 2000\nbind arm to switch B positions 0, 1\ntest arm\n",
    ),
    (
        "CF2",
        "require props off\nswitch B on channel 6 rests at 1000, 1500, 2000\nbind self-level to switch B positions 1, 2\nbind arm to switch B position 2\ntest arm\n",
    ),
    (
        "CF3",
        "require props off\nswitch B on channel 6 rests at 1000, 1500, 2000\nbind arm to switch B position 2\nbind lights to switch B position 1\ntest arm\n",
    ),
    (
        "CF4",
        "require props off\nswitch B on channel 6 rests at 1000, 1500, 2000 on link loss 1950\nbind arm to switch B position 2\ntest arm\n",
    ),
    ("CF5", "at zero throttle spin\n"),
    (
        "CF6",
        "require props off\nswitch F on channel 9 momentary rests at 1000, 2000\nbind arm to switch F position 1\ntest arm\n",
    ),
    ("CI1", "require props off\nidle start at 1100 step 0 until all spin\n"),
    ("CI2", "require props off\nidle start at 1150 step 10 until all spin, at most 1140\n"),
    ("CI3", "require props off\nidle start at 1100 step 25 until all spin, at most 1110\n"),
    ("CI4", "require props off\nidle start at 1050 step 2 until all spin, at most 1200\n"),
    (
        "CI5",
        "require props off\nidle start at 1100 step 60 until all spin, at most 1300, for 5 s, in 21 starts\nfailsafe cut motors after 3 s\ntest failsafe\n",
    ),
    ("CI6", "require props off\nidle start at 1100 step 25 until all spin, for 0 s, in 0 starts, then add -5\n"),
    ("CI7", "require props off\nidle start at 1100 step 10 by hand, in 5 starts\n"),
    ("CM1", "test motors\nkeep\ntest arm\n"),
    ("CM3", "require props off\nsignal dshot300 at 4 kHz\nkeep\ntest motors\n"),
    ("CB1", "battery 2 cells warn at 3.4 V per cell land at 3.6 V per cell\n"),
    ("CB2", "battery 2 cells warn at 3.1 V per cell land at 2.9 V per cell\n"),
    ("CB3", "battery 2 cells lipo warn at 4.3 V per cell land at 3.4 V per cell\n"),
    ("CB4", "require props off\nrequire battery at least 3.7 V per cell\n"),
    (
        "CP1",
        "require props off\nswitch B on channel 6 rests at 1000, 1500, 2000\nbind arm to switch B position 2\nfailsafe cut motors after 500 ms\nkeep\ntest failsafe\n",
    ),
    ("CP3", "require props off\nfailsafe cut motors after 500 ms\nkeep\ntest failsafe within 100 ms\n"),
    ("CP2", "require props off\nidle at 1120\ntest idle\nkeep\n"),
    ("CV1", "idle at 1120\nset loop-rate to 4 kHz\nset loop-rate to 4000 Hz\nidle at 1130\n"),
    ("CV2", "idle at 1120\nexpect idle is 1100 us\n"),
    (
        "CO1",
        "require props off\nidle start at 1100 step 25 until all spin\nkeep\nfind switch B with 3 positions\nrequire switch B position 0\n",
    ),
    (
        "CO3",
        "battery 2 cells warn at 3.6 V per cell land at 3.4 V per cell\nrequire props off\nrequire level within 2 deg\nrequire battery at least 3.8 V per cell\nrequire level within 5 deg\nrequire level within 2 deg\nrequire battery at least 3.7 V per cell\n",
    ),
];

/// Codes of the text whose examples stand with the plan's checks, which give them.
const ELSEWHERE: &[&str] = &["CM2", "CO2"];

fn read(body: &str) -> Recipe {
    let sources = Memory::of([("bench.jig", format!("{HEAD}{body}"))]);
    let reading = quadjig::language::read(&sources, Path::new("bench.jig"), &[], &[]);
    assert_eq!(reading.findings, [], "the reader takes it: {body}");
    reading.recipe.unwrap()
}

#[test]
fn every_code_has_a_recipe_and_words() {
    for (code, body) in BAD {
        let recipe = read(body);
        let findings = check(&recipe);
        assert!(findings.iter().any(|finding| finding.code == *code), "{code}: {findings:?}");
        insta::assert_snapshot!(*code, text(&recipe.files, &findings, Look::Marked), body);
    }
}

#[test]
fn no_code_is_without_an_example_and_none_stands_twice() {
    let codes: Vec<&str> = codes::TABLE.iter().map(|(code, _)| *code).collect();
    let text_codes: BTreeSet<&str> = codes.iter().copied().filter(|code| code.starts_with('C')).collect();
    let shown: BTreeSet<&str> = BAD.iter().map(|(code, _)| *code).chain(ELSEWHERE.iter().copied()).collect();
    assert_eq!(text_codes, shown);

    let reading = quadjig::language::codes::TABLE.iter().map(|(code, _)| *code);
    let all: Vec<&str> = codes.into_iter().chain(reading).collect();
    let once: BTreeSet<&str> = all.iter().copied().collect();
    assert_eq!(all.len(), once.len(), "a code stands twice");
}

/// The order of a first set-up, all that it asks for, and every test after the `keep`.
pub const GOOD: &str = "require props off
require antenna on
require throttle low
receiver crsf on port 2
channels roll, pitch, throttle, yaw
switch B on channel 6 rests at 1000, 1500, 2000 on link loss 1000
switch C on channel 7 rests at 1000, 2000
bind arm to switch B position 2
bind buzzer to switch C position 1
at zero throttle spin
signal dshot300 at 4 kHz
failsafe cut motors after 500 ms
battery 2 cells warn at 3.6 V per cell land at 3.4 V per cell
keep
power cycle
require battery at least 3.7 V per cell
order motors
idle start at 1100 step 25 until all spin
keep
test idle in 5 starts
test arm
test cut
test failsafe
test buzzer
";

#[test]
fn a_good_recipe_has_no_findings() {
    assert_eq!(check(&read(GOOD)), []);
}

/// A lost link: `hold` counts as everywhere, `flagged` as nowhere, a pulse as where it falls.
#[test]
fn link_loss_is_judged_by_where_the_channel_goes() {
    let arm_on_loss = |loss: &str| {
        let body = format!(
            "require props off\nswitch B on channel 6 rests at 1000, 1500, 2000 on link loss {loss}\nbind arm to switch B position 2\ntest arm\n"
        );
        check(&read(&body)).iter().any(|finding| finding.code == codes::ARM_ON_LINK_LOSS)
    };
    // The band of position 2 begins half way between 1500 and 2000.
    for (loss, refused) in
        [("hold", true), ("flagged", false), ("1000", false), ("1749", false), ("1750", true), ("2000", true)]
    {
        assert_eq!(arm_on_loss(loss), refused, "{loss}");
    }
}

/// Rests need twice the fixed margin of 50 us between them.
#[test]
fn rests_may_be_as_close_as_twice_the_margin() {
    let close = |second: i32| {
        let body = format!("switch B on channel 6 rests at 1000, {second}, 2000\nrequire switch B position 0\n");
        check(&read(&body)).iter().any(|finding| finding.code == codes::RESTS_CLOSE)
    };
    assert!(close(1099));
    assert!(!close(1100));
}

/// 40 values are a search, 41 are not.
#[test]
fn a_search_may_have_forty_values() {
    let many = |limit: i32| {
        let body =
            format!("require props off\nidle start at 1000 step 5 until all spin, at most {limit}, then add 5\n");
        check(&read(&body)).iter().any(|finding| finding.code == codes::TOO_MANY_VALUES)
    };
    assert!(!many(1204), "1000 to 1195: 40 values");
    assert!(many(1205), "1000 to 1200: 41 values");
}

/// What an alarm is held against is the chemistry's: under the floor an error, under the caution a warning.
#[test]
fn every_chemistry_has_its_own_floor_and_caution() {
    let told = |kind: &str, land: &str| {
        let body = format!("battery 2 cells {kind} warn at 3.6 V per cell land at {land} V per cell\n");
        let found = check(&read(&body));
        found.iter().find(|one| one.code == codes::CELL_VOLTS_LOW).map(|one| one.severity)
    };
    let (error, warning) = (Some(Severity::Error), Some(Severity::Warning));
    for kind in ["", "lipo", "lihv"] {
        assert_eq!(
            [told(kind, "2.999"), told(kind, "3"), told(kind, "3.199"), told(kind, "3.2")],
            [error, warning, warning, None]
        );
    }
    assert_eq!(
        [told("liion", "2.499"), told("liion", "2.5"), told("liion", "2.799"), told("liion", "2.8")],
        [error, warning, warning, None]
    );
    let high = "battery 2 cells liion warn at 4.21 V per cell land at 3 V per cell\n";
    assert!(check(&read(high)).iter().any(|one| one.code == codes::CELL_VOLTS_HIGH), "a full one has 4.20 V");
}

/// One switch springs back or it does not.
#[test]
fn a_momentary_switch_is_one_everywhere() {
    let codes = |body: &str| check(&read(body)).iter().map(|one| one.code).collect::<Vec<_>>();
    let found = "find switch F momentary\nbind buzzer to switch F position 1\nkeep\ntest buzzer\n";
    assert_eq!(codes(found), [] as [&str; 0]);
    let stays = "switch F on channel 9 rests at 1000, 2000\n";
    assert_eq!(codes(&format!("{found}{stays}")), ["CO1", "CV1"].as_slice()[1..]);
    let springs = "switch F on channel 9 momentary rests at 1000, 2000\n";
    assert_eq!(codes(&format!("{found}{springs}")), [] as [&str; 0]);
}

/// Each statement that can turn a motor is told, until propellers are required off.
#[test]
fn props_are_asked_for_at_each_statement() {
    let missing = |body: &str| {
        let findings = check(&read(body));
        findings.iter().filter(|finding| finding.code == codes::PROPS_OFF_MISSING).count()
    };
    assert_eq!(missing("test motors\ntest cut\nrequire props off\ntest motors\n"), 2);
    assert_eq!(missing("idle at 1120\nkeep\n"), 0, "with the battery out an idle turns nothing");
    assert_eq!(missing("power cycle\nidle at 1120\nkeep\n"), 2, "with the battery in it can");
    assert_eq!(missing("find link loss\n"), 0);
    let cells = "battery 2 cells warn at 3.6 V per cell land at 3.4 V per cell\n";
    let at_least = "require battery at least 3.7 V per cell\n";
    assert_eq!(missing(&format!("{cells}{at_least}")), 1, "a pack is measured where it is put in");
}

/// What an editor applies is what the finding asks for.
#[test]
fn fixes_mend_what_they_belong_to() {
    let body = "test motors\n";
    let recipe = read(body);
    let findings = check(&recipe);
    let fix = &findings[0].fixes[0];
    let mut mended = recipe.files[0].text.to_string();
    mended.replace_range(fix.span.range.clone(), &fix.replacement);
    assert_eq!(mended, format!("{HEAD}require props off\ntest motors\n"));
    assert_eq!(check(&read("require props off\ntest motors\n")), []);
}
