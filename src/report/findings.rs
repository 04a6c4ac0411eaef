//! Findings as text for people, as plain lines for screen readers, and as JSON for programs.
//!
//! Promises: all three say the same; whatever came from a recipe has passed the gate; columns
//! count characters from 1. Must not be here: what is wrong (see the checks), exit codes.

use super::gate;
use crate::board::document::load::LoadError;
use crate::board::document::{DocumentError, DocumentFault};
use crate::language::finding::{Finding, Fix, SESSION, Severity};
use crate::language::recipe::File;
use crate::language::span::{FileId, Place, Span};
use crate::plan::titles::count;
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};
use serde::Serialize;
use std::fmt::Write;

/// Where the lines of each file begin, so that a place is found without counting from the top.
#[derive(Debug)]
pub struct Places<'a> {
    files: &'a [File],
    starts: Vec<Vec<usize>>,
}

impl<'a> Places<'a> {
    /// Looks through the files once.
    #[must_use]
    pub fn new(files: &'a [File]) -> Self {
        let lines = |text: &str| std::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).collect();
        Self { files, starts: files.iter().map(|file| lines(&file.text)).collect() }
    }

    /// The place of a span; columns count characters from 1, `end_column` is after the last one.
    #[must_use]
    pub fn place(&self, span: &Span) -> Place {
        let file = self.files.get(span.file.0).map_or_else(String::new, |file| file.name.clone());
        let (line, column) = self.line_column(span, span.range.start);
        let (end_line, end_column) = self.line_column(span, span.range.end);
        Place { file, line, column, end_line, end_column }
    }

    fn line_column(&self, span: &Span, offset: usize) -> (usize, usize) {
        let (Some(file), Some(starts)) = (self.files.get(span.file.0), self.starts.get(span.file.0)) else {
            return (1, 1);
        };
        let offset = offset.min(file.text.len());
        let line = starts.partition_point(|start| *start <= offset);
        let before = file.text.get(starts[line - 1]..offset).unwrap_or_default();
        (line, before.chars().count() + 1)
    }

    /// The whole lines that the spans of one file touch, and the number of the first.
    fn lines<'s>(&self, spans: impl Iterator<Item = &'s Span> + Clone) -> Option<(std::ops::Range<usize>, usize)> {
        let file = spans.clone().next()?.file.0;
        let (text, starts) = (&self.files.get(file)?.text, &self.starts[file]);
        let first = spans.clone().map(|span| span.range.start).min()?.min(text.len());
        let last = spans.map(|span| span.range.end).max()?.min(text.len());
        let line = starts.partition_point(|start| *start <= first);
        let end = text[last..].find('\n').map_or(text.len(), |at| last + at);
        Some((starts[line - 1]..end, line))
    }
}

/// The word of a severity.
#[must_use]
pub fn word(severity: Severity) -> &'static str {
    match severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
        Severity::Hint => "hint",
    }
}

/// How findings are shown as text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Look {
    /// With the lines of the recipe and marks below them.
    #[default]
    Marked,
    /// The same in colour.
    Coloured,
    /// One fact a line, without pictures.
    Plain,
}

impl Look {
    /// Plain where that is asked for, else in colour where that is.
    #[must_use]
    pub fn of(plain: bool, colour: bool) -> Self {
        match (plain, colour) {
            (true, _) => Self::Plain,
            (false, true) => Self::Coloured,
            (false, false) => Self::Marked,
        }
    }
}

/// Findings about the files of one recipe, as text. Every finding ends in an empty line.
#[must_use]
pub fn text(files: &[File], findings: &[Finding], look: Look) -> String {
    let places = Places::new(files);
    let mut out = String::new();
    for finding in findings {
        out.push_str(&match look {
            Look::Plain => plain(&places, finding),
            Look::Marked => marked(&places, finding, &Renderer::plain()),
            Look::Coloured => marked(&places, finding, &Renderer::styled()),
        });
        out.push('\n');
    }
    out
}

/// One finding with the lines that it points at.
fn marked(places: &Places<'_>, finding: &Finding, renderer: &Renderer) -> String {
    let level = match finding.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
        Severity::Hint => Level::HELP.with_name("hint"),
    };
    let title = level.primary_title(gate::line(&finding.message).into_owned()).id(finding.code);
    let mut group = Group::with_title(title);
    for shown in excerpts(places, finding) {
        let spans = shown.iter().map(|mark| mark.span);
        let Some((range, line)) = places.lines(spans) else { continue };
        if range.len() > EXCERPT {
            let place = places.place(shown[0].span);
            let origin = Origin::path(gate::line(&place.file).into_owned()).line(place.line).char_column(place.column);
            group = group.element(origin);
            continue;
        }
        let File { name, text } = &places.files[shown[0].span.file.0];
        let source = gate::Escaped::new(&text[range.clone()]);
        let at =
            |span: &Span| source.offset(span.range.start - range.start)..source.offset(span.range.end - range.start);
        let mut snippet = Snippet::source(source.text.clone()).line_start(line).fold(true);
        // What was typed is its own place.
        if name != SESSION {
            snippet = snippet.path(gate::line(name).into_owned());
        }
        for mark in shown {
            snippet = snippet.annotation(match mark.words {
                None => AnnotationKind::Primary.span(at(mark.span)),
                Some(words) => AnnotationKind::Context.span(at(mark.span)).label(gate::line(words).into_owned()),
            });
        }
        group = group.element(snippet);
    }
    for advice in advice(finding) {
        group = group.element(Level::HELP.with_name("do").message(gate::line(advice).into_owned()));
    }
    format!("{}\n", renderer.render(&[group]))
}

/// A place that a finding points at; without words it is the finding's own.
#[derive(Debug, Clone, Copy)]
struct Mark<'f> {
    span: &'f Span,
    words: Option<&'f str>,
}

/// Places of one finding that are shown in one excerpt: those near its own, then each other by
/// itself, so that no excerpt grows with the recipe.
fn excerpts<'f>(places: &Places<'_>, finding: &'f Finding) -> Vec<Vec<Mark<'f>>> {
    let line = |span: &Span| places.line_column(span, span.range.start).0;
    let own = line(&finding.span);
    let mut all = vec![vec![Mark { span: &finding.span, words: None }]];
    for (span, words) in &finding.also {
        let mark = Mark { span, words: Some(words) };
        let near = span.file == finding.span.file && line(span).abs_diff(own) <= NEAR;
        if near { all[0].push(mark) } else { all.push(vec![mark]) }
    }
    all
}

/// More bytes of lines than this are no excerpt that anybody reads: then the place alone is told. A file with no more
/// than its lines' limit stays well below.
const EXCERPT: usize = 16 * 1024;

/// How many lines apart two places may be and still share an excerpt.
const NEAR: usize = 40;

/// One finding, one fact a line.
fn plain(places: &Places<'_>, finding: &Finding) -> String {
    let mut out = String::new();
    let place = places.place(&finding.span);
    // Writing into a string cannot fail.
    let _ = writeln!(out, "{}: {}", word(finding.severity), gate::line(&finding.message));
    let _ = writeln!(out, "code: {}", finding.code);
    let _ = writeln!(out, "place: {}", spoken(&place));
    for (span, words) in &finding.also {
        let _ = writeln!(out, "also: {}: {}", spoken(&places.place(span)), gate::line(words));
    }
    for advice in advice(finding) {
        let _ = writeln!(out, "do: {}", gate::line(advice));
    }
    out
}

fn spoken(place: &Place) -> String {
    format!("{}, line {}, column {}", gate::line(&place.file), place.line, place.column)
}

/// The hints, then what an editor could do for the reader, where no hint says so already.
fn advice(finding: &Finding) -> impl Iterator<Item = &str> {
    let said = |fix: &&Fix| {
        let replacement = format!("`{}`", fix.replacement.trim_end());
        finding.hints.iter().any(|hint| hint.contains(&replacement))
    };
    let fixes = finding.fixes.iter().filter(move |fix| !said(fix)).map(|fix| fix.title.as_str());
    finding.hints.iter().map(String::as_str).chain(fixes)
}

/// What is wrong with a document, as findings with a code; `file` is the first of the files that they are shown with.
#[must_use]
pub fn of_document(code: &'static str, file: &File, error: &LoadError) -> Vec<Finding> {
    let LoadError::Document(DocumentError { faults }) = error else {
        return vec![Finding::error(code, Span::default(), error.to_string())];
    };
    let at = |line: usize, column: usize| {
        let start = file.text.split_inclusive('\n').take(line - 1).map(str::len).sum::<usize>();
        let within = file.text.get(start..).unwrap_or_default();
        let end = within.find('\n').unwrap_or(within.len());
        start + within[..end].char_indices().nth(column - 1).map_or(end, |(at, _)| at)
    };
    let one = |fault: &DocumentFault| {
        let start = at(fault.line.max(1), fault.column.max(1));
        let finding = Finding::error(code, Span { file: FileId(0), range: start..start }, fault.problem.to_string());
        fault.problem.hint().into_iter().fold(finding, Finding::hint)
    };
    faults.iter().map(one).collect()
}

/// How many findings of each severity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Count {
    /// Errors: the recipe cannot be used.
    pub errors: usize,
    /// Warnings.
    pub warnings: usize,
    /// Hints.
    pub hints: usize,
}

impl Count {
    /// Counts.
    #[must_use]
    pub fn of<'f>(findings: impl IntoIterator<Item = &'f Finding>) -> Self {
        let mut count = Self::default();
        for finding in findings {
            match finding.severity {
                Severity::Error => count.errors += 1,
                Severity::Warning => count.warnings += 1,
                Severity::Hint => count.hints += 1,
            }
        }
        count
    }
}

impl std::ops::AddAssign for Count {
    fn add_assign(&mut self, other: Self) {
        self.errors += other.errors;
        self.warnings += other.warnings;
        self.hints += other.hints;
    }
}

impl std::fmt::Display for Count {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let Self { errors, warnings, hints } = *self;
        write!(f, "{}, {}, {}", count(errors, "error"), count(warnings, "warning"), count(hints, "hint"))
    }
}

/// A finding as JSON; see `commands.md` for the fields.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FindingJson {
    /// Stable short code.
    pub code: &'static str,
    /// `error`, `warning` or `hint`.
    pub severity: Severity,
    /// What would happen at the bench.
    pub message: String,
    /// What to do; what the replacements do stands here too.
    pub hints: Vec<String>,
    /// Where.
    pub at: Place,
    /// Other places that belong to it.
    pub also: Vec<AlsoJson>,
    /// Replacements.
    pub fixes: Vec<FixJson>,
}

/// Another place of a finding.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct AlsoJson {
    /// What stands there.
    pub message: String,
    /// Where.
    pub at: Place,
}

/// A replacement.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FixJson {
    /// What it does.
    pub title: String,
    /// What it replaces; empty where it inserts.
    pub at: Place,
    /// With what.
    pub replacement: String,
}

/// Findings about the files of one recipe, as JSON values.
#[must_use]
pub fn json(files: &[File], findings: &[Finding]) -> Vec<FindingJson> {
    let places = Places::new(files);
    let one = |finding: &Finding| FindingJson {
        code: finding.code,
        severity: finding.severity,
        message: finding.message.clone(),
        hints: advice(finding).map(str::to_owned).collect(),
        at: places.place(&finding.span),
        also: finding
            .also
            .iter()
            .map(|(span, message)| AlsoJson { message: message.clone(), at: places.place(span) })
            .collect(),
        fixes: finding
            .fixes
            .iter()
            .map(|fix| FixJson {
                title: fix.title.clone(),
                at: places.place(&fix.span),
                replacement: fix.replacement.clone(),
            })
            .collect(),
    };
    findings.iter().map(one).collect()
}
