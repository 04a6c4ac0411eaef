//! Mending a line that does not parse: what its writer most likely meant, tried out on the parser itself.
//!
//! Promises: what is offered parses; a mend changes as little as it can, and never what stands in quotes. Must not be
//! here: what people write instead (see `near_misses`), findings (see `syntax`).

use super::grammar::{Edition1, Rule, STARTS, expectation};
use super::limits;
use super::near_misses::{NEAR_MISSES, RANGE};
use super::nearest::nearest;
use super::units::Unit;
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
    let (mut text, mut why) = (written.to_owned(), "");
    let mut now = stop(&text);
    for _ in 0..MOST {
        let mut best: Option<(Stop, String, &'static str)> = None;
        for (candidate, reason) in table(&text).into_iter().chain(guesses(&text, &now)) {
            let next = stop(&candidate);
            if next.left < best.as_ref().map_or(now.left, |(best, ..)| best.left) {
                let done = next.left == 0;
                best = Some((next, candidate, reason));
                if done {
                    break;
                }
            }
        }
        let Some((next, candidate, reason)) = best else { return Outcome::Nothing };
        (now, text) = (next, candidate);
        why = if why.is_empty() { reason } else { why };
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
fn table(text: &str) -> Vec<(String, &'static str)> {
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
        (!put.contains('\u{1}')).then(|| (spliced(text, whole, &put), row.why))
    })
    .collect()
}

fn spliced(text: &str, range: Range<usize>, put: &str) -> String {
    [&text[..range.start], put, &text[range.end..]].concat()
}

/// Small changes at the place where a text stops to parse.
fn guesses(text: &str, stop: &Stop) -> Vec<(String, &'static str)> {
    let at = stop.at;
    let (before, rest) = (text[..at].trim_end(), &text[at..]);
    let here = found(rest);
    let place = at..at + here.len();
    let mut words: Vec<&str> = stop.expected.iter().flat_map(|rule| expectation(*rule).1).collect();
    if before.is_empty() {
        words.extend(STARTS);
    }
    // Where much else may stand, it is no text that was meant.
    let text_expected = stop.expected.contains(&Rule::string) && stop.expected.len() <= 2;
    let mut all = Vec::new();
    all.push((lowered(text), "words are written in lower case; only names of switches have capitals"));
    let mut put = |range: Range<usize>, by: &str| all.push((spliced(text, range, by), ""));
    put(place.clone(), &here.replace('_', "-"));
    // Numbers are no slips: another number is another meaning.
    let digits = |word: &str| word.chars().filter(char::is_ascii_digit).collect::<String>();
    if let Some(near) = nearest(here, words.iter().copied()).filter(|near| digits(near) == digits(here)) {
        put(place.clone(), near);
    }
    if let Some(word) = words.iter().find(|word| here.len() > word.len() && here.starts_with(**word)) {
        put(place.clone(), &format!("{word} {}", &here[word.len()..]));
    }
    put(place.clone(), &here.replace('-', " "));
    if !text_expected && here.starts_with('"') {
        put(place.clone(), here.trim_matches('"'));
    }
    if text_expected && !here.is_empty() {
        let quotes: &[char] = &['“', '”', '„', '‘', '’', '\'', '`', '«', '»', '"'];
        for range in [place.clone(), at..text.len()] {
            let bare = text[range.clone()].trim_matches(quotes);
            if !bare.contains(['"', '\\']) {
                put(range, &format!("\"{bare}\""));
            }
        }
    }
    // One and several of a thing are one way to go on.
    let counted = before.rsplit(' ').next().filter(|word| word.parse::<u32>().is_ok());
    let several = rest.contains(',') || counted.is_some_and(|count| count != "1");
    words = words.iter().copied().filter(|word| !other_number(word, &words, several)).collect();
    // What stands at the end of a statement is the writer's to say, unless nothing else could.
    if !here.is_empty() || words.len() == 1 {
        all.extend(only(text, &words, &(at..at), usize::MAX));
    }
    all.push((spliced(text, before.len()..at, ", "), ""));
    if !before.is_empty() && STARTS.contains(&here) {
        all.push((spliced(text, before.len()..at, "\n"), ""));
    }
    if !here.is_empty() && !before.is_empty() && !here.starts_with('"') {
        if !here.starts_with(char::is_alphanumeric) {
            all.push((spliced(text, place.clone(), ""), ""));
        }
        // A word in the place of another is a guess that has to make all of the line read.
        let most = if here.starts_with(char::is_alphanumeric) { 0 } else { usize::MAX };
        all.extend(only(text, &words, &place, most));
    }
    all
}

/// Whether a word is the plural where one thing follows, or the singular where several do.
fn other_number(word: &str, words: &[&str], several: bool) -> bool {
    match word.strip_suffix('s') {
        Some(one) if !several => words.contains(&one),
        _ => several && words.iter().any(|other| other.strip_suffix('s') == Some(word)),
    }
}

/// The text with a word in a place, a blank to either side.
fn worded(text: &str, place: &Range<usize>, word: &str) -> String {
    let (before, behind) = (&text[..place.start], &text[place.end..]);
    let gap = |there: bool| if there { "" } else { " " };
    let (left, right) =
        (gap(before.is_empty() || before.ends_with(' ')), gap(behind.is_empty() || behind.starts_with(' ')));
    [before, left, word, right, behind].concat()
}

/// The text with the one word in a place that carries it on, and leaves no more than `most` unread; of two that do,
/// only the writer knows which.
fn only(text: &str, words: &[&str], place: &Range<usize>, most: usize) -> Option<(String, &'static str)> {
    let tried = |word: &&str| {
        let text = worded(text, place, word);
        (stop(&text).left, text)
    };
    let mut all: Vec<(usize, String)> = words.iter().map(tried).filter(|(left, _)| *left <= most).collect();
    all.sort_unstable();
    all.dedup();
    let ambiguous = all.len() > 1 && all[0].0 == all[1].0;
    all.into_iter().next().filter(|_| !ambiguous).map(|(_, text)| (text, ""))
}

/// All in lower case but texts in quotes, names of switches and units.
fn lowered(text: &str) -> String {
    let (mut quoted, mut out) = (quoting(), String::new());
    let (mut word, mut last) = (String::new(), String::new());
    for c in text.chars().chain([' ']) {
        let inside = quoted(c);
        if c.is_alphanumeric() && !inside {
            word.push(c);
            continue;
        }
        if !word.is_empty() {
            let kept = last == "switch" || Unit::of(&word).is_some();
            last = word.to_lowercase();
            out.push_str(if kept { &word } else { &last });
            word.clear();
        }
        out.push(c);
    }
    out.pop();
    out
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
