//! What may stand next on a line of the bench prompt: its own words, or a statement.
//!
//! Promises: pure; what begins as no word of the prompt is completed as a statement. Must not be here: files,
//! terminals, the forms of statements (see `language::complete`).

use super::words::{SUBJECTS, WORDS};
use crate::language::complete::Candidate;
use crate::language::known::Known;

/// What could stand from a byte of the line on, up to the cursor.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Offered {
    /// One of these.
    Words(usize, Vec<Candidate>),
    /// A file.
    File(usize),
}

/// What could stand at the end of this text.
#[must_use]
pub fn complete(before: &str, _known: &Known) -> Offered {
    let indent = before.len() - before.trim_start().len();
    let Some((first, rest)) = split(before) else {
        let own = WORDS.iter().map(|word| (word.word, word.about));
        return Offered::Words(indent, matching(&before[indent..], own));
    };
    let start = before.len() - rest.len();
    match first {
        "look" => Offered::Words(start, matching(rest, SUBJECTS.iter().copied())),
        "help" => Offered::Words(start, matching(rest, WORDS.iter().map(|word| (word.word, word.about)))),
        "write" => Offered::File(start + rest.len() - rest.trim_start_matches('"').len()),
        _ => Offered::Words(before.len(), Vec::new()),
    }
}

/// What may follow this text, in a few words.
#[must_use]
pub fn hint(text: &str, _known: &Known) -> Option<String> {
    let (first, rest) = split(text)?;
    let word = WORDS.iter().find(|word| word.word == first)?;
    (rest.is_empty() && !word.form.is_empty()).then(|| word.form.to_owned())
}

/// The first word, and what stands behind the blanks after it.
fn split(text: &str) -> Option<(&str, &str)> {
    text.trim_start().split_once([' ', '\t']).map(|(first, rest)| (first, rest.trim_start()))
}

fn matching<'w>(begun: &str, words: impl Iterator<Item = (&'w str, &'w str)>) -> Vec<Candidate> {
    let fitting = words.filter(|(word, _)| word.starts_with(begun));
    fitting.map(|(word, about)| Candidate { text: word.to_owned(), about: about.to_owned() }).collect()
}
