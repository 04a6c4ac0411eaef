//! Mistakes of people who write by guessing (`list.toml`), graded: is the place right, is the cause clear, is the fix
//! offered that mends it. Of each sixty, 60 have their place, 57 a clear cause, 50 a fix.
//!
//! A finding that names two causes for one mistake, or two findings for it, is not clear. A fix counts where the
//! recipe, with all fixes applied that are offered for the mistake, is the one that was meant, and checks clean.

use super::{HEAD, WORDS};
use quadjig::board::shipped;
use quadjig::language::finding::{Finding, Severity};
use quadjig::language::format::format;
use quadjig::language::read;
use quadjig::language::sources::Memory;
use quadjig::plan::checks::reading;
use std::fmt::Write as _;
use std::path::Path;

const BASE: &str = include_str!("base.jig");

#[derive(serde::Deserialize)]
struct List {
    mistake: Vec<Mistake>,
}

#[derive(serde::Deserialize)]
struct Mistake {
    line: String,
    wrong: String,
    says: Vec<String>,
    fixed: Option<String>,
}

/// Errors and warnings of a whole recipe, checked with the sheet of its board.
pub(super) fn check(text: &str) -> Vec<Finding> {
    let read = read(&Memory::of([("test.jig", text)]), Path::new("test.jig"), &[], WORDS);
    let sheet = shipped::sheet("Finch").unwrap().unwrap();
    let sheets = read.recipe.as_ref().is_some_and(|r| r.boards.iter().any(|b| b.value == "Finch")).then_some(sheet);
    let mut found = reading(&read, sheets.as_slice(), None);
    found.retain(|finding| finding.severity > Severity::Hint);
    found
}

/// The base with other lines in the place of one.
pub(super) fn instead(line: &str, other: &str) -> String {
    let (line, other) = (format!("\n{line}\n"), format!("\n{}\n", other.trim()));
    let base = format!("\n{BASE}");
    assert!(base.contains(&line), "{line}");
    base.replacen(&line, &other, 1).split_off(1)
}

fn apply(text: &str, findings: &[Finding]) -> String {
    let mut fixes: Vec<_> = findings.iter().filter_map(|finding| finding.fixes.first()).collect();
    fixes.sort_by_key(|fix| std::cmp::Reverse(fix.span.range.start));
    let mut text = text.to_owned();
    for fix in fixes {
        text.replace_range(fix.span.range.clone(), &fix.replacement);
    }
    text
}

#[derive(Default)]
struct Grade {
    place: usize,
    cause: usize,
    fix: usize,
}

#[test]
fn mistakes_are_told_where_they_stand_and_how_they_are_mended() {
    let list: List = toml::from_str(include_str!("list.toml")).unwrap();
    assert_eq!(check(BASE), [], "the base has nothing wrong");
    let mut grade = Grade::default();
    let mut missed = String::new();
    for mistake in &list.mistake {
        let marked = instead(&mistake.line, &mistake.wrong);
        let (from, to) = (marked.find('«').unwrap(), marked.find('»').unwrap() - '«'.len_utf8());
        let text = marked.replace(['«', '»'], "");
        let found = check(&text);
        let place = found.first().is_some_and(|finding| (from..=to).contains(&finding.span.range.start));
        let told = found.iter().fold(String::new(), |mut told, finding| {
            write!(told, "{}", finding.message).unwrap();
            finding.hints.iter().for_each(|hint| write!(told, "\n    {hint}").unwrap());
            finding.fixes.iter().for_each(|fix| write!(told, "\n    -> {}", fix.title).unwrap());
            told
        });
        let heard = told.to_lowercase();
        let cause = found.len() == 1 && mistake.says.iter().all(|says| heard.contains(&says.to_lowercase()));
        let mended = apply(&text, &found);
        let fix = mistake.fixed.as_ref().is_some_and(|fixed| {
            let meant = instead(&mistake.line, fixed);
            format(&mended) == format(&meant) && check(&mended).is_empty()
        });
        let no_fix = mistake.fixed.is_none() && found.iter().all(|finding| finding.fixes.is_empty());
        grade.place += usize::from(place);
        grade.cause += usize::from(cause);
        grade.fix += usize::from(fix);
        if !(place && cause && (fix || no_fix)) {
            let said = |good: bool, word: &'static str| if good { "" } else { word };
            writeln!(
                missed,
                "{}{}{}{}\n    {} findings: {told}",
                mistake.wrong.trim(),
                said(place, " [place]"),
                said(cause, " [cause]"),
                said(fix || no_fix, " [fix]"),
                found.len(),
            )
            .unwrap();
        }
    }
    let Grade { place, cause, fix } = grade;
    let of = list.mistake.len();
    assert_eq!(of, 90);
    assert!(
        place == of && cause * 60 >= of * 57 && fix * 60 >= of * 50,
        "place {place}, cause {cause}, fix {fix} of {of}\n{missed}"
    );
}

/// Each phrasing is mended to what it means, by the fix of its first finding.
#[test]
fn other_phrasings_are_mended_to_what_they_mean() {
    let mut wrong = String::new();
    let lines = include_str!("phrasings.txt").lines().filter(|line| !line.starts_with('#') && !line.is_empty());
    for line in lines {
        let (written, meant) = line.split_once(" =>").unwrap();
        let text = format!("{HEAD}{written}\n");
        let found = format(&text).unwrap_err();
        let mended = apply(&text, &found);
        let meant = meant.trim().replace("\\n", "\n");
        let good =
            if meant.is_empty() { mended == text } else { format(&mended) == format(&format!("{HEAD}{meant}\n")) };
        if !good {
            writeln!(wrong, "{line}\n    {}", mended.strip_prefix(HEAD).unwrap().trim()).unwrap();
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}
