//! A file falls into logical lines: one statement each, with the comments that belong to it.
//!
//! Promises: every byte of the file that is not blank lies in exactly one piece; a statement's text
//! keeps byte offsets (comments and line ends inside it become spaces), so places found in it are
//! places in the file. Must not be here: what a statement means.

use super::characters::hidden;
use super::codes;
use super::finding::Finding;
use super::limits;
use super::span::{FileId, Span};
use std::ops::Range;

/// One piece of a file, in order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Piece {
    /// An empty line.
    Blank,
    /// A line with nothing but a comment; the range begins at `#`.
    Comment(Range<usize>),
    /// A statement.
    Line(Line),
}

/// One logical line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Line {
    /// From the first to the last character of the statement.
    pub range: Range<usize>,
    /// The statement with comments and line ends inside it as spaces; `None` where there are none.
    blanked: Option<String>,
    /// Its comments in order, each from `#` to the end of its line.
    pub comments: Vec<Range<usize>>,
    /// Where each further line of a statement that goes on after a comma begins.
    pub breaks: Vec<usize>,
    /// Whether a finding about its characters, strings or length stands against it: then it is not parsed.
    pub bad: bool,
}

impl Line {
    /// The statement's text; offset 0 is `range.start`.
    pub fn text<'a>(&'a self, source: &'a str) -> &'a str {
        self.blanked.as_deref().unwrap_or(&source[self.range.clone()])
    }

    /// Cuts the line in two before `at`, a place of `breaks`; the comma before it goes with neither.
    pub fn cut(&self, source: &str, at: usize) -> (Self, Self) {
        let text = self.text(source);
        let head = text[..at - self.range.start].trim_end().trim_end_matches(',').trim_end_matches(BLANKS);
        let part = |range: Range<usize>, keep: &dyn Fn(usize) -> bool| Self {
            blanked: Some(text[range.start - self.range.start..range.end - self.range.start].to_owned()),
            comments: self.comments.iter().filter(|comment| keep(comment.start)).cloned().collect(),
            breaks: self.breaks.iter().copied().filter(|b| *b != at && keep(*b)).collect(),
            range,
            bad: self.bad,
        };
        let first = part(self.range.start..self.range.start + head.len(), &|place| place < at);
        (first, part(at..self.range.end, &|place| place >= at))
    }
}

/// What one physical line holds.
struct Physical {
    /// The code, blanks around it left out; empty where there is none.
    code: Range<usize>,
    comment: Option<Range<usize>>,
    bad: bool,
    /// A string was left open, so a comma at the end is part of it.
    unclosed: bool,
}

/// The blanks of the language; other white space is no blank.
pub(crate) const BLANKS: [char; 2] = [' ', '\t'];

/// Splits a text. Findings about characters, strings, lengths and commas are added to `findings`.
pub(crate) fn split(file: FileId, text: &str, findings: &mut Vec<Finding>) -> Vec<Piece> {
    let mut splitter = Splitter { file, text, findings, hidden: 0, escape_in: None, pieces: Vec::new(), open: None };
    let mut at = 0;
    while at < text.len() {
        let end = text[at..].find('\n').map_or(text.len(), |found| at + found);
        let line = text[at..end].strip_suffix('\r').unwrap_or(&text[at..end]);
        splitter.physical(at, line);
        at = end + 1;
    }
    splitter.finish();
    splitter.pieces
}

struct Open {
    line: Line,
    /// First byte of its first physical line.
    from: usize,
    /// Past the last byte of its last physical line.
    to: usize,
}

struct Splitter<'a> {
    file: FileId,
    text: &'a str,
    findings: &'a mut Vec<Finding>,
    hidden: usize,
    /// The line in which a bad escape was reported last, by its first byte.
    escape_in: Option<usize>,
    pieces: Vec<Piece>,
    open: Option<Open>,
}

impl Splitter<'_> {
    fn physical(&mut self, at: usize, line: &str) {
        let hidden = self.hidden(at, line);
        let Physical { code, comment, bad, unclosed } = self.scan(at, line);
        let bad = bad || hidden;
        let mut open = match self.open.take() {
            None if code.is_empty() => {
                if line.len() > limits::LINE_BYTES {
                    self.too_long(at..at + line.len());
                }
                self.pieces.push(comment.map_or(Piece::Blank, Piece::Comment));
                return;
            }
            None => Open {
                line: Line { range: code.clone(), blanked: None, comments: Vec::new(), breaks: Vec::new(), bad: false },
                from: at,
                to: at,
            },
            Some(mut open) => {
                if !code.is_empty() {
                    open.line.breaks.push(code.start);
                    open.line.range.end = code.end;
                }
                open
            }
        };
        open.to = at + line.len();
        open.line.bad |= bad;
        open.line.comments.extend(comment);
        let goes_on = self.text[..open.line.range.end].ends_with(',') && !unclosed;
        self.open = Some(open);
        if !goes_on {
            self.close();
        }
    }

    /// Ends the open logical line.
    fn close(&mut self) {
        let Some(Open { mut line, from, to }) = self.open.take() else { return };
        if to - from > limits::LINE_BYTES {
            self.too_long(from..to);
            line.bad = true;
        }
        if !line.breaks.is_empty() {
            line.blanked = Some(blank(self.text, &line));
        }
        self.pieces.push(Piece::Line(line));
    }

    fn finish(&mut self) {
        let Some(open) = &mut self.open else { return };
        open.line.bad = true;
        let end = open.line.range.end;
        let comma = Span { file: self.file, range: end - 1..end };
        self.findings.push(
            Finding::error(codes::DANGLING_COMMA, comma.clone(), "this line ends in a comma, and nothing follows")
                .hint("take the comma away, or write what should follow")
                .replace("take the comma away", comma, ""),
        );
        self.close();
    }

    fn too_long(&mut self, range: Range<usize>) {
        let message = format!(
            "this logical line has {} bytes; {} (4 KiB) is the most, continued lines and comments included",
            range.len(),
            limits::LINE_BYTES
        );
        let span = Span { file: self.file, range };
        self.findings.push(Finding::error(codes::LINE_TOO_LONG, span, message).hint("write it as several statements"));
    }

    /// Reports hidden characters, one finding a line; whether there are any.
    fn hidden(&mut self, at: usize, line: &str) -> bool {
        let mut all = hidden(line);
        let Some((offset, character)) = all.next() else { return false };
        let more = all.count();
        self.hidden += 1;
        if self.hidden > limits::HIDDEN_CHARACTERS {
            return true;
        }
        let others = if more == 0 { String::new() } else { format!(", and {more} more on this line") };
        let message = format!(
            "U+{:04X} stands here{others}: a character that does not show, or changes how text shows",
            u32::from(character)
        );
        let span = Span { file: self.file, range: at + offset..at + offset + character.len_utf8() };
        let mut finding = Finding::error(codes::HIDDEN_CHARACTER, span.clone(), message)
            .hint("take it away: what a recipe shows must be what it means")
            .replace("take the character away", span, "");
        if at + offset == 0 && character == '\u{FEFF}' {
            finding = finding.hint("save the file as UTF-8 without a byte order mark");
        }
        self.findings.push(finding);
        true
    }

    /// Tells code from comment, and judges strings.
    fn scan(&mut self, at: usize, line: &str) -> Physical {
        let bytes = line.as_bytes();
        let (mut comment, mut bad, mut unclosed, mut index) = (None, false, false, 0);
        while let Some(&byte) = bytes.get(index) {
            match byte {
                b'#' => {
                    let end = at + line.trim_end_matches(BLANKS).len();
                    comment = Some(at + index..end.max(at + index + 1));
                    break;
                }
                b'"' => match self.string(at, line, index) {
                    Ok(next) => index = next,
                    Err(next) => (bad, unclosed, index) = (true, next.is_none(), next.unwrap_or(bytes.len())),
                },
                _ => index += 1,
            }
        }
        let code = &line[..comment.as_ref().map_or(line.len(), |range| range.start - at)];
        let start = at + code.len() - code.trim_start_matches(BLANKS).len();
        let end = start.max(at + code.trim_end_matches(BLANKS).len());
        Physical { code: start..end, comment, bad, unclosed }
    }

    /// Reports the first bad escape of a string, and how many more it has.
    fn bad_escape(&mut self, line: &str, range: Range<usize>, more: usize) {
        let others = if more == 0 { String::new() } else { format!("; {more} more in this string are none") };
        let slash = Span { file: self.file, range: range.start..range.start + 1 };
        let message = format!("a string knows only the escapes `\\\"` and `\\\\`{others}");
        let finding = Finding::error(codes::BAD_ESCAPE, Span { file: self.file, range }, message);
        self.findings.push(if line.trim_start_matches(BLANKS).starts_with("use") {
            finding.replace("write folders with `/`", slash, "/")
        } else {
            finding.hint("a backslash itself is written `\\\\`").replace("write a backslash", slash, "\\\\")
        });
    }

    /// Past the end of the string that begins at `open`; `Err` if something is wrong with it, `Err(None)` if it
    /// is not closed.
    fn string(&mut self, at: usize, line: &str, open: usize) -> Result<usize, Option<usize>> {
        let bytes = line.as_bytes();
        let mut index = open + 1;
        // The first bad escape of the string, and how many there are.
        let mut bad: Option<(Range<usize>, usize)> = None;
        loop {
            match bytes.get(index) {
                None => {
                    let end = at + line.trim_end_matches(BLANKS).len();
                    let span = Span { file: self.file, range: at + open..end };
                    let mut finding =
                        Finding::error(codes::UNCLOSED_STRING, span, "this string has no closing quote on its line")
                            .hint("close it with `\"`; a quote inside a string is written `\\\"`");
                    // Behind a comma or a comment only the writer knows where the text was meant to end.
                    if let Some((curly, sign)) = line.rmatch_indices(['“', '”', '„']).next() {
                        let span = Span { file: self.file, range: at + curly..at + curly + sign.len() };
                        "a text stands between straight double quotes".clone_into(&mut finding.message);
                        finding = finding.replace("write a straight quote", span, "\"");
                    } else if bad.is_none() && !line[open..].contains(['#', ',', '\\']) {
                        let span = Span { file: self.file, range: end..end };
                        finding = finding.replace("close the text at the end of the line", span, "\"");
                    }
                    self.findings.push(finding);
                    return Err(None);
                }
                Some(b'"') => {
                    let Some((first, count)) = bad else { return Ok(index + 1) };
                    // The other strings of this line would say the same.
                    if self.escape_in.replace(at) != Some(at) {
                        self.bad_escape(line, first, count - 1);
                    }
                    return Err(Some(index + 1));
                }
                Some(b'\\') => match bytes.get(index + 1) {
                    Some(b'"' | b'\\') => index += 2,
                    None => index += 1,
                    Some(_) => {
                        let next = line[index + 1..].chars().next().map_or(0, char::len_utf8);
                        let (_, count) = bad.get_or_insert((at + index..at + index + 1 + next, 0));
                        *count += 1;
                        index += 1 + next;
                    }
                },
                Some(_) => index += 1,
            }
        }
    }
}

/// Whether a statement that is typed goes on in the next line: it ends in a comma, outside strings and comments.
#[must_use]
pub fn goes_on(text: &str) -> bool {
    let mut findings = Vec::new();
    split(FileId(0), text, &mut findings);
    findings.iter().any(|finding| finding.code == codes::DANGLING_COMMA)
}

/// The statement's bytes with comments and line ends as spaces.
fn blank(text: &str, line: &Line) -> String {
    let Range { start, end } = line.range;
    let mut out = String::with_capacity(end - start);
    let mut at = start;
    for comment in line.comments.iter().filter(|comment| comment.start < end) {
        push_flat(&mut out, &text[at..comment.start]);
        out.extend(std::iter::repeat_n(' ', comment.len()));
        at = comment.end;
    }
    push_flat(&mut out, &text[at..end]);
    out
}

fn push_flat(out: &mut String, text: &str) {
    out.extend(text.chars().map(|c| if matches!(c, '\r' | '\n') { ' ' } else { c }));
}
