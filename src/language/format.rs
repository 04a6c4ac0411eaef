//! The formatter: one layout for every recipe.
//!
//! Promises: the meaning stays, every comment stays where it belongs, and formatting twice changes nothing
//! more. It works from logical lines and the leaves of their parse trees, so nothing that it does not know
//! can get lost. Must not be here: what statements mean.
//!
//! The layout: a statement begins at the margin, words stand one space apart, units are written one way, a
//! statement of over 100 columns goes on after its commas, four columns in; comments behind neighbouring
//! lines stand below each other; never two blank lines.

use super::codes;
use super::finding::{Finding, Severity, bound};
use super::grammar::Rule;
use super::header;
use super::limits;
use super::lines::{BLANKS, Line, Piece, split};
use super::span::{FileId, Span};
use super::syntax::{Parsed, explain, parse};
use super::units::Unit;
use super::uses::{too_many_statements, uncomma};

/// Columns that a line takes before it is broken, where it has a comma.
const WIDTH: usize = 100;
/// Columns of code beyond which a comment no longer pushes its neighbours' comments.
const ALIGNED: usize = 60;
/// What a line that goes on begins with.
const INDENT: &str = "    ";

/// One line of output.
#[derive(Debug, Default)]
struct Out {
    code: String,
    comment: Option<String>,
}

/// A recipe's text in the one layout.
///
/// # Errors
/// The findings of every line that is no statement of the language; a text with errors is left as it is.
pub fn format(text: &str) -> Result<String, Vec<Finding>> {
    let mut findings = Vec::new();
    too_long(text, &mut findings);
    let pieces = split(FileId(0), text, &mut findings);
    let lines: Vec<Line> = pieces
        .iter()
        .filter_map(|piece| if let Piece::Line(line) = piece { Some(line.clone()) } else { None })
        .collect();
    if header::foreign(FileId(0), text, &lines, &mut findings) {
        bound(&mut findings);
        return Err(findings);
    }
    let mut out = Vec::new();
    let mut statements = 0;
    'pieces: for piece in pieces {
        match piece {
            Piece::Blank => {
                if out.last().is_some_and(|last: &Out| !last.code.is_empty() || last.comment.is_some()) {
                    out.push(Out::default());
                }
            }
            Piece::Comment(range) => {
                out.push(Out { code: String::new(), comment: Some(text[range].to_owned()) });
            }
            Piece::Line(line) => {
                for line in &uncomma(FileId(0), text, line, &mut findings) {
                    statements += 1;
                    if statements > limits::STATEMENTS {
                        findings.push(too_many_statements(Span { file: FileId(0), range: line.range.clone() }));
                        break 'pieces;
                    }
                    if line.bad {
                        continue;
                    }
                    match parse(FileId(0), text, line) {
                        Ok(parsed) => statement(text, line, &parsed, &mut out),
                        Err(broken) if findings.len() >= limits::MENDED => findings.push(broken.finding),
                        Err(broken) => findings.push(explain(text, line, *broken).0),
                    }
                }
            }
        }
    }
    while out.last().is_some_and(|last| last.code.is_empty() && last.comment.is_none()) {
        out.pop();
    }
    let formatted = write(&out);
    // The layout can be longer than what was written, and a limit must not be passed by it.
    too_long(&formatted, &mut findings);
    if findings.is_empty() {
        split(FileId(0), &formatted, &mut findings);
    }
    if !findings.iter().any(|finding| finding.severity == Severity::Error) {
        return Ok(formatted);
    }
    bound(&mut findings);
    Err(findings)
}

fn too_long(text: &str, findings: &mut Vec<Finding>) {
    if text.len() > limits::FILE_BYTES {
        let message = "the file, in the one layout, is longer than 1 MiB";
        findings.push(
            Finding::error(codes::FILE_TOO_LONG, Span::default(), message)
                .hint("write it as several recipes, and `use` them"),
        );
    }
}

/// A word, number, unit or string, with the comma behind it.
struct Token {
    text: String,
    /// Place in the file.
    start: usize,
    end: usize,
    comma: bool,
}

/// The leaves of a statement's tree. Everything that is written is a leaf but commas.
fn tokens(text: &str, line: &Line, parsed: &Parsed<'_>) -> Vec<Token> {
    let source = line.text(text);
    let mut tokens: Vec<Token> = Vec::new();
    let leaves = parsed
        .root()
        .deep()
        .filter(|pair| pair.into_inner().next().is_none())
        .filter(|pair| pair.as_rule() != Rule::comma);
    for leaf in leaves {
        if let Some(before) = tokens.last_mut() {
            before.comma = source[before.end - parsed.at..leaf.start()].contains(',');
        }
        let text = match leaf.as_rule() {
            Rule::unit => {
                let word = leaf.as_str().split(BLANKS).filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ");
                Unit::of(&word).map_or(word, |unit| unit.word().to_owned())
            }
            _ => leaf.as_str().to_owned(),
        };
        tokens.push(Token { text, start: parsed.at + leaf.start(), end: parsed.at + leaf.end(), comma: false });
    }
    tokens
}

/// Lays a statement out: one run of words up to each comment inside it.
fn statement(text: &str, line: &Line, parsed: &Parsed<'_>, out: &mut Vec<Out>) {
    let tokens = tokens(text, line, parsed);
    let mut comments = line.comments.iter().peekable();
    let mut run: Vec<&Token> = Vec::new();
    let mut first = true;
    for (index, token) in tokens.iter().enumerate() {
        run.push(token);
        let next = tokens.get(index + 1).map_or(usize::MAX, |next| next.start);
        let mut inside = std::iter::from_fn(|| comments.next_if(|comment| comment.start < next)).peekable();
        if inside.peek().is_none() && index + 1 < tokens.len() {
            continue;
        }
        out.extend(broken(&run, first));
        run.clear();
        first = false;
        for comment in inside {
            let same_line = !text[token.end..comment.start].contains('\n');
            let comment = Some(text[comment.clone()].to_owned());
            match out.last_mut() {
                Some(last) if same_line => last.comment = comment,
                _ => out.push(Out { code: INDENT.to_owned(), comment }),
            }
        }
    }
}

/// A run of words as lines, broken after commas where it is too wide.
fn broken(run: &[&Token], first: bool) -> Vec<Out> {
    let mut lines: Vec<String> = Vec::new();
    for chunk in run.split_inclusive(|token| token.comma) {
        let mut words = chunk.iter().map(|token| token.text.as_str()).collect::<Vec<_>>().join(" ");
        if chunk.last().is_some_and(|token| token.comma) {
            words.push(',');
        }
        match lines.last_mut() {
            Some(last) if last.chars().count() + 1 + words.chars().count() <= WIDTH => {
                last.push(' ');
                last.push_str(&words);
            }
            last => {
                let indent = if first && last.is_none() { "" } else { INDENT };
                lines.push(format!("{indent}{words}"));
            }
        }
    }
    lines.into_iter().map(|code| Out { code, comment: None }).collect()
}

/// Puts comments behind neighbouring lines below each other, and all lines together.
fn write(out: &[Out]) -> String {
    let has_code = |line: &Out| !line.code.trim_start().is_empty();
    let mut written = String::new();
    for block in out.chunk_by(|a, b| has_code(a) && has_code(b)) {
        let column = block
            .iter()
            .filter(|line| line.comment.is_some())
            .map(|line| line.code.chars().count())
            .filter(|width| *width <= ALIGNED)
            .max()
            .unwrap_or(0);
        for line in block {
            if let Some(comment) = &line.comment {
                written.push_str(&line.code);
                if has_code(line) {
                    let gap = column.saturating_sub(line.code.chars().count()) + 2;
                    written.extend(std::iter::repeat_n(' ', gap));
                }
                written.push_str(comment);
            } else {
                written.push_str(&line.code);
            }
            written.push('\n');
        }
    }
    written
}
