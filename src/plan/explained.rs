//! The codes of refusals explained: as the finding that a check tells of the same, or with examples of their own.
//!
//! Promises: every code of `problem` is here or in `grammar/refusals.md`, which a test checks. Must not be here: what is
//! refused and when.

use crate::language::explain::{Explained, explain as of_finding, section};

const PAGE: &str = include_str!("../../grammar/refusals.md");

/// Refusals that a check tells too, where it has the sheet, the card or the value that the plan has: each with its finding.
const AS_FOUND: &[(&str, &str)] = &[
    ("plan-part", "RH6"),
    ("plan-waiting", "RG8"),
    ("plan-other-board", "BB1"),
    ("plan-motor-count", "BB2"),
    ("plan-layout", "BB2"),
    ("plan-no-motor-run", "BB6"),
    ("plan-no-word", "BW4"),
    ("plan-unknown-word", "BW1"),
    ("plan-covered", "BW5"),
    ("plan-has-statement", "BW2"),
    ("plan-value", "BV1"),
    ("plan-binding", "BB3"),
    ("plan-no-switch", "CS1"),
    ("plan-no-position", "CS3"),
    ("plan-position-count", "KS2"),
    ("plan-band", "KS3"),
    ("plan-arm-at-rest", "CF1"),
    ("plan-arm-momentary", "CF6"),
    ("plan-arm-on-link-loss", "CF4"),
    ("plan-props", "CM1"),
    ("plan-no-power-cycle", "CM3"),
    ("plan-motors-rest", "BB7"),
    ("plan-search-by-hand", "CI7"),
    ("plan-no-step", "CI1"),
    ("plan-no-values", "CI3"),
    ("plan-too-many-values", "CI4"),
    ("plan-above-ceiling", "CI5"),
    ("plan-too-long", "CI5"),
    ("plan-too-many-starts", "CI5"),
    ("plan-search-unit", "BV3"),
    ("plan-fixed-channels", "BV1"),
    ("plan-no-cells", "CB4"),
    ("plan-expect-fails", "CV2"),
    ("plan-signal-too-slow", "CM2"),
];

/// Every code of a refusal.
pub fn codes() -> impl Iterator<Item = &'static str> {
    let own = PAGE.split("\n## ").skip(1).filter_map(|section| section.lines().next());
    AS_FOUND.iter().map(|(code, _)| *code).chain(own)
}

/// A refusal with all that is known of it, its code written in whatever case.
#[must_use]
pub fn explain(code: &str) -> Option<Explained> {
    let code = codes().find(|known| known.eq_ignore_ascii_case(code))?;
    if let Some((_, finding)) = AS_FOUND.iter().find(|(known, _)| *known == code) {
        let Explained { about, bad, good, .. } = of_finding(finding)?;
        return Some(Explained { code, about: format!("{about} A check tells it as {finding}.").into(), bad, good });
    }
    let (about, bad, good) = section(PAGE, code)?;
    Some(Explained { code, about: about.into(), bad, good })
}
