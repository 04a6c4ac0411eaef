//! A statement that is being typed, in words, numbers and strings with their places.
//!
//! Promises: any text falls into tokens; nothing in a comment is one. Must not be here: what may follow what.

use crate::language::grammar::keywords;
use crate::language::units::Unit;

/// What a token is, or what a place takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum TokenKind {
    /// Letters, digits, hyphens; `%` among the words.
    Word,
    Number,
    /// A string that is closed.
    Text,
    /// A string that is not.
    Open,
    Comma,
    Other,
    /// Only of a place: a word that is no keyword.
    Name,
    /// Only of a place: a switch's name.
    Switch,
}

/// A token and where it begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Token<'t> {
    pub kind: TokenKind,
    pub text: &'t str,
    pub at: usize,
}

impl Token<'_> {
    /// Whether it can stand at a place of this kind.
    pub(super) fn is(&self, kind: TokenKind) -> bool {
        let lower = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        let word = || {
            self.kind == TokenKind::Word
                && self.text.starts_with(|c: char| c.is_ascii_lowercase())
                && self.text.chars().all(lower)
                && !self.text.ends_with('-')
                && !self.text.contains("--")
        };
        match kind {
            TokenKind::Word => word(),
            TokenKind::Name => word() && !is_keyword(self.text),
            TokenKind::Switch => {
                let name = |c: char| c.is_ascii_alphanumeric() || c == '-';
                matches!(self.kind, TokenKind::Word | TokenKind::Number)
                    && self.text.chars().all(name)
                    && self.text.split('-').all(|part| !part.is_empty())
            }
            other => self.kind == other,
        }
    }
}

/// The tokens of a text; `None` where it ends inside a comment.
pub(super) fn tokens(text: &str) -> Option<Vec<Token<'_>>> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(first) = text[at..].chars().next() {
        let rest = &text[at..];
        let (kind, len) = match first {
            c if c.is_whitespace() => {
                at += c.len_utf8();
                continue;
            }
            '#' => {
                at += rest.find('\n')?;
                continue;
            }
            ',' => (TokenKind::Comma, 1),
            '%' => (TokenKind::Word, 1),
            '"' => string(rest),
            c if number(rest) > 0 && (c == '-' || c.is_ascii_digit()) => numbered(rest),
            c if in_word(c) => (TokenKind::Word, rest.find(|c| !in_word(c)).unwrap_or(rest.len())),
            c => (TokenKind::Other, c.len_utf8()),
        };
        found.push(Token { kind, text: &rest[..len], at });
        at += len;
    }
    Some(found)
}

fn in_word(c: char) -> bool {
    c.is_alphanumeric() || matches!(c, '-' | '_')
}

fn string(rest: &str) -> (TokenKind, usize) {
    let mut escaped = false;
    for (at, c) in rest.char_indices().skip(1) {
        match c {
            '\n' => return (TokenKind::Open, at),
            '"' if !escaped => return (TokenKind::Text, at + 1),
            _ => escaped = c == '\\' && !escaped,
        }
    }
    (TokenKind::Open, rest.len())
}

/// Bytes of the number at the start; 0 where there is none.
fn number(rest: &str) -> usize {
    let digits = |text: &str| text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    let sign = usize::from(rest.starts_with('-'));
    let whole = digits(&rest[sign..]);
    let part = rest[sign + whole..].strip_prefix('.').map_or(0, digits);
    match (whole, part) {
        (0, _) => 0,
        (_, 0) => sign + whole,
        _ => sign + whole + 1 + part,
    }
}

/// A number, alone or with its unit right behind it; any other word may begin with digits as well.
fn numbered(rest: &str) -> (TokenKind, usize) {
    let len = number(rest);
    let behind = &rest[len..];
    let word = &behind[..behind.find(|c| !in_word(c)).unwrap_or(behind.len())];
    // At the end of the text a unit may have only begun.
    let growing = behind.len() == word.len()
        && Unit::SPELLINGS.iter().any(|(_, spellings)| spellings.iter().any(|unit| unit.starts_with(word)));
    let unit = growing || Unit::of(word).is_some();
    if word.is_empty() || unit { (TokenKind::Number, len) } else { (TokenKind::Word, len + word.len()) }
}

/// Whether a word is a keyword, which no parameter may be called.
fn is_keyword(word: &str) -> bool {
    keywords().any(|keyword| keyword == word)
}
