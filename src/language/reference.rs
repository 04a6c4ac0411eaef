//! What the grammar says of its own statements: meaning, form and examples, for the manual, the prompt and editors.
//!
//! Promises: made from the comments of the grammar's text, so whatever has an example there is here. Must not be here:
//! values of a recipe, boards.

use super::complete::hint;
use super::known::Known;
use super::read_statement;
use super::turning::{Does, does, turns_motors, turns_motors_with_battery};
use std::sync::LazyLock;

/// A part of the language with its statements.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// As the grammar calls it.
    pub title: String,
    /// Its statements, in the grammar's order.
    pub statements: Vec<Explained>,
}

/// A statement of the grammar.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Explained {
    /// The words that it begins with.
    pub heading: String,
    /// What it means.
    pub meaning: String,
    /// Examples.
    pub examples: Vec<String>,
}

/// All parts of the language.
#[must_use]
pub fn parts() -> &'static [Part] {
    static PARTS: LazyLock<Vec<Part>> = LazyLock::new(made);
    &PARTS
}

/// The statement that a text begins as.
#[must_use]
pub fn statement(text: &str) -> Option<&'static Explained> {
    let words = || text.split([' ', '\t', ',']).filter(|word| !word.is_empty());
    let begins = |heading: &str| heading.split(' ').zip(words()).all(|(one, other)| one == other);
    let long_enough = |heading: &str| heading.split(' ').count() <= words().count();
    // A board's name stands in quotes, and `board turned` is another statement.
    parts()
        .iter()
        .flat_map(|part| &part.statements)
        .filter(|statement| long_enough(&statement.heading) && begins(&statement.heading))
        .max_by_key(|statement| statement.heading.len())
}

/// How what begins with these words is written, the words included.
#[must_use]
pub fn form(begin: &str) -> String {
    // What a text holds, what goes with which frame or kind, and that `board turned` is another statement, no form tells.
    let told = match begin {
        "require firmware" => Some("\"NUMBER.NUMBER[.NUMBER]\""),
        "craft" => Some("(quad x | quad plus | hex x | octo x) [turning (inward | outward)]"),
        "given" => Some(
            "NAME ([default VALUE] [from VALUE to VALUE] | switch [default SWITCH] | one of WORD, … [default WORD]) [\"TEXT\"]",
        ),
        "board" => Some("\"TEXT\""),
        _ => None,
    };
    if let Some(told) = told {
        return format!("{begin} {told}");
    }
    let known = Known { head: true, ..Known::default() };
    let rest = hint(&format!("{begin} "), &known).unwrap_or_default();
    format!("{begin} {rest}").trim_end().replace(" ,", ",")
}

/// What a statement can do with motors and the battery, in words; nothing for the head, and for what names a parameter.
#[must_use]
pub fn can(statement: &str) -> Option<String> {
    let what = read_statement(statement).ok()?.what;
    let does = match does(&what) {
        Does::Looks => "looks, says or asks",
        Does::Watches => "has switches, sticks or the radio worked, and watches",
        Does::Writes => "changes settings",
        Does::Keeps => "stores and restarts",
        Does::PlugsIn => "has the battery put in",
        Does::PlugsOut => "has the battery taken out",
        Does::Arms => "has the craft armed",
        Does::RunsBySwitch => "turns motors, started by the arm switch",
        Does::RunsByCommand => "turns motors, by command",
    };
    Some(match (turns_motors(&what), turns_motors_with_battery(&what)) {
        (true, _) => format!("{does}; **can turn a motor**"),
        (false, true) => format!("{does}; can turn a motor while the battery is in"),
        (false, false) => does.to_owned(),
    })
}

/// How a statement begins whose rule has another name.
fn heading(rule: &str) -> String {
    match rule {
        "uses" => "use".to_owned(),
        "zero_throttle" => "at zero throttle".to_owned(),
        "declare_switch" => "switch".to_owned(),
        "firmware" => "require firmware".to_owned(),
        other => other.replace('_', " "),
    }
}

/// Those rules whose comments have an example.
fn made() -> Vec<Part> {
    let mut parts: Vec<Part> = Vec::new();
    let mut comment: Vec<&str> = Vec::new();
    for line in include_str!("../../grammar/edition_1.pest").lines() {
        if let Some(title) = line.strip_prefix("// ------") {
            let title = title.trim_start_matches('-').trim().to_owned();
            parts.push(Part { title, statements: Vec::new() });
            comment.clear();
        } else if let Some(words) = line.strip_prefix("//") {
            comment.push(words);
        } else if let Some((rule, _)) = line.split_once('=') {
            let (examples, meaning): (Vec<&str>, Vec<&str>) =
                comment.iter().partition(|line| line.starts_with("     "));
            if let (false, Some(part)) = (examples.is_empty(), parts.last_mut()) {
                part.statements.push(Explained {
                    heading: heading(rule.trim()),
                    meaning: meaning.iter().map(|line| line.trim()).collect::<Vec<_>>().join(" "),
                    examples: examples.iter().map(|line| line.trim().to_owned()).collect(),
                });
            }
            comment.clear();
        } else {
            comment.clear();
        }
    }
    parts.retain(|part| !part.statements.is_empty());
    parts
}
