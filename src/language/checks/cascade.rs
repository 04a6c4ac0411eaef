//! One cause, one finding: what only follows from another finding is left out, and what has one cause is one.
//!
//! Promises: a finding of something missing is left out only where a line that could not be read seems to say it,
//! one of something unused only where a fix of another finding would use it; every other one stands, or is a further
//! place of one that does. Must not be here: what is wrong.

use super::codes;
use crate::language::Reading;
use crate::language::codes as reading_codes;
use crate::language::finding::{Finding, Severity};
use crate::language::span::Span;
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
    (codes::POWER_CYCLE_MISSING, &["power", "cycle"]),
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
    let lines: Vec<&str> = reading.unread.iter().filter_map(text).collect();
    let words = |line: &&str| line.split(|c: char| !c.is_alphanumeric()).map(str::to_owned).collect::<Vec<_>>();
    let said: HashSet<String> = lines.iter().flat_map(words).collect();
    // What a file that could not be used holds, nobody knows.
    let unused_file = lines.iter().any(|line| words(line).first().is_some_and(|first| first == "use"));
    findings.retain(|finding| {
        let would_be_used = unused.contains(&finding.code)
            && fixed.iter().any(|(code, word)| *code != finding.code && text(&finding.span) == Some(word));
        let judged_twice = (ONE_WORD.contains(&finding.code) || finding.code == codes::VALUE_NOT_OFFERED)
            && told.iter().any(|(code, span)| *code != finding.code && within(&finding.span, span));
        !would_be_used && !judged_twice && !missing(finding, &said, unused_file)
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
