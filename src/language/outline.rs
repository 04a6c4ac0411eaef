//! What stands where in one file, for editors: its statements, and every word in them with what it is.
//!
//! Promises: statements come in order, those that cannot be read among them; places are bytes of the file. Must not be
//! here: findings, what a statement means, other files.

use super::codes;
use super::finding::Finding;
use super::grammar::Rule;
use super::lines::{Line, Piece, split};
use super::lower::text::unquote;
use super::recipe::GivenKind;
use super::span::FileId;
use super::syntax::{Parsed, parse};
use super::tree::Pair;
use super::uses::uncomma;
use std::ops::Range;

/// One statement of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outlined {
    /// From its first to its last character.
    pub range: Range<usize>,
    /// Its text in one line; offset 0 is the start of the range.
    pub text: String,
    /// What stands in it, in order; nothing where it cannot be read.
    pub words: Vec<Named>,
    /// Whether it could be read.
    pub is_read: bool,
}

impl Outlined {
    /// The parameter that it declares, and what that stands for.
    #[must_use]
    pub fn parameter(&self) -> Option<(&str, GivenKind)> {
        let at = self.words.iter().position(|word| word.role == Role::NewParameter)?;
        let behind = self.words.get(at + 1..).unwrap_or_default();
        let kind = match behind.first().map(|word| word.text.as_str()) {
            Some("switch") => GivenKind::Switch,
            Some("one") => {
                let list = behind.iter().skip(2).take_while(|word| word.role == Role::Listed);
                GivenKind::Word(list.map(|word| word.text.clone()).collect())
            }
            _ => GivenKind::Quantity,
        };
        Some((&self.words[at].text, kind))
    }
}

/// A word, number or text of a statement.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    /// Where, quotes included.
    pub range: Range<usize>,
    /// As it is meant, without quotes.
    pub text: String,
    /// What it is.
    pub role: Role,
}

/// What a word of a statement is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Role {
    /// A switch's name where the recipe finds or declares it.
    NewSwitch,
    /// A switch's name anywhere else.
    Switch,
    /// A parameter's name where it is declared.
    NewParameter,
    /// A parameter's name where it stands for a value.
    Parameter,
    /// A parameter of a used file, which is told its value.
    Told,
    /// The file of a `use`.
    UsedFile,
    /// The name of a board.
    Board,
    /// A word of the vocabulary.
    Setting,
    /// The board's own name of a setting.
    RawSetting,
    /// A function.
    Function,
    /// A receiver protocol.
    Protocol,
    /// A word that stands for a value of a setting or of a parameter; it may be a switch's name.
    Value,
    /// A word of the list of a parameter.
    Listed,
    /// Keywords, numbers, units, other texts.
    Other,
}

/// The statements of a file.
#[must_use]
pub fn outline(text: &str) -> Vec<Outlined> {
    // They are told by reading the recipe.
    let mut findings: Vec<Finding> = Vec::new();
    let mut all = Vec::new();
    for piece in split(FileId(0), text, &mut findings) {
        if let Piece::Line(line) = piece {
            all.extend(uncomma(FileId(0), text, line, &mut findings).iter().map(|line| outlined(text, line)));
        }
    }
    all
}

/// Where the statement begins that is being typed at the end of this text.
#[must_use]
pub fn begun(before: &str) -> usize {
    let mut findings = Vec::new();
    match split(FileId(0), before, &mut findings).pop() {
        Some(Piece::Line(line)) => {
            let rest = &before[line.range.end..];
            let goes_on = findings.iter().any(|finding| finding.code == codes::DANGLING_COMMA);
            if goes_on || !rest.contains('\n') { line.range.start } else { before.len() }
        }
        // In a comment of its own nothing is typed that is a statement.
        Some(Piece::Comment(range)) if !before[range.end..].contains('\n') => range.start,
        _ => before.len(),
    }
}

fn outlined(text: &str, line: &Line) -> Outlined {
    let parsed = if line.bad { None } else { parse(FileId(0), text, line).ok() };
    Outlined {
        range: line.range.clone(),
        text: line.text(text).to_owned(),
        words: parsed.as_ref().map(words).unwrap_or_default(),
        is_read: parsed.is_some(),
    }
}

/// The leaves of a tree, each with the rule around it.
fn words(parsed: &Parsed<'_>) -> Vec<Named> {
    let mut found = Vec::new();
    let mut open: Vec<(Pair<'_>, Rule)> = vec![(parsed.root(), Rule::EOI)];
    while let Some((pair, around)) = open.pop() {
        let rule = pair.as_rule();
        let inner: Vec<_> = pair.into_inner().collect();
        if !inner.is_empty() {
            open.extend(inner.into_iter().rev().map(|inner| (inner, rule)));
        } else if !matches!(rule, Rule::EOI | Rule::comma) {
            let quoted = matches!(rule, Rule::string | Rule::given_about | Rule::require_text);
            let text = if quoted { unquote(pair.as_str()) } else { pair.as_str().to_owned() };
            found.push(Named { range: parsed.place(pair).range, text, role: role(rule, around) });
        }
    }
    found
}

fn role(rule: Rule, around: Rule) -> Role {
    match (rule, around) {
        (Rule::switch_name, Rule::declare_switch | Rule::find_switch) => Role::NewSwitch,
        (Rule::switch_name, Rule::with_value) | (Rule::word, Rule::setting_value) => Role::Value,
        (Rule::switch_name, _) => Role::Switch,
        (Rule::word, Rule::new_name) => Role::NewParameter,
        (Rule::name, Rule::with_pair) => Role::Told,
        (Rule::name, _) => Role::Parameter,
        (Rule::string, Rule::uses) => Role::UsedFile,
        (Rule::string, Rule::board) => Role::Board,
        (Rule::string, Rule::setting) => Role::RawSetting,
        (Rule::word, Rule::given_words | Rule::default_word) => Role::Listed,
        (Rule::word, Rule::setting) => Role::Setting,
        (Rule::word, Rule::function) => Role::Function,
        (Rule::word, Rule::protocol) => Role::Protocol,
        _ => Role::Other,
    }
}
