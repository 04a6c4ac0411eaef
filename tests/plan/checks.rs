//! Checks with a sheet and a radio card: one bad recipe a code, with what is said of it.

use quadjig::board::radio_card::RadioCard;
use quadjig::board::sheet::Sheet;
use quadjig::board::{radio_card_file, sheet_file, shipped};
use quadjig::language::Reading;
use quadjig::language::checks::codes;
use quadjig::language::finding::Severity;
use quadjig::language::recipe::{Frame, OnLoss, Switch};
use quadjig::language::sources::Memory;
use quadjig::plan::checks::{all, reading};
use quadjig::report::findings::{Look, text};
use std::collections::BTreeSet;
use std::path::Path;

const HEAD: &str = "recipe \"Bench\"\nedition 1\ncraft quad x\nboard \"Finch\"\n\n";

/// A change of the Finch's sheet: what stands there, and what instead.
pub type Changed = Option<(&'static str, &'static str)>;

/// A code, a change of the sheet, and the recipe below [`HEAD`].
pub const BAD: &[(&str, Changed, &str)] = &[
    ("BW1", None, "set loop-rat to 4 kHz\nset gyro-rate to 4 kHz\n"),
    ("BW2", None, "set idle to 1120 us\n"),
    ("BW3", None, "set loop-rate to 4 V\nexpect loop-rate is fast\n"),
    (
        "BW4",
        Some((
            "[settings.loop-rate]\nname = \"LOOP_HZ\"\nunit = \"Hz\"\nonly = [1000, 2000, 4000, 8000]\nrestart = true\n",
            "",
        )),
        "set loop-rate to 4 kHz\n",
    ),
    ("BW5", None, "set \"IDLE_US\" to 1120\nset \"ARM_FROM\" to 900\nexpect \"LOOP_HZ\" is 4000\n"),
    ("BW6", None, "require props off\nset \"WINGS\" to 3\n"),
    ("BB10", None, "board \"Finsh\"\nboard \"Heron\"\nkeep\n"),
    ("BB1", Some(("board = \"Finch\"", "board = \"Heron\"")), "keep\n"),
    ("BB2", Some(("count = 4\n", "count = 3\n")), "keep\n"),
    (
        "BB13",
        Some(("speed-telemetry = true", "speed-telemetry = false")),
        "require props off\nidle start at 1100 step 25 until all spin, in 5 starts\ntest idle\n",
    ),
    ("BB14", Some((WARN, "")), "battery 2 cells warn at 3.6 V per cell land at 3.4 V per cell\n"),
    ("BB12", Some(("turning = \"inward\" ", "#")), "require props off\ntest motors\n"),
    ("BB3", None, "find switch C with 2 positions\nbind buzer to switch C position 1\nunbind winch\n"),
    ("BB4", None, "find switch D with 3 positions\nbind self-level to switch D positions 0, 2\n"),
    ("BB5", None, "switch C on channel 7 rests at 840, 2000\nbind lights to switch C position 1\n"),
    ("BB6", Some((RUN, "")), "require props off\norder motors\n"),
    ("BB7", Some((RUN, "")), "require props off\nat zero throttle rest\nidle start at 1100 step 25 until all spin\n"),
    ("BB8", Some((CHANNELS, "")), "require props off\ntest arm\nfind switch B\n"),
    (
        "BB9",
        Some(("arms-while-open = true ", "arms-while-open = false ")),
        "require props off\ntest arm\norder motors\n",
    ),
    ("BV1", None, "receiver crfs on port 2\nsignal dshot600 at 3 kHz\n"),
    (
        "BV2",
        None,
        "idle at 990\nreceiver crsf on port 7\nfailsafe cut motors after 50 ms\nkeep\nrequire props off\ntest failsafe\n",
    ),
    ("BV3", None, "idle at 5.5 %\n"),
    ("CM2", None, "signal oneshot125 at 4 kHz\n"),
    ("CO2", None, "find switch B\nbind arm to switch B position 2\nkeep\nrequire props off\ntest arm\n"),
];

const RUN: &str =
    "[motor-run]\nby = \"motor-test\"\nbounded-by = \"board timeout\"\nlongest = \"3 s\"\nstops-by = \"disarm\"\n";

const WARN: &str =
    "[settings.battery-warn]\nname = \"WARN_CELL_MV\"\nunit = \"mV per cell\"\nleast = 3000\nmost = 4200\n\n";

/// How the Finch C is asked for its channels.
const CHANNELS: &str = "[console.channels]                  # group pulses, in us, blanks between; none: no signal from the radio\nsend = \"channels\"\nanswer = 'channels (none|(?<pulses>[0-9 ]+))'\n\n";

/// A code, the switches of the card, and the recipe below [`HEAD`].
const BAD_WITH_CARD: &[(&str, &str, &str)] = &[
    ("KS1", "", "find switch B with 3 positions\nrequire switch B position 0\n"),
    (
        "KS2",
        "[switches.B]\nchannel = 6\nrests = [1000, 1500, 2000]\non-link-loss = 2000\n[switches.C]\nchannel = 7\nrests = [1000, 2000]\n",
        "switch B on channel 5 momentary rests at 1000, 1510, 2000 on link loss flagged\nfind switch C with 3 positions\nrequire switch B position 0\nrequire switch C position 0\n",
    ),
    (
        "KS3",
        "[switches.B]\nchannel = 6\nrests = [1000, 1200, 2000]\nnoise = 18.0\n",
        "find switch B with 3 positions\nrequire switch B position 0\n",
    ),
    ("CS3", "[switches.C]\nchannel = 7\nrests = [1000, 2000]\n", "find switch C\nbind lights to switch C position 2\n"),
    (
        "CF6",
        "[switches.F]\nchannel = 9\nrests = [1000, 2000]\nmomentary = true\n",
        "find switch F\nbind arm to switch F position 1\nkeep\nrequire props off\ntest arm\n",
    ),
    (
        "CF4",
        "[switches.B]\nchannel = 6\nrests = [1000, 1500, 2000]\non-link-loss = \"hold\"\n",
        "find switch B with 3 positions\nbind arm to switch B position 2\nkeep\nrequire props off\ntest arm\n",
    ),
];

fn read(body: &str) -> Reading {
    let sources = Memory::of([("bench.jig", format!("{HEAD}{body}"))]);
    quadjig::language::read(&sources, Path::new("bench.jig"), &[], &[])
}

fn finch(changed: Changed) -> Sheet {
    let text = |stem: &str| shipped::SHEETS.iter().find(|sheet| sheet.stem == stem).unwrap().text.to_owned();
    let mut text = match changed {
        Some((before, _)) if !text("finch").contains(before) => text("finch-c").replace("\"Finch C\"", "\"Finch\""),
        _ => text("finch"),
    };
    if let Some((before, after)) = changed {
        assert!(text.contains(before), "the sheet has {before}");
        text = text.replace(before, after);
        if after.contains("count = 3") {
            let named = text.find("[motors.order]").unwrap()..text.find("[settings.idle]").unwrap();
            text.replace_range(named, "");
            text = text.replace(", \"rear left\"]", "]");
        }
    }
    sheet_file::read("finch.toml", &text).unwrap()
}

fn card(switches: &str) -> RadioCard {
    radio_card_file::read("bench.toml", &format!("edition = 1\nradio = \"Bench transmitter\"\n{switches}")).unwrap()
}

#[test]
fn every_code_of_the_sheet_has_a_recipe_and_words() {
    for (code, changed, body) in BAD {
        let read = read(body);
        assert_eq!(read.findings, [], "the reader takes it: {body}");
        let findings = reading(&read, &[finch(*changed)], None);
        assert!(findings.iter().any(|finding| finding.code == *code), "{code}: {findings:?}");
        insta::assert_snapshot!(*code, text(&read.files, &findings, Look::Marked), body);
    }
}

#[test]
fn every_code_of_the_card_has_a_recipe_and_words() {
    for (code, switches, body) in BAD_WITH_CARD {
        let read = read(body);
        assert_eq!(read.findings, [], "the reader takes it: {body}");
        let findings = reading(&read, &[finch(None)], Some(&card(switches)));
        assert!(findings.iter().any(|finding| finding.code == *code), "{code}: {findings:?}");
        insta::assert_snapshot!(format!("card-{code}"), text(&read.files, &findings, Look::Marked), body);
    }
}

#[test]
fn no_code_is_without_an_example() {
    let codes = codes::TABLE.iter().map(|(code, _)| *code).filter(|code| !code.starts_with('C'));
    let here: BTreeSet<&str> =
        BAD.iter().map(|(code, ..)| *code).chain(BAD_WITH_CARD.iter().map(|(code, ..)| *code)).collect();
    // What is wrong with documents themselves is told of no recipe: `tests/language/explain.rs`.
    let missing: Vec<&str> =
        codes.filter(|code| !here.contains(code) && !["BB11", "BD1", "KD1"].contains(code)).collect();
    assert_eq!(missing, [""; 0]);
}

#[test]
fn a_good_recipe_has_no_findings_on_any_finch() {
    let good = crate::language::checks::GOOD;
    let card = shipped::radio_card("bench").unwrap().unwrap();
    for shipped in shipped::SHEETS {
        let sheet = sheet_file::read(shipped.stem, shipped.text).unwrap();
        let corners: Vec<&str> = sheet.corners.iter().map(|corner| corner.0.as_str()).collect();
        let frame = Frame::of(&corners).unwrap().words();
        let head = format!("recipe \"Test\"\nedition 1\ncraft {frame}\nboard \"{}\"\n", shipped.name);
        let sources = Memory::of([("bench.jig", format!("{head}{good}"))]);
        let read = quadjig::language::read(&sources, Path::new("bench.jig"), &[], &[]);
        let found = reading(&read, &[sheet], Some(&card));
        assert_eq!(text(&read.files, &found, Look::Plain), "", "{}", shipped.name);
    }
}

/// What is open without a sheet is one hint, however much it is, and never an error.
#[test]
fn what_cannot_be_decided_is_one_hint() {
    let body = "require props off\nfind switch B\nbind arm to switch B position 2\nset \"ROTOR_TRIM\" to 3\nkeep\nidle start at 1100 step 25 until all spin\nkeep\ntest arm\n";
    let recipe = read(body).recipe.unwrap();
    let findings = all(&recipe, None, None);
    let open: Vec<_> = findings.iter().filter(|finding| finding.code == codes::UNDECIDED).collect();
    assert_eq!((open.len(), open[0].severity), (1, Severity::Hint));
    assert_eq!(open[0].also.len(), 4, "{:?}", open[0]);
    assert!(findings.iter().all(|finding| finding.severity != Severity::Error), "{findings:?}");

    // A card that does not say what the channel does on link loss leaves that open, as a run would.
    let mut card = shipped::radio_card("bench").unwrap().unwrap();
    let left = |card: &RadioCard| {
        let mut found = all(&recipe, Some(&finch(None)), Some(card));
        found.retain(|finding| finding.code == codes::UNDECIDED);
        found.iter().map(|finding| (finding.message.clone(), finding.also.len())).collect::<Vec<_>>()
    };
    assert_eq!(left(&card), [("one thing is left open here: where switch B rests on link loss".to_owned(), 0)]);
    card.switches.get_mut(&Switch("B".into())).unwrap().on_loss = Some(OnLoss::Flagged);
    assert_eq!(left(&card), []);
}

/// A buzzer that nothing above binds may be bound on the board: left open, until a line binds it.
#[test]
fn a_buzzer_that_nothing_binds_is_left_open() {
    let open = |lines: &str| {
        let mut found = all(&read(lines).recipe.unwrap(), Some(&finch(None)), None);
        found.retain(|finding| finding.message.contains("whether the buzzer is on a switch"));
        found.iter().map(|finding| (finding.code, finding.severity, finding.hints.len())).collect::<Vec<_>>()
    };
    assert_eq!(open("test buzzer\n"), [(codes::UNDECIDED, Severity::Hint, 1)]);
    let bind = "switch C on channel 7 rests at 1000, 2000\nbind buzzer to switch C position 1\nkeep\n";
    assert_eq!(open(&format!("{bind}test buzzer\n")), []);
    assert_eq!(open(&format!("test buzzer\n{bind}")), [(codes::UNDECIDED, Severity::Hint, 1)]);
}

/// A line that could not be read is not told again as missing; another one is.
#[test]
fn a_bad_line_hides_no_other_and_is_told_once() {
    let told = |body: &str| {
        let read = read(body);
        reading(&read, &[finch(None)], None).iter().map(|finding| finding.code).collect::<Vec<_>>()
    };
    let once = told("require prop off\ntest motors\n");
    assert!(!once.contains(&codes::PROPS_OFF_MISSING), "{once:?}");
    let both = told("fnd link loss\ntest motors\n");
    assert!(both.contains(&codes::PROPS_OFF_MISSING), "{both:?}");
}

/// Frame times: facts of the trade, see the sources beside them in the code.
/// 16 bits at 150, 300, 600 kbit/s take 106.7, 53.3, 26.7 us; oneshot125 lasts up to 250 us.
#[test]
fn a_signal_carries_a_rate_if_its_frame_fits_the_period() {
    let refused = |signal: &str, rate: &str| {
        let read = read(&format!("signal {signal} at {rate}\n"));
        let findings = all(&read.recipe.unwrap(), None, None);
        findings.iter().any(|finding| finding.code == codes::SIGNAL_TOO_SLOW)
    };
    for (signal, rate, wanted) in [
        ("pwm", "490 Hz", false),
        ("pwm", "500 Hz", true),
        ("oneshot125", "2 kHz", false),
        ("oneshot125", "4 kHz", true),
        ("dshot150", "8 kHz", false),
        ("dshot150", "9.4 kHz", true),
        ("dshot300", "8 kHz", false),
        ("dshot600", "8 kHz", false),
    ] {
        assert_eq!(refused(signal, rate), wanted, "{signal} at {rate}");
    }
}

/// Where speeds come back on the wire, dshot300 takes about 139 us, 7.2 kHz at most.
#[test]
fn a_reply_on_the_wire_is_warned_of() {
    let warned = |rate: &str| {
        let read = read(&format!("signal dshot300 at {rate}\n"));
        let findings = all(&read.recipe.unwrap(), Some(&finch(None)), None);
        findings.iter().any(|f| f.code == codes::SIGNAL_TOO_SLOW && f.severity == Severity::Warning)
    };
    assert!(warned("8 kHz"));
    assert!(!warned("4 kHz"));
}

/// Another chemistry, in place of the one that the pack has, would be no mend.
#[test]
fn a_word_that_the_board_lacks_is_not_exchanged_for_a_near_one() {
    let battery = |kind: &str| format!("battery 2 cells {kind} warn at 3.6 V per cell land at 3.4 V per cell\n");
    let findings = reading(&read(&battery("liion")), &[finch(Some((", liion = 2", "")))], None);
    let refused: Vec<_> = findings.iter().filter(|finding| finding.code == "BV1").collect();
    assert_eq!(refused.len(), 1, "{findings:?}");
    assert!(refused[0].fixes.is_empty() && refused[0].hints == ["words allowed: lihv, lipo"], "{refused:?}");
}
