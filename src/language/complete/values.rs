//! What is known for a place that takes a value.
//!
//! Must not be here: keywords and units, which the grammar names.

use super::Candidate;
use super::token::{Token, TokenKind};
use crate::language::known::Known;

/// Everything known for a place.
pub(super) fn of(kind: TokenKind, place: &str, done: &[Token<'_>], known: &Known) -> Vec<Candidate> {
    match (kind, place) {
        (TokenKind::Switch, _) => {
            known.switches.iter().map(|(name, count)| one(name, &format!("a switch with {count} positions"))).collect()
        }
        (TokenKind::Word, "function") => {
            let arm = (!known.functions.iter().any(|name| name == "arm")).then_some("arm");
            let all = arm.into_iter().chain(known.functions.iter().map(String::as_str));
            all.map(|name| one(name, "a function")).collect()
        }
        (TokenKind::Word, "protocol") => known.protocols.iter().map(|name| one(name, "a receiver protocol")).collect(),
        (TokenKind::Word, "setting") => known.settings.iter().map(|(name, _)| one(name, "a setting")).collect(),
        (TokenKind::Text, "setting") => {
            known.raw.iter().map(|name| one(&quoted(name), "the board's own name of a setting")).collect()
        }
        (TokenKind::Word, "setting_value") => {
            let setting = done.get(1).map(|token| token.text);
            let words = known.settings.iter().find(|(name, _)| Some(name.as_str()) == setting);
            words.into_iter().flat_map(|(_, words)| words).map(|word| one(word, "a value")).collect()
        }
        (TokenKind::Number, "position") => positions(done, known),
        _ => Vec::new(),
    }
}

/// The positions of the switch that was named last, those that stand already left out.
fn positions(done: &[Token<'_>], known: &Known) -> Vec<Candidate> {
    let named = done.windows(2).rposition(|pair| pair[0].text == "switch");
    let Some(at) = named.map(|at| at + 1) else { return Vec::new() };
    let Some((_, count)) = known.switches.iter().find(|(name, _)| *name == done[at].text) else { return Vec::new() };
    let stands = |text: &str| done[at + 1..].iter().any(|token| token.text == text);
    let all = (0..*count).map(|position| position.to_string()).filter(|text| !stands(text));
    all.map(|text| one(&text, "a position")).collect()
}

fn one(text: &str, about: &str) -> Candidate {
    Candidate { text: text.to_owned(), about: about.to_owned() }
}

/// As a recipe writes a string.
fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}
