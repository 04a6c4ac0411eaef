//! Each code of reading with a bad example: code, place, message, other places, hints, fixes.

use super::{HEAD, WORDS, told};
use quadjig::language::characters::is_hidden;
use quadjig::language::codes::TABLE;
use quadjig::language::sources::Memory;
use quadjig::language::{Reading, read};
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::Path;

/// A bad example: which codes it must give, its text, other files, and what `--with` says.
struct Bad {
    codes: &'static [&'static str],
    /// Behind the header, unless it begins with its own `recipe` line.
    text: String,
    files: Vec<(&'static str, String)>,
    with: Vec<(String, String)>,
}

fn bad(codes: &'static [&'static str], text: impl Into<String>) -> Bad {
    Bad { codes, text: text.into(), files: Vec::new(), with: Vec::new() }
}

impl Bad {
    fn file(mut self, path: &'static str, text: impl Into<String>) -> Self {
        self.files.push((path, text.into()));
        self
    }

    fn with(mut self, name: &str, quantity: &str) -> Self {
        self.with.push((name.into(), quantity.into()));
        self
    }

    fn read(&self) -> (String, Reading) {
        let whole = self.text.starts_with("recipe") || self.text.starts_with("# whole");
        let text = if whole { self.text.clone() } else { format!("{HEAD}{}\n", self.text) };
        let mut files = vec![("test.jig", text.clone())];
        files.extend(self.files.clone());
        (text, read(&Memory::of(files), Path::new("test.jig"), &self.with, WORDS))
    }
}

fn examples() -> Vec<Bad> {
    let lines = |from: &str, to: &str| HEAD.replace(from, to);
    let mut all = parameters_and_used_files();
    all.extend(vec![
        // text
        bad(&["RT6", "RT6"], "keep # left\u{202E}right\u{200B}\n# \u{1}"),
        bad(&["RT6"], "note \"zero\u{200B}width\""),
        bad(&["RT7"], "note \"open # not a comment,\nkeep"),
        bad(&["RT8"], r#"note "a \n b""#),
        bad(&["RT9"], "idle start at 1100 step 25,\n# and then?"),
        bad(&["RT10", "RT10"], "test cut within 100 ms,\ntest arm\nidle at 1120,\n\ntest buzzer"),
        // statements
        bad(&["RS1", "RS1", "RS1"], "idel at 1100\nBind arm to switch B position 2\n@ home"),
        bad(&["RS2"], "bind arm to switch B positon 2"),
        bad(&["RS2"], "test attitud"),
        bad(&["RS2"], "idle start at 1100 stepp 25 until all spin"),
        bad(&["RS2"], "idle start at 1100 step 25 until all spin; at most 1200"),
        bad(&["RS3"], "channels roll, pitch, yaw"),
        bad(&["RS2"], "channels roll pitch throttle yaw"),
        bad(&["RS2"], "find link los"),
        bad(&["RS2"], "signal oneshot"),
        bad(&["RS2"], "require disarm"),
        bad(&["RS2"], "keep it"),
        bad(&["RS2"], "failsafe cut motors after \"1 s\""),
        bad(&["RS2"], "switch B on chanel 6 rests at 1000, 2000"),
        bad(&["RS2"], "bind Arm to switch B position 2"),
        bad(&["RS2"], "board Heron"),
        bad(&["RS3"], "bind arm to switch B"),
        bad(&["RS3"], "idle start at"),
        bad(&["RS3"], "channels roll"),
        bad(&["RS3"], "require"),
        bad(&["RS3"], "test"),
        bad(&["RS3"], "battery 2 cells warn at"),
        bad(&["RS4"], "idle start at 1100 step 25, until all spin, at most 1200, step 30"),
        bad(&["RS5"], "idle start at 1100 until all spin"),
        bad(&["RS5", "RS5"], "switch B on channel 6\nswitch C rests at 1000, 2000"),
        bad(&["RS5", "RS5"], "battery 2 cells"),
        bad(&["RS6"], "bind self-level to switch D position 0, 1"),
        bad(&["RS7", "RS7"], "bind self-level to switch D positions 0, 1, 0\nchannels roll, pitch, roll, yaw"),
        bad(&["RS8"], "pause \"  \""),
        // quantities
        bad(&["RQ1"], "failsafe cut motors after 500 Hz"),
        bad(&["RQ1"], "bind arm to switch B position 2 us"),
        bad(&["RQ1"], "idle at 5 V"),
        bad(&["RQ1"], "require battery at least 3.7 V"),
        bad(&["RQ2"], "failsafe cut motors after 500"),
        bad(&["RQ2"], "require level within 2"),
        bad(&["RQ3"], "idle at 1100.5"),
        bad(&["RQ3"], "idle at 11000000000"),
        bad(&["RQ3"], "bind arm to switch B position -1"),
        bad(&["RQ3"], "set \"ROTOR_TRIM\" to 0.1234567"),
        bad(&["RQ4"], "failsafe cut motors after 500 millis"),
        bad(&["RQ4"], "test cut within 2 sec"),
        bad(&["RQ4"], "signal pwm at 2 khz"),
        bad(&["RQ4"], "idle start at 1100usec step 25"),
        // header
        bad(&["RH1"], "recipe \"a\"\nedition 2\nsome future words\n"),
        bad(&["RH2", "RH2", "RH6"], "# whole\nkeep\n"),
        bad(&["RH2"], lines("edition 1\n", "")),
        bad(
            &["RH3", "RH3"],
            "recipe \"a\"\ncraft quad x\nedition 1\nboard \"Finch\"\nkeep\ngiven top default 1200 us\nidle at top\n",
        ),
        bad(&["RH4", "RH4"], "recipe \"a\"\nrecipe \"b\"\nedition 1\ncraft quad x\nboard \"Finch\"\nboard \"Finch\"\n"),
        bad(&["RH6"], format!("{}board turned 90 deg\n", lines("board \"Finch\"\n", ""))),
        bad(
            &["RH2", "RS1", "RS2"],
            format!("{}boardd \"Heron\"\n", lines("craft quad x", "craft quad y").replace("edition 1\n", "")),
        ),
        bad(&["RH5"], "require firmware \"2\""),
        bad(&["RS4"], lines("quad x", "quad x turning inward, turning outward")),
    ]);
    all
}

/// The same of what files are handed, and of the files themselves.
fn parameters_and_used_files() -> Vec<Bad> {
    let used = |more: &str| format!("{HEAD}{more}");
    let lines = |from: &str, to: &str| HEAD.replace(from, to);
    vec![
        // parameters
        bad(&["RG1", "RG1", "RG1"], "given step default 1\ngiven us default 1\ngiven loop-rate default 4 kHz"),
        bad(&["RG2"], "given top default 1200\ngiven top default 1210\nidle at top"),
        bad(
            &["RG3", "RG3"],
            "given idle-floor default 1100\nidle at idle-flor\ntest cut within later\nidle at idle-floor",
        ),
        bad(&["RG4"], "given floor default 1100\nidle at floor\ntest cut within floor"),
        bad(&["RG5"], "given floor default 1100 us from 1.05 ms to 1.15 ms\nidle at floor").with("floor", "1151us"),
        bad(&["RG5"], "given floor default 1040 from 1050 us to 1150 us\nidle at floor"),
        bad(&["RG5"], "given floor default 1040 from 1050 us to 1150 us\nidle at floor").with("floor", "1100"),
        bad(
            &["RG6", "RG6"],
            "given a default 1100 us from 1 V to 2 V\ngiven b default 1100 us from 1150 to 1050\nidle at a\nidle at b",
        ),
        bad(&["RG7"], "given wait default 2\ntest cut within wait"),
        bad(&["RG8"], "given floor\nidle start at floor step 25 until all spin\ntest cut within 100 ms"),
        bad(&["RG9", "RG9"], "given floor default 1100\nidle at floor").with("flor", "1120 us").with("other", "2"),
        bad(&["RQ1"], "given floor default 5 V\nidle at floor"),
        bad(&["RG5", "RG5"], "given kind one of crsf, sbus default ibus\nreceiver kind on port 2").with("kind", "spi"),
        bad(&["RG7"], "given wait default 500 from 100 ms to 900 ms\ntest cut within wait"),
        bad(&["RG7"], "given turn default 90\nboard turned turn"),
        bad(&["RG3", "RG3"], "use \"a.jig\"\nuse \"b.jig\" with floor late\nidle at late")
            .file("a.jig", used("given late default 1100\nidle at late\n"))
            .file("b.jig", used("given floor default 1100\nidle at floor\n")),
        bad(&["RG10", "RH3"], "use \"a.jig\" with floor late\nkeep\ngiven late default 1100\nidle at late")
            .file("a.jig", used("given floor default 1100\nidle at floor\n")),
        bad(
            &["RG11", "RG11", "RG11"],
            "given floor default 1100\ngiven arm-switch switch default floor\nfind switch floor\n\
             bind arm to switch arm-switch position arm-switch\nidle at floor",
        ),
        bad(&["RG11", "RG11"], "given rate default 2 kHz\ngiven kind one of pwm, dshot default pwm\nsignal kind at rate\nreceiver rate on port 2"),
        bad(&["RG11"], "given arm-switch switch\nfind switch arm-switch").with("arm-switch", "5 V"),
        bad(&["RG11", "RG11"], "given top default 1100\nidle at top\nuse \"a.jig\" with arm-on top, kind 5 V").file(
            "a.jig",
            used("given arm-on switch default B\ngiven kind one of crsf, sbus default crsf\nfind switch arm-on\nreceiver kind on port 2\n"),
        ),
        bad(&["RG12"], "use \"a.jig\"").file("a.jig", used("given floor\nidle at floor\n")),
        bad(&["RS7"], "given kind one of crsf, sbus, crsf default sbus\nreceiver kind on port 2"),
        // use
        bad(&["RU1", "RU1", "RU1", "RU1", "RU1"], "use \"a.toml\"\nuse \"/etc/passwd\"\nuse \"\"\nuse \"a\\\\b.jig\"\nuse \"c:b.jig\""),
        bad(&["RU2", "RU2"], "use \"../b.jig\"\nuse \"a/../../b.jig\""),
        bad(&["RU3"], "use \"missing.jig\""),
        bad(&["RU13"], "use \"a.jig\"").file("a.jig", "password = hunter2\n"),
        bad(&["RU4"], "use \"a.jig\"").file("a.jig", used("use \"b.jig\"\n")).file("b.jig", used("use \"a.jig\"\n")),
        bad(&["RU7"], "use \"a.jig\"").file("a.jig", lines("quad x", "hex x")),
        bad(&["RU8"], "use \"a.jig\"").file("a.jig", lines("Finch", "Other")),
        bad(&["RU9"], "require firmware \"2.4\"\nuse \"a.jig\"").file("a.jig", used("require firmware \"2.5\"\n")),
        bad(&["RU10", "RG9"], "use \"a.jig\" with floor 1110 us, roof 1 us\nuse \"a.jig\" with floor 1120 us")
            .file("a.jig", used("given floor default 1100 us\nidle at floor\n")),
        bad(&["RU11"], "use \"a.jig\"\nuse \"a.jig\"").file("a.jig", used("require props off\n")),
        bad(&["RH3"], "# whole\nrecipe \"a\"\nuse \"a.jig\"\nedition 1\ncraft quad x\nboard \"Finch\"")
            .file("a.jig", used("keep\n")),
        bad(&["RH1"], "use \"a.jig\"").file("a.jig", "recipe \"a\"\nedition 9\n"),
        bad(&["RS2"], "use \"a.jig\"").file("a.jig", used("keep it\n")),
    ]
}

#[test]
fn every_bad_example_tells_what_is_wrong() {
    let (mut out, mut wrong) = (String::new(), String::new());
    for example in examples() {
        let (text, reading) = example.read();
        let visible = |text: &str| -> String {
            text.chars()
                .map(|c| if is_hidden(c) && c != '\n' { c.escape_unicode().to_string() } else { c.into() })
                .collect()
        };
        let shown = visible(text.strip_prefix(HEAD).unwrap_or(&text));
        writeln!(out, "--- {}\n===\n{}", shown.trim_end(), visible(&told(&reading))).unwrap();
        let sorted = |mut codes: Vec<&'static str>| {
            codes.sort_unstable();
            codes
        };
        let had = sorted(reading.findings.iter().map(|finding| finding.code).collect());
        if had != sorted(example.codes.to_vec()) {
            writeln!(wrong, "{:?} expected\n{text}\n{}", example.codes, told(&reading)).unwrap();
        }
    }
    insta::with_settings!({ omit_expression => true }, { insta::assert_snapshot!(out) });
    assert!(wrong.is_empty(), "{wrong}");
}

/// Codes whose examples are large or need a disk; their tests are in `limits`, `uses` and `explain`.
const ELSEWHERE: [&str; 9] = ["RU12", "RT1", "RT2", "RT3", "RT4", "RT5", "RT11", "RU5", "RU6"];

#[test]
fn every_code_has_an_example() {
    let shown: BTreeSet<_> = examples().iter().flat_map(|example| example.codes).copied().chain(ELSEWHERE).collect();
    let all: BTreeSet<_> = TABLE.iter().map(|(code, _)| *code).collect();
    assert_eq!(shown, all);
    assert_eq!(all.len(), TABLE.len(), "no code is given out twice");
}

#[test]
fn no_rule_name_reaches_a_person() {
    for example in examples() {
        let (text, reading) = example.read();
        let told = told(&reading);
        for name in ["kw_", "search_", "EOI", "cell_voltage", "idle_value", "setting_value", "another word"] {
            assert!(!told.contains(name), "{text}\n{told}");
        }
    }
}

#[test]
fn fixes_repair_what_they_say() {
    for (text, fixed) in [
        ("bind arm to switch B positon 2", "bind arm to switch B position 2"),
        ("idel at 1100", "idle at 1100"),
        ("require level within 2", "require level within 2 deg"),
        ("idle start at 1100 until all spin", "idle start at 1100 until all spin step 25 us"),
        ("bind self-level to switch D position 0, 1", "bind self-level to switch D positions 0, 1"),
        ("idle at 1120,\n\nkeep", "idle at 1120\n\nkeep"),
    ] {
        let reading = super::read_text(&format!("{HEAD}{text}"));
        let fix = &reading.findings[0].fixes[0];
        let mut whole = reading.files[0].text.to_string();
        whole.replace_range(fix.span.range.clone(), &fix.replacement);
        assert_eq!(whole, format!("{HEAD}{fixed}"));
        assert!(super::read_text(&whole).findings.is_empty(), "{whole}");
    }
}

#[test]
fn a_bad_line_hides_no_other() {
    let reading = super::read_text(&format!("{HEAD}keep for ever\nidle at 5 V\ntest arm\nnonsense\nnote \"a\"\n"));
    let codes: Vec<_> = reading.findings.iter().map(|finding| finding.code).collect();
    assert_eq!(codes, ["RS2", "RQ1", "RS1"]);
    assert_eq!(reading.recipe.unwrap().statements.len(), 3, "a bad value leaves its statement standing");
    assert_eq!(reading.unread.len(), 2);
}
