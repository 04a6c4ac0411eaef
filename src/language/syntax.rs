//! One logical line to its parse tree, or to a finding in words of the language.
//!
//! Must not be here: how lines are split (see `lines`), what a tree means (see `lower`).

use super::codes;
use super::finding::{Finding, Fix};
use super::grammar::{Edition1, Rule, STARTS, expectation};
use super::lines::Line;
use super::nearest::nearest;
use super::span::{FileId, Span};
use pest::Parser;
use pest::error::{ErrorVariant, InputLocation};
use pest::iterators::Pair;

/// A parsed statement and where its text begins in its file.
#[derive(Debug, Clone)]
pub(crate) struct Parsed<'a> {
    pub file: FileId,
    /// Byte in the file of the statement's first character.
    pub at: usize,
    /// The whole statement's place.
    pub span: Span,
    pub tree: Pair<'a, Rule>,
}

impl Parsed<'_> {
    /// The place of a part of the tree.
    pub fn place(&self, pair: &Pair<'_, Rule>) -> Span {
        place(self.file, self.at, pair)
    }
}

/// The place of a pair in a line that begins at `at`. Blanks at its end, which a rule with optional parts can
/// take in, are left out.
pub(crate) fn place(file: FileId, at: usize, pair: &Pair<'_, Rule>) -> Span {
    let span = pair.as_span();
    let end = span.start() + pair.as_str().trim_end().len();
    Span { file, range: at + span.start()..at + end }
}

/// Parses a statement.
///
/// # Errors
/// Where the line breaks off from the grammar, with what was expected there.
pub(crate) fn parse<'a>(file: FileId, source: &'a str, line: &'a Line) -> Result<Parsed<'a>, Box<Broken>> {
    let text = line.text(source);
    let at = line.range.start;
    let span = Span { file, range: line.range.clone() };
    match Edition1::parse(Rule::line, text) {
        Ok(mut pairs) => match pairs.next() {
            Some(tree) => Ok(Parsed { file, at, span, tree }),
            None => Err(Box::new(Broken { offset: 0, finding: unknown_start(file, at, text) })),
        },
        Err(error) => Err(Box::new(broken(file, at, text, &error))),
    }
}

/// A line that does not parse.
#[derive(Debug)]
pub(crate) struct Broken {
    /// Where in the line's text.
    pub offset: usize,
    pub finding: Finding,
}

fn broken(file: FileId, at: usize, text: &str, error: &pest::error::Error<Rule>) -> Broken {
    let offset = match error.location {
        InputLocation::Pos(at) | InputLocation::Span((at, _)) => at,
    };
    // The furthest place reached may be just before blanks.
    let offset = offset + text[offset..].len() - text[offset..].trim_start().len();
    if offset == 0 {
        return Broken { offset, finding: unknown_start(file, at, text) };
    }
    let positives = match &error.variant {
        ErrorVariant::ParsingError { positives, .. } => positives.as_slice(),
        ErrorVariant::CustomError { .. } => &[],
    };
    let (mut said, mut words) = (Vec::new(), Vec::new());
    for (text, begins) in positives.iter().map(|rule| expectation(*rule)) {
        if !said.contains(&text) {
            said.push(text);
            words.extend(begins);
        }
    }
    // A unit is worth a word only where nothing else would do: `1100` alone is mostly complete.
    if said.len() > 1 && !after_unknown_unit(text, offset, &words) {
        said.retain(|text| text != "a unit");
    }
    let expected = one_of(&said);
    let found = found(&text[offset..]);
    let span = |len: usize| Span { file, range: at + offset..at + offset + len };
    let finding = if found.is_empty() {
        Finding::error(codes::ENDS_EARLY, span(0), format!("the statement ends here; {expected} should follow"))
    } else if positives.contains(&Rule::unit) && after_unknown_unit(text, offset, &words) {
        let units: Vec<_> = super::units::Unit::SPELLINGS.iter().map(|(_, all)| all[0]).collect();
        nearest_fix(
            Finding::error(codes::UNKNOWN_UNIT, span(found.len()), format!("`{found}` is no unit"))
                .hint(format!("units are {}", units.join(", "))),
            &span(found.len()),
            found,
            &units,
        )
    } else {
        let message = format!("`{found}` stands where {expected} was expected");
        // Capitals where a word of any kind may stand.
        let lower = found.to_lowercase();
        if lower != found && positives.iter().any(|rule| matches!(rule, Rule::word | Rule::function | Rule::name)) {
            words.push(&lower);
        }
        nearest_fix(Finding::error(codes::UNEXPECTED, span(found.len()), message), &span(found.len()), found, &words)
    };
    Broken { offset, finding }
}

/// Whether the error stands right behind a number, at a word that is none of the expected ones nor like one.
fn after_unknown_unit(text: &str, offset: usize, words: &[&str]) -> bool {
    let before = text[..offset].trim_end();
    let found = found(&text[offset..]);
    before.ends_with(|c: char| c.is_ascii_digit())
        && found.starts_with(char::is_alphabetic)
        && (before.len() == offset || nearest(found, words.iter().copied()).is_none())
}

fn unknown_start(file: FileId, at: usize, text: &str) -> Finding {
    let found = found(text);
    let span = Span { file, range: at..at + found.len() };
    let message = format!("no statement begins with `{found}`");
    let finding = Finding::error(codes::UNKNOWN_STATEMENT, span.clone(), message);
    nearest_fix(finding, &span, found, STARTS)
}

/// Adds the nearest known word as hint and fix.
pub(crate) fn nearest_fix(finding: Finding, span: &Span, found: &str, words: &[&str]) -> Finding {
    match nearest(found, words.iter().copied()) {
        Some(word) => finding.hint(format!("did you mean `{word}`?")).fix(Fix {
            title: format!("write `{word}`"),
            span: span.clone(),
            replacement: word.to_owned(),
        }),
        None => finding,
    }
}

/// The word, number, string or sign at the start of a text.
fn found(text: &str) -> &str {
    let mut chars = text.char_indices();
    let Some((_, first)) = chars.next() else { return "" };
    let in_word = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_');
    let end = if first == '"' {
        let mut escaped = false;
        chars
            .find(|(_, c)| {
                let closes = *c == '"' && !escaped;
                escaped = *c == '\\' && !escaped;
                closes
            })
            .map_or(text.len(), |(at, _)| at + 1)
    } else if in_word(first) {
        chars.find(|(_, c)| !in_word(*c) && *c != '.').map_or(text.len(), |(at, _)| at)
    } else {
        first.len_utf8()
    };
    &text[..end]
}

/// `a`, `b` or `c`.
fn one_of(said: &[String]) -> String {
    match said {
        [] => "something else".to_owned(),
        [one] => one.clone(),
        [many @ .., last] => format!("{} or {last}", many.join(", ")),
    }
}
