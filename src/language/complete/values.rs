//! What is known for a place that takes a value.
//!
//! Must not be here: keywords and units, which the grammar names.

use super::Candidate;
use super::token::{Token, TokenKind};
use crate::language::known::Known;
use crate::language::recipe::GivenKind;

/// Everything known for a place.
pub(super) fn of(kind: TokenKind, place: &str, done: &[Token<'_>], known: &Known) -> Vec<Candidate> {
    match (kind, place) {
        (TokenKind::Switch, "with_value") => told(done, known),
        (TokenKind::Switch, place) => {
            let all = parameters(known, |kind| *kind == GivenKind::Switch && place != "default_switch");
            switches(known).chain(all).collect()
        }
        (TokenKind::Word, "function") => {
            let arm = (!known.functions.iter().any(|name| name == "arm")).then_some("arm");
            let all = arm.into_iter().chain(known.functions.iter().map(String::as_str));
            all.map(|name| one(name, "a function")).collect()
        }
        (TokenKind::Word, "protocol") => {
            let words = known.protocols.iter().map(|name| one(name, "a receiver protocol"));
            words.chain(parameters(known, is_word)).collect()
        }
        (TokenKind::Word, "default_word") => listed(done),
        (TokenKind::Word, "setting") => known.settings.iter().map(|(name, _)| one(name, "a setting")).collect(),
        (TokenKind::Text, "setting") => {
            known.raw.iter().map(|name| one(&quoted(name), "the board's own name of a setting")).collect()
        }
        (TokenKind::Word, "setting_value") => {
            let setting = done.get(1).map(|token| token.text);
            let words = known.settings.iter().find(|(name, _)| Some(name.as_str()) == setting);
            let words = words.into_iter().flat_map(|(_, words)| words).map(|word| one(word, "a value"));
            words.chain(parameters(known, |kind| *kind != GivenKind::Switch)).collect()
        }
        (TokenKind::Text, "board") => known.boards.iter().map(|name| one(&quoted(name), "a board")).collect(),
        (TokenKind::Text, "uses") => known.files.iter().map(|name| one(&quoted(name), "a recipe")).collect(),
        (TokenKind::Name, "with_pair") => known.told.iter().map(|(name, _)| one(name, "its parameter")).collect(),
        (TokenKind::Name, "motor_signal") => parameters(known, is_word).collect(),
        (TokenKind::Name, _) => parameters(known, |kind| *kind == GivenKind::Quantity).collect(),
        (TokenKind::Number, "position") => positions(done, known),
        _ => Vec::new(),
    }
}

fn switches(known: &Known) -> impl Iterator<Item = Candidate> {
    known.switches.iter().map(|(name, count)| one(name, &format!("a switch with {count} positions")))
}

/// Parameters of the file, of some kinds.
fn parameters(known: &Known, fits: impl Fn(&GivenKind) -> bool) -> impl Iterator<Item = Candidate> {
    let fitting = known.parameters.iter().filter(move |(_, kind)| fits(kind));
    fitting.map(|(name, _)| one(name, "a parameter"))
}

fn is_word(kind: &GivenKind) -> bool {
    matches!(kind, GivenKind::Word(_))
}

/// What the parameter that was named last may be told.
fn told(done: &[Token<'_>], known: &Known) -> Vec<Candidate> {
    let named = done.last().map_or("", |token| token.text);
    match known.told.iter().find(|(name, _)| name == named).map(|(_, kind)| kind) {
        None => Vec::new(),
        Some(GivenKind::Quantity) => parameters(known, |kind| *kind == GivenKind::Quantity).collect(),
        Some(GivenKind::Switch) => {
            switches(known).chain(parameters(known, |kind| *kind == GivenKind::Switch)).collect()
        }
        Some(GivenKind::Word(words)) => {
            words.iter().map(|word| one(word, "a value")).chain(parameters(known, is_word)).collect()
        }
    }
}

/// The words of the list that the line has named.
fn listed(done: &[Token<'_>]) -> Vec<Candidate> {
    let list = done.iter().skip_while(|token| token.text != "of").skip(1);
    let words = list.filter(|token| token.kind == TokenKind::Word && token.text != "default");
    words.map(|token| one(token.text, "a word of the list")).collect()
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
