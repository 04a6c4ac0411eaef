//! What to try at the place where a line stops to parse: slips of the hand, a word too few, too many, or in the place of
//! another.
//!
//! Promises: small changes only, and none of what stands in quotes or of a number. Must not be here: which of them is
//! taken (see `mend`), what people write instead (see `near_misses`).

use super::{Stop, Try, found, quoting, spliced, stop};
use crate::language::grammar::{Rule, STARTS, expectation};
use crate::language::units::Unit;
use crate::measure::nearest::nearest;
use std::ops::Range;

/// Small changes at the place where a text stops to parse.
pub(super) fn guesses(text: &str, stop: &Stop) -> Vec<Try> {
    let at = stop.at;
    let (before, rest) = (text[..at].trim_end(), &text[at..]);
    let here = found(rest);
    let place = at..at + here.len();
    let mut words: Vec<&'static str> = stop.expected.iter().flat_map(|rule| expectation(*rule).1).collect();
    if before.is_empty() {
        words.extend(STARTS);
    }
    // Where much else may stand, it is no text that was meant.
    let text_expected = stop.expected.contains(&Rule::string) && stop.expected.len() <= 2;
    let mut all = Vec::new();
    all.push(Try::new(plain(text), "blanks, hyphens and minus signs are those of the keyboard"));
    all.push(Try::new(lowered(text), "words are written in lower case; only names of switches have capitals"));
    let mut put = |range: Range<usize>, by: &str| all.push(Try::new(spliced(text, range, by), ""));
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
        let sign = rest.len() - rest.trim_start_matches([':', '=', ' ']).len();
        for range in [place.clone(), at..text.len()] {
            let bare = text[range.clone()].get(sign..).unwrap_or_default().trim_matches(quotes);
            if !bare.is_empty() && !bare.contains(['"', '\\']) {
                put(range, &format!("\"{bare}\""));
            }
        }
    }
    // One and several of a thing are one way to go on.
    let counted = before.rsplit(' ').next().filter(|word| word.parse::<u32>().is_ok());
    let several = rest.contains(',') || counted.is_some_and(|count| count != "1");
    words = words.iter().copied().filter(|word| !other_number(word, &words, several)).collect();
    // What stands at the end of a statement is the writer's to say, unless nothing else could.
    let number = before.is_empty() && here.starts_with(|c: char| c.is_ascii_digit());
    if !number && (!here.is_empty() || words.len() == 1) {
        all.extend(only(text, &words, &(at..at), usize::MAX));
    }
    all.push(Try::new(spliced(text, before.len()..at, ", "), ""));
    if !before.is_empty() && STARTS.contains(&here) {
        all.push(Try::new(spliced(text, before.len()..at, "\n"), ""));
    }
    if !here.is_empty() && !before.is_empty() && !here.starts_with('"') {
        if !here.starts_with(char::is_alphanumeric) {
            all.push(Try::new(spliced(text, place.clone(), ""), ""));
        }
        // A word in the place of another is a guess that has to make all of the line read; a number stands for itself.
        let most = if here.starts_with(char::is_alphanumeric) { 0 } else { usize::MAX };
        if !here.starts_with(|c: char| c.is_ascii_digit()) {
            all.extend(only(text, &words, &place, most));
        }
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
fn only(text: &str, words: &[&'static str], place: &Range<usize>, most: usize) -> Option<Try> {
    let tried = |word: &&'static str| {
        let text = worded(text, place, word);
        (stop(&text).left, text, *word)
    };
    let mut all: Vec<(usize, String, &'static str)> =
        words.iter().map(tried).filter(|(left, ..)| *left <= most).collect();
    all.sort_unstable();
    all.dedup();
    let ambiguous = all.len() > 1 && all[0].0 == all[1].0;
    all.into_iter().next().filter(|_| !ambiguous).map(|(_, text, word)| Try { text, why: "", adds: Some(word) })
}

/// With plain blanks, hyphens and minus signs outside of quotes, where a word processor or a page of the web put others.
fn plain(text: &str) -> String {
    let mut quoted = quoting();
    let plain = |c: char| match c {
        '\u{a0}' | '\u{2000}'..='\u{200a}' | '\u{202f}' | '\u{205f}' | '\u{3000}' => ' ',
        '\u{2010}'..='\u{2015}' | '\u{2212}' => '-',
        c => c,
    };
    text.chars().map(|c| if quoted(c) { c } else { plain(c) }).collect()
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
