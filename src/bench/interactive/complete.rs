//! What may stand next on a line of the bench prompt: its own words, or a statement.
//!
//! Promises: pure; what begins as no word of the prompt is completed as a statement. Must not be here: files,
//! terminals, the forms of statements (see `language::complete`).

use crate::bench::interactive::commands::{LookSubject, PromptWord, WITH, file_of};
use crate::language::complete::{self as language, Candidate};
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
pub fn complete(before: &str, known: &Known) -> Offered {
    let indent = before.len() - before.trim_start().len();
    let Some((word, rest)) = split(before) else {
        if begins_alone(before) {
            return Offered::Words(indent, matching(&before[indent..], PromptWord::ALL.into_iter().map(row)));
        }
        let (start, statements) = language::complete(before, known);
        let mut all = matching(&before[indent..], PromptWord::ALL.into_iter().map(row));
        all.extend(statements);
        return Offered::Words(start.min(before.len()), all);
    };
    let start = before.len() - rest.len();
    match word {
        Some(PromptWord::Look) => {
            Offered::Words(start, matching(rest, LookSubject::ALL.into_iter().map(LookSubject::row)))
        }
        Some(PromptWord::Help) => {
            let mut all = matching(rest, PromptWord::ALL.into_iter().map(row));
            all.extend(language::complete(rest, known).1.into_iter().filter(|_| !rest.contains(' ')));
            Offered::Words(start, all)
        }
        Some(PromptWord::Write) => Offered::File(start + rest.len() - rest.trim_start_matches('"').len()),
        Some(PromptWord::Run) => match after_file(rest) {
            None => Offered::File(start + rest.len() - rest.trim_start_matches('"').len()),
            Some(begun) => {
                let with = matching(begun, std::iter::once((WITH, "values of the recipe's parameters")));
                Offered::Words(before.len() - begun.len(), with)
            }
        },
        Some(PromptWord::DryRun) => {
            let (from, all) = language::complete(rest, known);
            Offered::Words(start + from, all)
        }
        Some(PromptWord::Watch | PromptWord::GoOn | PromptWord::Undo | PromptWord::Recipe | PromptWord::Leave)
        | None => {
            let (from, all) = language::complete(before, known);
            Offered::Words(from, all)
        }
    }
}

/// What may follow this text, in a few words.
#[must_use]
pub fn hint(text: &str, known: &Known) -> Option<String> {
    let Some((word, rest)) = split(text) else {
        let typed = text.trim();
        return match PromptWord::of(typed) {
            Some(word) => (!word.form().is_empty()).then(|| word.form().to_owned()),
            None => begun(text, known).or_else(|| language::hint(text, known)),
        };
    };
    match word {
        None => language::hint(text, known),
        Some(PromptWord::DryRun) if !rest.is_empty() => language::hint(rest, known),
        Some(word) => (rest.is_empty() && !word.form().is_empty()).then(|| word.form().to_owned()),
    }
}

/// The words that a first word may become, where one of them is the prompt's own.
fn begun(text: &str, known: &Known) -> Option<String> {
    let typed = text.trim_start();
    let own = PromptWord::ALL.iter().any(|word| !typed.is_empty() && word.word().starts_with(typed));
    match complete(text, known) {
        Offered::Words(_, all) if own => Some(all.iter().map(AsRef::as_ref).collect::<Vec<&str>>().join("|")),
        _ => None,
    }
}

/// The word that a line begins with, if it is the prompt's own, and what stands behind the blanks after it; `None` while
/// it is being typed.
fn split(text: &str) -> Option<(Option<PromptWord>, &str)> {
    let text = text.trim_start();
    match PromptWord::begins(text) {
        Some((word, _)) if text.len() == word.word().len() => None,
        Some((word, rest)) => Some((Some(word), rest)),
        None if begins_alone(text) => None,
        None => text.split_once([' ', '\t']).map(|(_, rest)| (None, rest.trim_start())),
    }
}

/// Whether this is the beginning of one of the prompt's own words that has a blank in it, typed beyond that.
fn begins_alone(text: &str) -> bool {
    let text = text.trim_start();
    text.contains(' ') && PromptWord::ALL.into_iter().any(|word| word.word().starts_with(text))
}

/// What is typed of the word behind a recipe's file, once that has ended.
fn after_file(rest: &str) -> Option<&str> {
    let (_, behind) = file_of(rest);
    let begun = behind.trim_start();
    (behind.len() > begun.len()).then_some(begun)
}

fn row(word: PromptWord) -> (&'static str, &'static str) {
    (word.word(), word.about())
}

fn matching<'w>(begun: &str, words: impl Iterator<Item = (&'w str, &'w str)>) -> Vec<Candidate> {
    let fitting = words.filter(|(word, _)| word.starts_with(begun));
    fitting.map(|(word, about)| Candidate { text: word.to_owned(), about: about.to_owned() }).collect()
}
