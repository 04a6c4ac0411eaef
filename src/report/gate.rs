//! The output gate: text from recipes, sheets, cards and boards, made safe to show.
//!
//! Promises: control, escape, bidirectional and zero-width characters come out as visible escapes
//! such as `\u{202e}`; nothing is ever left out, so what is shown is what is meant.
//! Must not be here: colour and layout of our own, which are added after the gate.

use crate::language::characters::is_hidden;
use std::borrow::Cow;
use std::fmt::Write;

/// Whether a character is shown as an escape where it stands in a line of ours.
fn moves(c: char) -> bool {
    is_hidden(c) || c == '\t'
}

/// Text for one place in a line: hidden characters, line feeds and tabs among them, as escapes.
#[must_use]
pub fn line(text: &str) -> Cow<'_, str> {
    escape(text, |_| false)
}

/// Text of several lines: as [`line()`], but line feeds and tabs stay.
#[must_use]
pub fn lines(text: &str) -> Cow<'_, str> {
    escape(text, |c| c == '\n' || c == '\t')
}

fn escape(text: &str, kept: impl Fn(char) -> bool) -> Cow<'_, str> {
    if !text.chars().any(|c| moves(c) && !kept(c)) {
        return Cow::Borrowed(text);
    }
    let mut shown = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        if moves(c) && !kept(c) { shown.extend(c.escape_unicode()) } else { shown.push(c) }
    }
    Cow::Owned(shown)
}

/// Finished JSON text: hidden characters that stand in its strings become JSON escapes, so the
/// value stays the same and the text is safe to show.
#[must_use]
pub fn json(text: &str) -> Cow<'_, str> {
    let hidden = |c: char| moves(c) && c != '\n';
    if !text.chars().any(hidden) {
        return Cow::Borrowed(text);
    }
    let mut safe = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        if hidden(c) {
            let mut units = [0; 2];
            for unit in c.encode_utf16(&mut units) {
                // Writing into a string cannot fail.
                let _ = write!(safe, "\\u{unit:04x}");
            }
        } else {
            safe.push(c);
        }
    }
    Cow::Owned(safe)
}

/// A source text with its hidden characters shown, and where its offsets went.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Escaped {
    /// The text as shown; line feeds and tabs stay, a carriage return before a line feed goes with it.
    pub text: String,
    /// For every escaped character: its offset in the source and how many bytes it grew by.
    grown: Vec<(usize, isize)>,
}

impl Escaped {
    /// Passes a source text through the gate.
    #[must_use]
    pub fn new(source: &str) -> Self {
        let mut text = String::with_capacity(source.len());
        let mut grown = Vec::new();
        for (at, c) in source.char_indices() {
            let before = text.len();
            if c == '\r' && source[at + 1..].starts_with('\n') {
                // A line end of two characters is shown as the line end that it is.
            } else if moves(c) && c != '\n' && c != '\t' {
                text.extend(c.escape_unicode());
            } else {
                text.push(c);
                continue;
            }
            let now = text.len() - before;
            grown.push((at, now.cast_signed() - c.len_utf8().cast_signed()));
        }
        Self { text, grown }
    }

    /// Where an offset of the source stands in the shown text.
    #[must_use]
    pub fn offset(&self, source: usize) -> usize {
        let grown: isize = self.grown.iter().take_while(|(at, _)| *at < source).map(|(_, by)| by).sum();
        source.saturating_add_signed(grown).min(self.text.len())
    }
}
