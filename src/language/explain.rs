//! What a finding's code means, with a bad and a good example each.
//!
//! Promises: every code has both, from `grammar/findings.md`, which a test checks. Must not be here: what is wrong with
//! a recipe.

use super::{checks, codes};
use std::borrow::Cow;

/// The page of examples: a heading a code, then the bad one and the good one as fenced blocks.
const PAGE: &str = include_str!("../../grammar/findings.md");

/// A code explained.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Explained {
    /// The code.
    pub code: &'static str,
    /// What it means, in a sentence.
    pub about: Cow<'static, str>,
    /// What raises it.
    pub bad: Example,
    /// What does not.
    pub good: Example,
}

/// An example.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct Example {
    /// It is a recipe, or the lines of one behind a head; else words about one, a command or a document.
    pub is_recipe: bool,
    /// The lines.
    pub text: &'static str,
}

/// Every code with the line that explains it.
pub fn all() -> impl Iterator<Item = (&'static str, &'static str)> {
    codes::TABLE.iter().chain(checks::codes::TABLE).copied()
}

/// The line that explains a code.
#[must_use]
pub fn about(code: &str) -> Option<&'static str> {
    all().find(|(known, _)| *known == code).map(|(_, about)| about)
}

/// A code with all that is known of it, written in whatever case.
#[must_use]
pub fn explain(code: &str) -> Option<Explained> {
    let (code, about) = all().find(|(known, _)| known.eq_ignore_ascii_case(code))?;
    let (_, bad, good) = section(PAGE, code)?;
    Some(Explained { code, about: about.into(), bad, good })
}

/// What a page has of a code: the words below its heading, the bad example and the good one.
#[must_use]
pub fn section(page: &'static str, code: &str) -> Option<(&'static str, Example, Example)> {
    let section = page.split("\n## ").skip(1).find_map(|section| section.strip_prefix(code)?.strip_prefix('\n'))?;
    let mut blocks = section.split("\n```").skip(1).step_by(2).filter_map(|block| {
        let (language, text) = block.split_once('\n')?;
        Some(Example { is_recipe: language == "jig", text })
    });
    let about = section.split("Bad:").next()?.trim();
    Some((about, blocks.next()?, blocks.next()?))
}
