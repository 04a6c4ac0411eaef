//! Mending a line that does not parse: what its writer most likely meant, tried out on the parser itself.
//!
//! Promises: what is offered parses, and says nothing twice; a mend changes as little as it can, and never what stands
//! in quotes. Must not be here: what people write instead (see `near_misses`), findings (see `syntax`).

mod guesses;

use super::grammar::{Edition1, Rule};
use super::limits;
use super::near_misses::{NEAR_MISSES, RANGE};
use super::tree::Tree;
use guesses::guesses;
use pest::Parser;
use pest::error::{ErrorVariant, InputLocation};
use std::cell::RefCell;
use std::collections::HashMap;
use std::ops::Range;

/// A line that was mended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Mended {
    /// All of it; where two statements stood in one line, with a line end between them.
    pub text: String,
    /// What stands otherwise, in the line as it was written.
    pub was: Range<usize>,
    /// The same in `text`.
    pub is: Range<usize>,
    /// What was wrong, where a row of the table says it.
    pub why: &'static str,
}

impl Mended {
    /// A byte of the mended text in the line as it was written; `inside` stands for what is new.
    pub fn written(&self, at: usize, inside: usize) -> usize {
        match at {
            at if at <= self.is.start => at,
            at if at >= self.is.end => at - self.is.end + self.was.end,
            _ => inside,
        }
    }

    /// What the mend does, for a menu.
    pub fn title(&self, written: &str) -> String {
        let (was, put) = (written[self.was.clone()].trim(), &self.text[self.is.clone()]);
        let behind = &self.text[self.is.end..];
        let next = found(behind.trim_start());
        if put.contains('\n') {
            return "begin a new line here: one statement a line".to_owned();
        }
        match put.trim_matches([' ', ',']) {
            "" if put == " " && was.is_empty() => "write a plain blank".to_owned(),
            "" if put.contains(',') => format!("write a comma before `{next}`"),
            "" => format!("take `{was}` away"),
            word if was.is_empty() => {
                let gap = if behind.starts_with(' ') || put.ends_with(' ') { " " } else { "" };
                format!("write `{word}{gap}{next}`")
            }
            words => format!("write `{words}`"),
        }
    }
}

/// What is known of a line that cannot be mended, or its mend.
#[derive(Debug, Clone)]
pub(crate) enum Outcome {
    Mended(Mended),
    /// What only the writer can know: a place, and what is wrong with it.
    Told(Range<usize>, &'static str),
    Nothing,
}

/// Longer lines are not tried: every try parses the line again.
const LONGEST: usize = 400;
/// Lines of which is kept what was made of them: several times those that are mended in one recipe.
const MOST_KNOWN: usize = 4 * limits::MENDED;
/// Mistakes in one line that are mended together.
const MOST: usize = 6;

/// Where a text stops to parse: how many bytes are left there, and what was expected. Nothing left: all parses.
struct Stop {
    left: usize,
    at: usize,
    expected: Vec<Rule>,
}

/// A text that is tried in the place of another.
struct Try {
    text: String,
    /// What was wrong, where that is known.
    why: &'static str,
    /// A word of the language that nothing written is like, put in.
    adds: Option<&'static str>,
}

impl Try {
    fn new(text: String, why: &'static str) -> Self {
        Self { text, why, adds: None }
    }
}

/// Whether a statement of a text that parses has a clause twice: then its words fit, and its sense does not.
fn says_twice(text: &str) -> bool {
    let clause = |pair: &super::tree::Pair<'_>| {
        pair.into_inner().next().is_some_and(|first| format!("{:?}", first.as_rule()).starts_with("kw_"))
    };
    parts(text).any(|(_, code)| {
        let Some(tree) = Edition1::parse(Rule::line, code).ok().and_then(|pairs| Tree::of(code, pairs)) else {
            return false;
        };
        tree.root().deep().any(|pair| {
            let rules: Vec<Rule> = pair.into_inner().filter(clause).map(super::tree::Pair::as_rule).collect();
            rules.iter().enumerate().any(|(at, rule)| rules[..at].contains(rule))
        })
    })
}

/// Whether each character of a text, told one by one, stands between quotes.
fn quoting() -> impl FnMut(char) -> bool {
    let (mut quoted, mut escaped) = (false, false);
    move |c| {
        quoted ^= c == '"' && !escaped;
        escaped = quoted && c == '\\' && !escaped;
        quoted && c != '"'
    }
}

/// The part of a line before its comment.
fn code(line: &str) -> &str {
    let mut quoted = quoting();
    let end = line.find(|c| !quoted(c) && c == '#').unwrap_or(line.len());
    line[..end].trim_end()
}

fn stop(text: &str) -> Stop {
    let mut from = 0;
    for line in text.split('\n') {
        let code = code(line);
        if !code.is_empty()
            && let Err(error) = Edition1::parse(Rule::line, code)
        {
            let (InputLocation::Pos(at) | InputLocation::Span((at, _))) = error.location;
            let at = from + code.len() - code[at..].trim_start().len();
            let expected = match error.variant {
                ErrorVariant::ParsingError { positives, .. } => positives,
                ErrorVariant::CustomError { .. } => Vec::new(),
            };
            return Stop { left: text.len() - at + 1, at, expected };
        }
        from += line.len() + 1;
    }
    Stop { left: 0, at: text.len(), expected: Vec::new() }
}

/// The statements of a mended text, each with its first byte.
pub(crate) fn parts(text: &str) -> impl Iterator<Item = (usize, &str)> {
    let mut from = 0;
    text.split('\n').filter_map(move |line| {
        let at = from;
        from += line.len() + 1;
        Some((at, code(line))).filter(|(_, code)| !code.is_empty())
    })
}

/// Mends a line that does not parse. What was made of a line is kept: an editor asks for all of them at each keystroke.
pub(crate) fn mend(written: &str) -> Outcome {
    thread_local! {
        static KNOWN: RefCell<HashMap<String, Outcome>> = RefCell::default();
    }
    if written.len() > LONGEST {
        return Outcome::Nothing;
    }
    if let Some(known) = KNOWN.with_borrow(|known| known.get(written).cloned()) {
        return known;
    }
    let outcome = tried(written);
    KNOWN.with_borrow_mut(|known| {
        if known.len() >= MOST_KNOWN {
            known.clear();
        }
        known.insert(written.to_owned(), outcome.clone());
    });
    outcome
}

fn tried(written: &str) -> Outcome {
    let hidden = masked(written);
    let told = NEAR_MISSES.iter().filter(|row| row.instead.is_none());
    for row in told {
        let found = row.pattern.captures(&hidden);
        if let Some(place) = found.and_then(|found| found.iter().flatten().last()) {
            return Outcome::Told(place.range(), row.why);
        }
    }
    let (mut text, mut why, mut added) = (written.to_owned(), "", None);
    let mut now = stop(&text);
    for _ in 0..MOST {
        let mut best: Option<(Stop, Try)> = None;
        for candidate in table(&text).into_iter().chain(guesses(&text, &now)) {
            // One word that nobody wrote is a guess; two of them are a line of our own.
            if added.is_some_and(|word| candidate.adds.is_some_and(|other| other != word)) {
                continue;
            }
            let next = stop(&candidate.text);
            if next.left < best.as_ref().map_or(now.left, |(best, _)| best.left) {
                let done = next.left == 0;
                if done && says_twice(&candidate.text) {
                    continue;
                }
                best = Some((next, candidate));
                if done {
                    break;
                }
            }
        }
        let Some((next, Try { text: candidate, why: reason, adds })) = best else { return Outcome::Nothing };
        (now, text) = (next, candidate);
        why = if why.is_empty() { reason } else { why };
        added = added.or(adds);
        if now.left == 0 {
            let (was, is) = change(written, &text);
            return Outcome::Mended(Mended { text, was, is, why });
        }
    }
    Outcome::Nothing
}

/// The text with what stands in quotes blotted out, byte for byte.
fn masked(text: &str) -> String {
    let mut quoted = quoting();
    let blot = |c: char| if quoted(c) { ('\u{1}', c.len_utf8()) } else { (c, 1) };
    text.chars().map(blot).flat_map(|(sign, times)| std::iter::repeat_n(sign, times)).collect()
}

/// Every row of the table that fits, put in once.
fn table(text: &str) -> Vec<Try> {
    let hidden = masked(text);
    let rows = NEAR_MISSES.iter().filter_map(|row| Some((row, row.instead?)));
    rows.flat_map(|(row, instead)| {
        row.pattern.captures_iter(&hidden).take(4).map(move |found| (row, instead, found)).collect::<Vec<_>>()
    })
    .filter_map(|(row, instead, found)| {
        let whole = found.get(0)?.range();
        let group = |number| found.get(number).map_or("", |group: regex::Match<'_>| &text[group.range()]);
        let mut put = String::new();
        if let Some(before) = instead.strip_suffix(RANGE) {
            let (from, to) = (group(1).parse::<u8>().ok()?, group(2).parse::<u8>().ok()?);
            let all: Vec<String> = (from..=to).take(8).map(|number| number.to_string()).collect();
            put = format!("{before}{}", all.join(", "));
        } else {
            found.expand(instead, &mut put);
        }
        // What a group took from behind the mask cannot be put back.
        (!put.contains('\u{1}')).then(|| Try::new(spliced(text, whole, &put), row.why))
    })
    .collect()
}

fn spliced(text: &str, range: Range<usize>, put: &str) -> String {
    [&text[..range.start], put, &text[range.end..]].concat()
}

/// Where two texts differ, to the ends of the words.
fn change(written: &str, mended: &str) -> (Range<usize>, Range<usize>) {
    let same = |(a, b): &(char, char)| a == b;
    let head: usize = written.chars().zip(mended.chars()).take_while(same).map(|(c, _)| c.len_utf8()).sum();
    let (was, is) = (&written[head..], &mended[head..]);
    let tail: usize = was.chars().rev().zip(is.chars().rev()).take_while(same).map(|(c, _)| c.len_utf8()).sum();
    let in_word = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_' | '.');
    let ends = |text: &str| text.ends_with(in_word);
    let begins = |text: &str| text.starts_with(in_word);
    let (mut head, mut tail) = (head, tail);
    let whole = |text: &str| text.len() - text.trim_end_matches(in_word).len();
    if ends(&written[..head]) && (begins(&written[head..]) || begins(&mended[head..])) {
        head -= whole(&written[..head]);
    }
    let back = written.len() - tail;
    if begins(&written[back..]) && (ends(&written[head..back]) || ends(&mended[head..mended.len() - tail])) {
        tail -= written[back..].len() - written[back..].trim_start_matches(in_word).len();
    }
    (head..written.len() - tail, head..mended.len() - tail)
}

/// The word, number, string or sign at the start of a text.
pub(crate) fn found(text: &str) -> &str {
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

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::{Duration, Instant};

    #[test]
    fn what_was_made_of_a_line_is_kept() {
        let lines: Vec<String> = (0..50).map(|n| format!("idle from {n}us stepp 10 untill alle spins")).collect();
        let took = || {
            let from = Instant::now();
            for line in &lines {
                assert!(!matches!(mend(line), Outcome::Told(..)), "{line}");
            }
            from.elapsed()
        };
        let first = took();
        let again = (0..5).map(|_| took()).min().unwrap_or(Duration::MAX);
        assert!(again * 10 < first, "{again:?} after {first:?}");
    }
}
