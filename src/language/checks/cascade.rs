//! Findings that only follow from a line that could not be read.
//!
//! A bad line is not in the typed recipe, so what it says seems to be missing. Promises: such a
//! finding is left out only where a bad line has the very words; every other one stands.

use super::codes;
use crate::language::Reading;
use crate::language::finding::{Finding, Severity};
use crate::language::span::Span;

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
];

/// Whether a finding only says that something is missing which a bad line seems to hold.
#[must_use]
pub fn follows(finding: &Finding, reading: &Reading) -> bool {
    let Some((_, words)) = MISSING.iter().find(|(code, _)| *code == finding.code) else { return false };
    let bad = reading.findings.iter().filter(|found| found.severity == Severity::Error);
    bad.filter_map(|found| line(reading, &found.span)).any(|line| {
        let mut said = line.split(|c: char| !c.is_alphanumeric());
        said.any(|word| words.contains(&word))
    })
}

/// The line in which a place begins.
fn line<'r>(reading: &'r Reading, span: &Span) -> Option<&'r str> {
    let text = &reading.files.get(span.file.0)?.text;
    let (before, after) = text.split_at_checked(span.range.start)?;
    let start = before.rfind('\n').map_or(0, |at| at + 1);
    let end = after.find('\n').map_or(text.len(), |at| span.range.start + at);
    text.get(start..end)
}
