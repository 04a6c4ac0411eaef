//! The formatter: its layout by example, and its laws over many recipes.

use super::{HEAD, read_text};
use proptest::prelude::*;
use quadjig::language::format::format;
use quadjig::language::recipe::{Given, GivenValue, Recipe, StatementKind};

#[test]
fn the_layout() {
    let text = "\n\n# A title.\n   # and more\t\nrecipe   \"A  b\" # one\r\nedition 1   # two\r\n\r\n\r\n\r\n\tcraft quad x,turning inward\nboard \"Finch\"   #three\n\
                idle start at 1100us step 25µs until all spin,at most 1200 us , # limit\n\n  # why two seconds\n  for 2s\n\
                idle start at 1100 step 25, until all spin, at most 1200, for 2 s, in 5 starts, then add 10, # a\n\
                until all spin\n\n";
    // The last statement repeats a clause, which is for the reader to say: the formatter lays out what parses.
    insta::with_settings!({ omit_expression => true }, { insta::assert_snapshot!(format(text).unwrap()) });
}

#[test]
fn long_statements_go_on_after_commas() {
    let rests = (0..40).map(|n| (1000 + n).to_string()).collect::<Vec<_>>().join(", ");
    let text = format(&format!("{HEAD}switch B on channel 6 rests at {rests} # long\n")).unwrap();
    assert!(text.lines().all(|line| line.chars().count() <= 107), "{text}");
    assert!(text.lines().filter(|line| line.starts_with("    ")).count() >= 2, "{text}");
    assert_eq!(format(&text).unwrap(), text);
}

#[test]
fn a_text_with_errors_is_left_alone() {
    let findings = format("idle att 1100\nkeep it\nnote \"open").unwrap_err();
    let codes: Vec<_> = findings.iter().map(|finding| finding.code).collect();
    assert_eq!(codes, ["RS2", "RS2", "RT7"]);
    assert_eq!(format("edition 2\nnew words\n").unwrap_err()[0].code, "RH1");
}

#[test]
fn an_empty_text_stays_empty() {
    assert_eq!(format("").unwrap(), "");
    assert_eq!(format("\n \n\t\r\n").unwrap(), "");
    assert_eq!(format("  # only this").unwrap(), "# only this\n");
}

/// Statements to draw from; `~` is any blank, `^` a comma that may be left out, and `_` a blank that may be.
const STATEMENTS: &[&str] = &[
    "require~props~off",
    "require~battery~at~least~3.7_V~per~cell",
    "require~level~within~2_deg",
    "require~\"a \\\"b\\\" \\\\ # c, d\"",
    "expect~idle~is~1120_µs",
    "receiver~crsf~on~port~2",
    "channels~roll_,_pitch,_throttle_,~yaw",
    "switch~B~on~channel~6^~rests~at~1000_,_1500_us,~2000^~on~link~loss~hold",
    "find~switch~B~with~3~positions^~anew",
    "test~sticks^~centre~1500~within~5^~ends~1000~to~2000~within~15",
    "bind~arm~to~switch~2B~position~2",
    "bind~self-level~to~switch~D~positions~0_,_1",
    "idle~at~5.5_%",
    "idle~start~at~top~step~25^~until~all~spin^~at~most~1.2_ms^~for~2_s^~in~5~starts^~then~add~10_μs",
    "signal~oneshot125^~at~2_kHz",
    "battery~2~cells~lihv^~warn~at~3.6_V~per~cell^~land~at~3400_mV~per~cell",
    "set~\"ROTOR_TRIM\"~to~-3",
    "set~loop-rate~to~4_kHz",
    "keep",
    "note~\"Front is where the camera looks.\"",
];

/// A statement's text with drawn blanks, commas, and line ends with comments after its commas.
fn statement(form: &str, draws: &[u8]) -> String {
    let mut draws = draws.iter().copied().cycle();
    let mut draw = |of: u8| draws.next().unwrap_or(0) % of;
    let mut out = String::new();
    let mut quoted = false;
    for c in form.chars() {
        quoted ^= c == '"' && !out.ends_with('\\');
        match c {
            _ if quoted => out.push(c),
            '~' => out.push_str(["  ", " ", "\t", " "][usize::from(draw(4))]),
            '_' => out.push_str(["", " ", "  ", "\t"][usize::from(draw(4))]),
            ',' | '^' if c == ',' || draw(2) == 0 => {
                out.push(',');
                match draw(6) {
                    0 => out.push_str(" # inside\n\t"),
                    1 => out.push_str("\r\n\n   # alone\n # again \n"),
                    2 => out.push('\n'),
                    _ => {}
                }
            }
            '^' => {}
            c => out.push(c),
        }
    }
    out
}

/// What a recipe says, places left out.
fn meaning(text: &str) -> (Vec<StatementKind>, Vec<(String, Option<GivenValue>)>) {
    let reading = read_text(text);
    assert!(!reading.has_errors(), "{text}\n{}", super::told(&reading));
    let Recipe { statements, givens, .. } = reading.recipe.unwrap();
    let value = |given: Given| (given.name.value, given.value);
    (statements.into_iter().map(|statement| statement.what).collect(), givens.into_iter().map(value).collect())
}

/// Comments in their order, blanks at their end left out.
pub(super) fn comments(text: &str) -> Vec<String> {
    let mut all = Vec::new();
    for line in text.lines() {
        let mut inside = false;
        let mut before = ' ';
        for (at, c) in line.char_indices() {
            if c == '"' && before != '\\' {
                inside = !inside;
            }
            if c == '#' && !inside {
                all.push(line[at..].trim_end().to_owned());
                break;
            }
            // A doubled backslash escapes nothing after it.
            before = if before == '\\' && c == '\\' { ' ' } else { c };
        }
    }
    all
}

fn recipes() -> impl Strategy<Value = String> {
    let line = (0..STATEMENTS.len(), prop::collection::vec(any::<u8>(), 1..40), 0_u8..6, 0_u8..4);
    prop::collection::vec(line, 0..25).prop_map(|lines| {
        let mut text = format!("{HEAD}given top default 1150 us # the top\n");
        for (form, draws, end, before) in lines {
            text.push_str(["", "\n", "\n\n\n", "  # above\n"][usize::from(before)]);
            text.push_str(["", " ", "\t", "", "", ""][usize::from(end)]);
            text.push_str(&statement(STATEMENTS[form], &draws));
            text.push_str(["\n", " # behind\n", "\t#  far  \n", "\r\n", " \n", "# near\r\n"][usize::from(end)]);
        }
        text
    })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn formatting_keeps_meaning_and_comments_and_settles(text in recipes()) {
        let once = format(&text).unwrap();
        prop_assert_eq!(meaning(&text), meaning(&once), "{}", once);
        prop_assert_eq!(comments(&text), comments(&once), "{}", once);
        prop_assert_eq!(format(&once).unwrap(), once);
    }

    #[test]
    fn any_text_is_read_without_a_panic(text in "\\PC{0,200}|[a-z0-9\"#, \\\\\n\r\t-]{0,200}") {
        let reading = read_text(&text);
        for finding in &reading.findings {
            let file = &reading.files[finding.span.file.0].text;
            prop_assert!(file.get(finding.span.range.clone()).is_some(), "{:?}", finding);
        }
        if let Ok(once) = format(&text) {
            prop_assert_eq!(format(&once).unwrap(), once);
        }
    }

    #[test]
    fn statements_with_slips_are_read_without_a_panic(
        form in 0..STATEMENTS.len(), draws in prop::collection::vec(any::<u8>(), 1..40), at in any::<prop::sample::Index>(), slip in "[a-z0-9\",#é ]{0,2}",
    ) {
        let mut text = statement(STATEMENTS[form], &draws);
        let places: Vec<_> = text.char_indices().map(|(at, _)| at).collect();
        let at = places[at.index(places.len())];
        let end = at + text[at..].chars().next().map_or(0, char::len_utf8);
        text.replace_range(at..end, &slip);
        let text = format!("{HEAD}{text}\nkeep\n");
        let reading = read_text(&text);
        for finding in &reading.findings {
            prop_assert!(text.get(finding.span.range.clone()).is_some(), "{:?}", finding);
            for fix in &finding.fixes {
                prop_assert!(text.get(fix.span.range.clone()).is_some(), "{:?}", fix);
            }
        }
    }
}
