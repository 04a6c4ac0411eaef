//! What may stand next in a statement that is being typed, and how it may go on.
//!
//! Promises: pure; every statement of the grammar is known, since the grammar itself is walked; what is offered
//! begins as what stands there already, and the statement still reads with it. Must not be here: the prompt's own
//! words, files, terminals.

mod form;
mod show;
mod token;
mod values;

use super::known::Known;
use form::{Form, Rest};
use token::{Token, TokenKind, tokens};

/// A word that may stand next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Candidate {
    /// The word as it is written.
    pub text: String,
    /// What it is, or what follows it, in a few words; may be empty.
    pub about: String,
}

impl AsRef<str> for Candidate {
    fn as_ref(&self) -> &str {
        &self.text
    }
}

/// What could stand at the end of this text, and the byte from which it would stand.
#[must_use]
pub fn complete(before: &str, known: &Known) -> (usize, Vec<Candidate>) {
    let nothing = (before.len(), Vec::new());
    let Some(all) = tokens(before) else { return nothing };
    let (done, begun) = split(before, &all);
    let apart = before.is_empty() || before.ends_with(|c: char| c.is_whitespace() || c == ',');
    if begun.is_none() && !apart {
        return nothing;
    }
    let start = begun.map_or(before.len(), |token| token.at);
    let mut found: Vec<Candidate> = Vec::new();
    for rest in form::after(done, known.head) {
        for (form, behind) in form::next(&rest) {
            for candidate in offered(form, &behind, done, known) {
                let fits = candidate.text.starts_with(&before[start..]);
                if fits && !found.iter().any(|other| other.text == candidate.text) {
                    found.push(candidate);
                }
            }
        }
    }
    (start, found)
}

/// Examples of statements that begin with this word, where they may stand, and of none that takes a parameter.
pub fn examples<'k>(word: &'k str, known: &'k Known) -> impl Iterator<Item = &'static str> + 'k {
    let begins = move |example: &&str| example.split([' ', ',']).next() == Some(word);
    let stands = |example: &&str| tokens(example).is_some_and(|all| !form::after(&all, known.head).is_empty());
    let takes_none = |example: &&str| !example.contains("idle-floor");
    super::grammar::examples().filter(begins).filter(stands).filter(takes_none)
}

/// How this text may go on, in a few words; nothing where it can't, or where it has not begun.
#[must_use]
pub fn hint(text: &str, known: &Known) -> Option<String> {
    let all = tokens(text)?;
    if all.is_empty() {
        return None;
    }
    let (done, begun) = split(text, &all);
    let whole = form::after(&all, known.head);
    // A word that is whole goes on; one that has only begun is told what it may become.
    if let Some(begun) = begun.filter(|begun| whole.is_empty() || begun.kind == TokenKind::Open) {
        let mut words = complete(text, known).1.into_iter().map(|candidate| candidate.text).collect::<Vec<_>>();
        let open = begun.kind == TokenKind::Open
            && form::after(done, known.head).iter().any(|rest| takes(rest, TokenKind::Text));
        if words.is_empty() && open {
            words.push("\"".to_owned());
        }
        let more = words.len().saturating_sub(MOST_WORDS);
        words.truncate(MOST_WORDS);
        let text = words.join("|");
        let text = if more > 0 { format!("{text}|…") } else { text };
        return (!text.is_empty()).then_some(text);
    }
    show::rests(&whole)
}

/// Words that a hint names.
const MOST_WORDS: usize = 6;

fn takes(rest: &Rest, kind: TokenKind) -> bool {
    form::next(rest).iter().any(|(form, _)| matches!(form, Form::Any(known, _) if *known == kind))
}

/// The tokens that are done, and the one at the end that may grow.
fn split<'a, 't>(text: &str, all: &'a [Token<'t>]) -> (&'a [Token<'t>], Option<&'a Token<'t>>) {
    match all.split_last() {
        Some((last, done)) if last.at + last.text.len() == text.len() && grows(last) => (done, Some(last)),
        _ => (all, None),
    }
}

fn grows(token: &Token<'_>) -> bool {
    matches!(token.kind, TokenKind::Word | TokenKind::Number | TokenKind::Open)
}

/// What stands for a part of the grammar.
fn offered(form: &Form, behind: &Rest, done: &[Token<'_>], known: &Known) -> Vec<Candidate> {
    match form {
        Form::Word(spellings) if is_other_signal(&spellings[0], done, known) => Vec::new(),
        Form::Word(spellings) => {
            let about = show::rests(std::slice::from_ref(behind)).unwrap_or_default();
            vec![Candidate { text: spellings[0].clone(), about }]
        }
        Form::Part(_, whole) => vec![Candidate { text: whole.clone(), about: String::new() }],
        Form::Any(kind, place) => values::of(*kind, place, done, known),
        _ => Vec::new(),
    }
}

/// Whether a word is a motor signal that the board does not give.
fn is_other_signal(word: &str, done: &[Token<'_>], known: &Known) -> bool {
    let names_signal = matches!(done, [only] if only.text == "signal");
    names_signal && !known.signals.is_empty() && !known.signals.iter().any(|signal| signal == word)
}
