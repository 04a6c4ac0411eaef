//! One cause, one finding: what only follows from another finding is left out, and what has one cause is one.
//!
//! Promises: a finding of something missing is left out only where a line that could not be read seems to say it,
//! one of something unused only where a fix of another finding would use it; every other one stands, or is a further
//! place of one that does. Must not be here: what is wrong.

use super::codes;
use crate::language::Reading;
use crate::language::codes as reading_codes;
use crate::language::finding::{Finding, Severity};
use crate::language::span::{FileId, Span};
use std::collections::{HashMap, HashSet};

/// Findings of something missing, and words that stand in the line that would have said it.
const MISSING: &[(&str, &[&str])] = &[
    (codes::UNKNOWN_SWITCH, &["switch"]),
    (codes::SWITCH_USED_EARLY, &["switch"]),
    (codes::UNUSED_SWITCH, &["bind", "switch"]),
    (codes::PROPS_OFF_MISSING, &["require", "props"]),
    (codes::CELLS_MISSING, &["battery", "cells"]),
    (codes::SPIN_WITHOUT_ARM, &["bind", "arm"]),
    (codes::NOT_TESTED, &["test"]),
    (codes::TEST_BEFORE_KEEP, &["keep"]),
    (codes::POWER_CYCLE_MISSING, &["power", "cycle", "battery", "restart", "reboot", "reset"]),
    (codes::FRAME_MISMATCH, &["craft"]),
    (reading_codes::UNKNOWN_NAME, &["given"]),
];

/// Findings that, about the same word, have one cause wherever they stand.
const ONE_WORD: &[&str] = &[
    codes::UNKNOWN_SWITCH,
    codes::SWITCH_USED_EARLY,
    codes::UNKNOWN_FUNCTION,
    codes::UNKNOWN_WORD,
    reading_codes::UNKNOWN_NAME,
];

/// The findings that have a cause of their own, sorted.
#[must_use]
pub fn settled(mut findings: Vec<Finding>, reading: &Reading) -> Vec<Finding> {
    if reading.recipe.as_ref().is_some_and(|recipe| recipe.is_part) {
        leave_open(&mut findings);
    }
    // A file that tells of a whole radio serves recipes that need a part of it.
    for finding in findings.iter_mut().filter(|f| f.code == codes::UNUSED_SWITCH && f.span.file != FileId(0)) {
        finding.severity = Severity::Hint;
    }
    let text = |span: &Span| reading.files.get(span.file.0).and_then(|file| file.text.get(span.range.clone()));
    let fixed: Vec<(&str, String)> = findings
        .iter()
        .flat_map(|finding| finding.fixes.iter().map(|fix| (finding.code, fix.replacement.clone())))
        .collect();
    // What was mended to be read further is told as what it was.
    let told: Vec<(&str, Span)> = findings
        .iter()
        .filter(|finding| {
            finding.code.starts_with("RS") && finding.severity == Severity::Error && !finding.fixes.is_empty()
        })
        .map(|finding| (finding.code, finding.fixes[0].span.clone()))
        .collect();
    let unused = [codes::UNUSED_SWITCH, codes::UNUSED_GIVEN];
    let in_name = |c: char| c.is_alphanumeric() || c == '-';
    let names: HashSet<(FileId, &str)> = (reading.unread.iter())
        .flat_map(|span| {
            text(span).into_iter().flat_map(|line| line.split(|c| !in_name(c))).map(|name| (span.file, name))
        })
        .collect();
    let lines: Vec<&str> = reading.unread.iter().filter_map(text).collect();
    let words = |line: &&str| line.split(|c: char| !c.is_alphanumeric()).map(str::to_owned).collect::<Vec<_>>();
    let said: HashSet<String> = lines.iter().flat_map(words).collect();
    // What no cell reaches no board takes.
    let too_high: Vec<Span> =
        findings.iter().filter(|f| f.code == codes::CELL_VOLTS_HIGH).map(|finding| finding.span.clone()).collect();
    // What a file that could not be used holds, nobody knows.
    let unused_file = lines.iter().any(|line| words(line).first().is_some_and(|first| first == "use"));
    findings.retain(|finding| {
        let would_be_used = unused.contains(&finding.code)
            && fixed.iter().any(|(code, word)| *code != finding.code && text(&finding.span) == Some(word));
        let judged_twice = (ONE_WORD.contains(&finding.code) || finding.code == codes::VALUE_NOT_OFFERED)
            && told.iter().any(|(code, span)| *code != finding.code && within(&finding.span, span));
        let said_unread = finding.code == codes::UNUSED_GIVEN
            && text(&finding.span).is_some_and(|name| {
                // Its words may be written apart.
                names.contains(&(finding.span.file, name)) || name.split('-').all(|word| said.contains(word))
            });
        let said_by_text = finding.code == codes::BEYOND_SHEET && too_high.contains(&finding.span);
        !would_be_used && !judged_twice && !said_unread && !said_by_text && !missing(finding, &said, unused_file)
    });
    super::finding::sort(&mut findings);
    findings.dedup();
    let mut first: HashMap<(&str, Severity, Option<String>), usize> = HashMap::new();
    let mut all: Vec<Finding> = Vec::with_capacity(findings.len());
    for finding in findings {
        let key = match finding.code {
            codes::PROPS_OFF_MISSING => None,
            code if ONE_WORD.contains(&code) => text(&finding.span).map(str::to_owned),
            _ => {
                all.push(finding);
                continue;
            }
        };
        if let Some(at) = first.get(&(finding.code, finding.severity, key.clone())) {
            let Some(before) = all.get_mut(*at) else { continue };
            if before.also.len() < MOST {
                before.also.push((finding.span, "here as well".to_owned()));
            }
            if key.is_some() {
                before.fixes.extend(finding.fixes);
            }
            continue;
        }
        first.insert((finding.code, finding.severity, key), all.len());
        all.push(finding);
    }
    all
}

/// Findings of what a recipe that uses this one may bring, and what that is.
const BROUGHT: &[(&str, &str)] = &[
    (codes::UNKNOWN_SWITCH, "where this switch is"),
    (codes::PROPS_OFF_MISSING, "that the propellers are off before this"),
    (codes::CELLS_MISSING, "how many cells the pack has"),
    (codes::SPIN_WITHOUT_ARM, "which switch arms"),
    (codes::NOT_TESTED, "a test of this"),
    (codes::TEST_BEFORE_KEEP, "the `keep` before this test"),
];

/// In a part of a recipe, what the whole may bring is said in the one hint that it is a part.
fn leave_open(findings: &mut Vec<Finding>) {
    let brought = |finding: &Finding| BROUGHT.iter().find(|(code, _)| *code == finding.code).map(|(_, words)| *words);
    let (open, rest): (Vec<Finding>, Vec<Finding>) = std::mem::take(findings)
        .into_iter()
        .partition(|finding| brought(finding).is_some() || finding.code == codes::UNDECIDED);
    *findings = rest;
    for finding in findings.iter_mut().filter(|finding| finding.code == codes::UNUSED_SWITCH) {
        finding.severity = Severity::Hint;
    }
    let Some(hint) = findings.iter_mut().find(|finding| finding.code == reading_codes::LEFT_OUT) else { return };
    for finding in open {
        match brought(&finding) {
            Some(words) => hint.also.push((finding.span, words.to_owned())),
            None => hint.also.extend(finding.also),
        }
    }
    hint.also.sort_by_key(|(span, _)| (span.file, span.range.start));
    hint.also.dedup();
    hint.also.truncate(MOST);
}

fn within(inner: &Span, outer: &Span) -> bool {
    let inside = outer.range.start <= inner.range.start && inner.range.end <= outer.range.end;
    inner.file == outer.file && inside && !inner.range.is_empty()
}

/// Further places of one cause that are shown.
const MOST: usize = 12;

/// Whether a finding only says that something is missing which a line that was not read seems to hold.
fn missing(finding: &Finding, said: &HashSet<String>, unused_file: bool) -> bool {
    let words = MISSING.iter().find(|(code, _)| *code == finding.code).map(|(_, words)| words);
    words.is_some_and(|words| unused_file || words.iter().any(|word| said.contains(*word)))
}
