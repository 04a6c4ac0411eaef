//! The limits of a recipe, each at the limit and one past it, and how long reading takes.

use super::{HEAD, WORDS, read_text, told};
use quadjig::language::limits;
use quadjig::language::sources::Memory;
use quadjig::language::{Reading, read};
use std::fmt::Write as _;
use std::path::Path;

fn codes(reading: &Reading) -> Vec<&'static str> {
    reading.findings.iter().map(|finding| finding.code).collect()
}

#[test]
fn the_limits_are_those_of_the_language() {
    let all = (limits::FILE_BYTES, limits::LINE_BYTES, limits::FILES, limits::USE_LEVELS, limits::STATEMENTS);
    assert_eq!(all, (1_048_576, 4096, 64, 16, 10_000));
}

#[test]
fn a_file_has_1_mib_at_most() {
    let filled = |bytes: usize| {
        let mut text = HEAD.to_owned();
        while text.len() + 1000 < bytes {
            writeln!(text, "#{}", "-".repeat(998)).unwrap();
        }
        let rest = bytes - text.len();
        text.push_str(&"\n".repeat(rest));
        assert_eq!(text.len(), bytes);
        text
    };
    assert_eq!(codes(&read_text(&filled(limits::FILE_BYTES))), [] as [&str; 0]);
    assert_eq!(codes(&read_text(&filled(limits::FILE_BYTES + 1))), ["RT3"]);
    let used = |bytes| {
        let sources = Memory::of([("test.jig", format!("{HEAD}use \"a.jig\"\n")), ("a.jig", filled(bytes))]);
        codes(&read(&sources, Path::new("test.jig"), &[], WORDS))
    };
    assert_eq!(used(limits::FILE_BYTES), [] as [&str; 0]);
    assert_eq!(used(limits::FILE_BYTES + 1), ["RT3"]);
}

#[test]
fn a_logical_line_has_4_kib_at_most() {
    let one = |bytes: usize| format!("{HEAD}note \"{}\"\nkeep\n", "x".repeat(bytes - "note \"\"".len()));
    assert_eq!(codes(&read_text(&one(limits::LINE_BYTES))), [] as [&str; 0]);
    let past = read_text(&one(limits::LINE_BYTES + 1));
    assert_eq!(codes(&past), ["RT4"]);
    assert_eq!(past.recipe.unwrap().statements.len(), 1, "the next line is read");
    // Continued over several lines, comments and line ends counted.
    let start = "idle start at 1100, # ";
    let end = "\n step 25 until all spin";
    let several = |bytes: usize| format!("{HEAD}{start}{}{end}\n", "x".repeat(bytes - start.len() - end.len()));
    assert_eq!(codes(&read_text(&several(limits::LINE_BYTES))), [] as [&str; 0]);
    assert_eq!(codes(&read_text(&several(limits::LINE_BYTES + 1))), ["RT4"]);
    let comment = |bytes: usize| format!("{HEAD}#{}\n", "x".repeat(bytes - 1));
    assert_eq!(codes(&read_text(&comment(limits::LINE_BYTES))), [] as [&str; 0]);
    assert_eq!(codes(&read_text(&comment(limits::LINE_BYTES + 1))), ["RT4"]);
}

#[test]
fn a_recipe_has_10_000_statements_at_most() {
    let header = HEAD.lines().count();
    let notes = |count: usize| "note \"a\"\n".repeat(count);
    let at = read_text(&format!("{HEAD}{}", notes(limits::STATEMENTS - header)));
    assert_eq!(codes(&at), [] as [&str; 0]);
    assert_eq!(at.recipe.unwrap().statements.len(), limits::STATEMENTS - header);
    let past = read_text(&format!("{HEAD}{}keep\n", notes(limits::STATEMENTS - header)));
    assert_eq!(codes(&past), ["RT5"]);
    assert_eq!(&past.files[0].text[past.findings[0].span.range.clone()], "keep");
    // Over several files.
    let both = |extra: usize| {
        let top = format!("{HEAD}use \"a.jig\"\n{}", notes(5000 - header - 1));
        let used = format!("{HEAD}{}", notes(5000 - header + extra));
        let sources = Memory::of([("test.jig", top), ("a.jig", used)]);
        codes(&read(&sources, Path::new("test.jig"), &[], WORDS))
    };
    assert_eq!(both(0), [] as [&str; 0]);
    assert_eq!(both(1), ["RT5"]);
}

#[test]
fn a_recipe_has_64_files_at_most() {
    let of = |files: usize| {
        let mut top = HEAD.to_owned();
        let mut all = Vec::new();
        for number in 1..files {
            writeln!(top, "use \"{number}.jig\"").unwrap();
            all.push((format!("{number}.jig"), HEAD.to_owned()));
        }
        all.push(("test.jig".into(), top));
        read(&Memory::of(all), Path::new("test.jig"), &[], WORDS)
    };
    let at = of(limits::FILES);
    assert_eq!(codes(&at), [] as [&str; 0]);
    assert_eq!(at.files.len(), limits::FILES);
    let past = of(limits::FILES + 1);
    assert_eq!(codes(&past), ["RU5"]);
    assert_eq!(
        told(&past),
        r#"Error RU5 test.jig:68:5 `"64.jig"`: `64.jig` would be file 65 of this recipe; 64 is the most"#.to_owned()
            + "\n"
    );
}

#[test]
fn use_goes_16_levels_deep_at_most() {
    let of = |levels: usize| {
        let all = (0..=levels).map(|level| {
            let next = if level == levels { String::new() } else { format!("use \"{}.jig\"\n", level + 1) };
            (format!("{level}.jig"), format!("{HEAD}{next}"))
        });
        read(&Memory::of(all), Path::new("0.jig"), &[], WORDS)
    };
    assert_eq!(codes(&of(limits::USE_LEVELS)), [] as [&str; 0]);
    let past = of(limits::USE_LEVELS + 1);
    assert_eq!(
        told(&past),
        r#"Error RU6 16.jig:5:5 `"17.jig"`: `17.jig` would be level 17 of `use`; 16 is the most"#.to_owned() + "\n"
    );
}

#[test]
fn hidden_characters_by_the_thousand_are_few_findings() {
    let reading = read_text(&format!("{HEAD}{}", "# \u{1}\n".repeat(10_000)));
    assert_eq!(reading.findings.len(), limits::HIDDEN_CHARACTERS);
}

/// Twice the lines take about twice the time. Generous, since other tests run beside it: what is looked for is
/// work that grows with the square.
#[test]
fn reading_takes_time_by_the_line() {
    let text = |count: usize| {
        let line =
            "idle start at top step 25 until all spin, at most 1200, for 2 s, in 5 starts, then add 10\nkeep it\n";
        format!("{HEAD}given top default 1100\n{}", line.repeat(count))
    };
    let time = |count: usize| {
        let text = text(count);
        (0..3)
            .map(|_| {
                let begun = std::time::Instant::now();
                let reading = read_text(&text);
                assert_eq!(reading.findings.len(), count);
                begun.elapsed()
            })
            .min()
            .unwrap()
    };
    let (few, many) = (time(100), time(1600));
    assert!(many < few * 16 * 5, "{few:?} for 200 lines, {many:?} for 3,200");
}
