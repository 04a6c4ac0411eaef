//! What is wrong with a statement is said at the prompt in the very words of `check`.

use crate::language::checks::BAD as OF_TEXT;
use crate::plan::checks::BAD as OF_SHEET;
use quadjig::bench::interactive::draft::{Draft, Kept, Origin, things};
use quadjig::board::radio_card::RadioCard;
use quadjig::board::sheet::{Settings, Sheet};
use quadjig::board::shipped;
use quadjig::language::finding::Finding;
use quadjig::language::sources::Memory;
use quadjig::plan::checks;
use std::collections::BTreeSet;
use std::fmt::Write;
use std::path::Path;

/// Codes that a prompt has no use for: a line of the head, a later line, what more statements may still answer, parameters, a second
/// value, which takes the place of the first, and what needs somebody at a prompt.
const NOT_HERE: &[&str] = &["BB10", "CS2", "CP1", "CS9", "CS10", "CO1", "CO2", "CV1", "CI7"];

/// Findings as they read, without their places: a prompt's text has other lines.
fn words(findings: &[Finding]) -> BTreeSet<(String, String, Vec<String>)> {
    findings
        .iter()
        .filter(|found| !NOT_HERE.contains(&found.code))
        .map(|found| (found.code.to_owned(), found.message.clone(), found.hints.clone()))
        .collect()
}

fn by_check(head: &str, body: &str, sheet: &Sheet) -> Vec<Finding> {
    let files = Memory::of([("bench.jig", format!("{head}{body}"))]);
    let reading = quadjig::board::vocabulary::read(&files, Path::new("bench.jig"), &[]);
    checks::reading(&reading, std::slice::from_ref(sheet), Some(&RadioCard::default()))
}

/// Types every statement; one that is refused is left out, as the bad line of a recipe is.
fn by_prompt(body: &str, sheet: &Sheet) -> Vec<Finding> {
    let mut draft = Draft::new("Bench", sheet);
    let mut found = Vec::new();
    let body = body.replace(",\n", ", ");
    for line in body.lines().filter(|line| !line.is_empty() && !line.starts_with('#')) {
        match draft.read(line, sheet, &RadioCard::default()) {
            Ok(ready) => {
                found.extend(ready.remarks.findings);
                let kept = Kept {
                    things: things(&ready.statement),
                    text: ready.text,
                    statement: ready.statement,
                    at: String::new(),
                    volts: None,
                    powered: false,
                    measured: Vec::new(),
                    left: Settings::new(),
                    origin: Origin::Hand,
                };
                draft.keep(ready.rest, kept);
            }
            Err(wrong) => found.extend(wrong.findings),
        }
    }
    found
}

#[test]
fn the_prompt_says_what_check_says() {
    let sheet = shipped::sheet("finch").unwrap().unwrap();
    let head = Draft::new("Bench", &sheet).head;
    let of_sheet = OF_SHEET.iter().filter(|(_, changed, _)| changed.is_none()).map(|(code, _, body)| (*code, *body));
    let (mut seen, mut wrong) = (BTreeSet::new(), String::new());
    for (code, body) in OF_TEXT.iter().copied().chain(of_sheet) {
        if NOT_HERE.contains(&code) {
            continue;
        }
        let (whole, typed) = (words(&by_check(&head, body, &sheet)), words(&by_prompt(body, &sheet)));
        assert!(whole.iter().any(|(found, ..)| found == code), "{code}: {whole:#?}");
        let here = |set: &BTreeSet<(String, String, Vec<String>)>| {
            set.iter().filter(|(found, ..)| found == code).cloned().collect::<Vec<_>>()
        };
        if here(&whole) != here(&typed) {
            writeln!(wrong, "{code}: {:#?}\n{:#?}", here(&whole), here(&typed)).unwrap();
        }
        seen.insert(code);
    }
    assert_eq!(wrong, "");
    assert!(seen.len() > 30, "{seen:?}");
}
