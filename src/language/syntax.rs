//! One logical line to its parse tree, or to a finding in words of the language.
//!
//! Must not be here: how lines are split (see `lines`), what a tree means (see `lower`).

use super::codes;
use super::complete;
use super::finding::Finding;
use super::grammar::{self, Edition1, Rule, STARTS, expectation};
use super::known::Known;
use super::lines::Line;
use super::mend::{Mended, Outcome, found, mend, parts};
use super::span::{FileId, Span};
use super::tree::{Pair, Tree};
use crate::measure::nearest::nearest;
use pest::Parser;
use pest::error::{ErrorVariant, InputLocation};
use std::ops::Range;

/// A parsed statement and where its text begins in its file.
#[derive(Debug, Clone)]
pub(crate) struct Parsed<'a> {
    pub file: FileId,
    /// Byte in the file of the statement's first character.
    pub at: usize,
    /// The whole statement's place.
    pub span: Span,
    tree: Tree<'a>,
    /// Where the text was mended before it parsed: its mend, and the byte of the mended text where the tree begins.
    pub mended: Option<(&'a Mended, usize)>,
}

impl Parsed<'_> {
    /// The whole statement.
    pub fn root(&self) -> Pair<'_> {
        self.tree.root()
    }

    /// The place of a part of the tree, in the text as it was written.
    pub fn place(&self, pair: Pair<'_>) -> Span {
        let Some((mended, from)) = self.mended else { return place(self.file, self.at, pair) };
        let Span { range, .. } = place(self.file, from, pair);
        let start = mended.written(range.start, mended.was.start);
        let end = mended.written(range.end, mended.was.end).max(start);
        Span { file: self.file, range: self.at + start..self.at + end }
    }
}

/// The place of a pair in a line that begins at `at`. Blanks at its end, which a rule with optional parts can
/// take in, are left out.
pub(crate) fn place(file: FileId, at: usize, pair: Pair<'_>) -> Span {
    let end = pair.start() + pair.as_str().trim_end().len();
    Span { file, range: at + pair.start()..at + end }
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
        Ok(pairs) => match Tree::of(text, pairs) {
            Some(tree) => Ok(Parsed { file, at, span, tree, mended: None }),
            None => Err(Box::new(Broken { offset: 0, finding: unknown_start(file, at, text), words: Vec::new() })),
        },
        Err(error) => Err(Box::new(broken(file, at, text, &error))),
    }
}

/// Parses many lines, each by itself; where they are many enough to gain by it, on several cores. Each core's stay
/// together, as they need a megabyte and more.
pub(crate) fn parse_each<'a>(
    file: FileId,
    source: &'a str,
    lines: &[&'a Line],
) -> impl Iterator<Item = Result<Parsed<'a>, Box<Broken>>> + use<'a> {
    let each = |lines: &[&'a Line]| lines.iter().map(|line| parse(file, source, line)).collect::<Vec<_>>();
    if lines.len() < MANY {
        return vec![each(lines)].into_iter().flatten();
    }
    let cores = std::thread::available_parallelism().map_or(1, usize::from).min(MOST_CORES);
    let (own, others) = lines.split_at(lines.len().div_ceil(cores));
    std::thread::scope(|scope| {
        let parts = others.chunks(own.len()).map(|part| scope.spawn(move || each(part))).collect::<Vec<_>>();
        let mut all = vec![each(own)];
        all.extend(parts.into_iter().map(|part| part.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))));
        all.into_iter().flatten()
    })
}

/// How a hint begins that says how a statement is written, or gives no more than an example.
pub(super) const WRITTEN: &str = "this is written";
/// See [`WRITTEN`].
pub(super) const EXAMPLE: &str = "an example";

/// Lines from which it is worth a thread: some milliseconds of work.
const MANY: usize = 2_000;
/// Threads that parse one file, at most.
const MOST_CORES: usize = 4;

/// The statements of a line that was mended.
pub(crate) fn parse_mended<'a>(file: FileId, line: &Line, mended: &'a Mended) -> Vec<Parsed<'a>> {
    let at = line.range.start;
    let parsed = |(from, code): (usize, &'a str)| {
        let tree = Tree::of(code, Edition1::parse(Rule::line, code).ok()?)?;
        let start = mended.written(from, mended.was.start);
        let end = mended.written(from + code.len(), mended.was.end).max(start);
        let span = Span { file, range: at + start..at + end };
        Some(Parsed { file, at, span, tree, mended: Some((mended, from)) })
    };
    parts(&mended.text).filter_map(parsed).collect()
}

/// The finding about a line that does not parse, with what its writer most likely meant.
pub(crate) fn explain(source: &str, line: &Line, broken: Broken) -> (Finding, Option<Mended>) {
    let Broken { mut finding, words, .. } = broken;
    let (text, at) = (line.text(source), line.range.start);
    let file = finding.span.file;
    let place = |range: &Range<usize>| Span { file, range: at + range.start..at + range.end };
    let mut told = false;
    let mended = match mend(text) {
        Outcome::Mended(mended) => {
            finding.hints.clear();
            let found = text[mended.was.clone()].trim();
            if !found.is_empty() {
                let blanks = text[mended.was.clone()].len() - text[mended.was.clone()].trim_start().len();
                finding.span = place(&(mended.was.start + blanks..mended.was.start + blanks + found.len()));
            }
            if !mended.why.is_empty() {
                finding.message = format!("{}: {}", shown(found, &source[finding.span.range.clone()]), mended.why);
            }
            // Where comments stand between the words, only a person can mend.
            if !source[place(&mended.was).range].contains('\n') {
                let put = &mended.text[mended.is.clone()];
                finding = finding.replace(mended.title(text), place(&mended.was), put);
            }
            Some(mended)
        }
        Outcome::Told(range, why) => {
            finding.span = place(&range);
            why.clone_into(&mut finding.message);
            told = true;
            None
        }
        Outcome::Nothing => {
            if let Some(word) = nearest(&source[finding.span.range.clone()], words.iter().map(String::as_str)) {
                finding = finding.hint(format!("did you mean `{word}`?"));
            }
            None
        }
    };
    let meant = mended.as_ref().map_or(text, |mended| mended.text.as_str());
    match form_of(meant) {
        Some(form) => finding = finding.hint(form),
        // Nothing is like it: then what there is.
        None if finding.code == codes::UNKNOWN_STATEMENT && !told && finding.hints.is_empty() => {
            finding = finding.hint(format!("a statement begins with {}", STARTS.join(", ")));
        }
        None => {}
    }
    (finding, mended)
}

/// Whether a statement that breaks off, at a backslash or without a comma, is whole with the text of the next line.
pub(crate) fn reads_on(above: &str, text: &str) -> bool {
    let above = above.trim_end_matches(['\\', ' ', '\t']);
    !above.is_empty() && Edition1::parse(Rule::line, &format!("{above}, {text}")).is_ok()
}

/// What stands there, or what it stands before.
fn shown(found: &str, before: &str) -> String {
    match (found, before) {
        ("", "") => "here".to_owned(),
        ("", before) => format!("before `{before}`"),
        (found, _) => format!("`{found}`"),
    }
}

/// How the statement that a text begins as is written, with an example; nothing where it begins as none.
pub(crate) fn form_of(text: &str) -> Option<String> {
    let mut words = text.split([' ', '\t', ',']).filter(|word| !word.is_empty());
    let first = words.next()?;
    let both = words.next().map_or_else(|| first.to_owned(), |second| format!("{first} {second}"));
    let begins = |example: &str, begin: &str| {
        example.strip_prefix(begin).is_some_and(|rest| !rest.starts_with(char::is_alphanumeric))
    };
    let example = |begin: &str| grammar::examples().find(|example| begins(example, begin));
    let (begin, example) = match example(&both) {
        Some(example) => (both.as_str(), example),
        None => (first, example(first)?),
    };
    // The lines of the head are too plain for a form.
    let form = complete::hint(begin, &Known::default()).filter(|_| begin != "board");
    let form = form.map(|form| format!("{begin} {form}").replace(" ,", ","));
    Some(match form {
        Some(form) if form != example => format!("{WRITTEN} `{form}`, such as `{example}`"),
        _ => format!("{EXAMPLE}: `{example}`"),
    })
}

/// A line that does not parse.
#[derive(Debug)]
pub(crate) struct Broken {
    /// Where in the line's text.
    pub offset: usize,
    pub finding: Finding,
    /// Words that could stand there.
    words: Vec<String>,
}

fn broken(file: FileId, at: usize, text: &str, error: &pest::error::Error<Rule>) -> Broken {
    let offset = match error.location {
        InputLocation::Pos(at) | InputLocation::Span((at, _)) => at,
    };
    // The furthest place reached may be just before blanks.
    let offset = offset + text[offset..].len() - text[offset..].trim_start().len();
    if offset == 0 {
        let words = STARTS.iter().map(|&word| word.to_owned()).collect();
        return Broken { offset, finding: unknown_start(file, at, text), words };
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
        let finding = Finding::error(codes::UNKNOWN_UNIT, span(found.len()), format!("`{found}` is no unit"))
            .hint(format!("units are {}", units.join(", ")));
        words = units;
        finding
    } else {
        let message = format!("`{found}` stands where {expected} was expected");
        Finding::error(codes::UNEXPECTED, span(found.len()), message)
    };
    Broken { offset, finding, words: words.into_iter().map(str::to_owned).collect() }
}

/// Whether the error stands right behind a number, at a word that is none of the expected ones nor like one.
fn after_unknown_unit(text: &str, offset: usize, words: &[&str]) -> bool {
    let before = text[..offset].trim_end();
    let found = found(&text[offset..]);
    !grammar::keywords().any(|word| word == found)
        && before.ends_with(|c: char| c.is_ascii_digit())
        && found.starts_with(char::is_alphabetic)
        && (before.len() == offset || nearest(found, words.iter().copied()).is_none())
}

fn unknown_start(file: FileId, at: usize, text: &str) -> Finding {
    let found = found(text);
    let span = Span { file, range: at..at + found.len() };
    let message = format!("no statement begins with `{found}`");
    Finding::error(codes::UNKNOWN_STATEMENT, span, message)
}

/// Adds the nearest known word as hint and fix.
pub(crate) fn nearest_fix(finding: Finding, span: &Span, found: &str, words: &[&str]) -> Finding {
    match nearest(found, words.iter().copied()) {
        Some(word) => {
            finding.hint(format!("did you mean `{word}`?")).replace(format!("write `{word}`"), span.clone(), word)
        }
        None => finding,
    }
}

/// `a`, `b` or `c`.
fn one_of(said: &[String]) -> String {
    match said {
        [] => "something else".to_owned(),
        [one] => one.clone(),
        [many @ .., last] => format!("{} or {last}", many.join(", ")),
    }
}
