//! The grammar as a tree, and what may stand next in it.
//!
//! Promises: made from the grammar's own text, so a statement that is added there is known here; a clause that
//! stands once is not offered twice. Must not be here: which values a place takes, words for a person.

use super::token::{Token, TokenKind};
use crate::language::units::Unit;
use pest_meta::ast::{Expr, Rule};
use std::sync::LazyLock;

/// A part of the grammar.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Form {
    /// A keyword or a unit; the first spelling is the one that is offered.
    Word(Vec<String>),
    /// A word of a unit of several, and that word with all behind it.
    Part(String, String),
    /// Anything of a kind.
    Any(TokenKind, Place),
    Comma,
    Seq(Vec<Form>),
    Choice(Vec<Form>),
    Opt(Box<Form>),
    /// Again and again; whether it stands at least once.
    Again(Box<Form>, bool),
    /// Clauses in any order, each by its rule's name; whether one stands at least.
    Clauses(Vec<(String, Form)>, bool),
    /// A rule, by its name.
    Rule(String, Box<Form>),
    /// A unit of a place.
    Unit(Place, Box<Form>),
}

/// The rule that says what a value is for, such as `pulse`.
pub(super) type Place = String;

/// What is left of a statement: the last item is next.
pub(super) type Rest = Vec<Left>;

#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Left {
    Form(&'static Form),
    /// Clauses, those that stand already by number; whether one is missing yet.
    Clauses(&'static [(String, Form)], Vec<usize>, bool),
}

/// Lines of a recipe's head and `use`: they are not typed at a bench.
const HEAD: &[&str] = &["recipe", "edition", "craft", "board", "given", "uses"];

static COMMA: Form = Form::Comma;

/// Every statement, with the lines of a head or without.
pub(super) fn statements(head: bool) -> &'static Form {
    static BENCH: LazyLock<Form> = LazyLock::new(|| Reading::new(false).ident("statement", ""));
    static FILE: LazyLock<Form> = LazyLock::new(|| Reading::new(true).ident("statement", ""));
    if head { &FILE } else { &BENCH }
}

/// What may stand next, each with what is left behind it.
pub(super) fn next(rest: &[Left]) -> Vec<(&'static Form, Rest)> {
    let mut found = Vec::new();
    nexts(rest.to_vec(), &mut found);
    found
}

fn nexts(mut rest: Rest, found: &mut Vec<(&'static Form, Rest)>) {
    let with = |rest: &Rest, form| {
        let mut rest = rest.clone();
        rest.push(Left::Form(form));
        rest
    };
    match rest.pop() {
        None => {}
        Some(Left::Form(form)) => match form {
            Form::Word(_) | Form::Part(..) | Form::Any(..) | Form::Comma => found.push((form, rest)),
            Form::Seq(forms) => {
                rest.extend(forms.iter().rev().map(Left::Form));
                nexts(rest, found);
            }
            Form::Choice(forms) => forms.iter().for_each(|form| nexts(with(&rest, form), found)),
            Form::Opt(form) => {
                nexts(with(&rest, form), found);
                nexts(rest, found);
            }
            Form::Again(body, once) => {
                let mut again = rest.clone();
                again.push(Left::Form(form));
                nexts(with(&again, body), found);
                if !once {
                    nexts(rest, found);
                }
            }
            Form::Clauses(clauses, once) => {
                rest.push(Left::Clauses(clauses, Vec::new(), *once));
                nexts(rest, found);
            }
            Form::Rule(_, form) | Form::Unit(_, form) => nexts(with(&rest, form), found),
        },
        Some(Left::Clauses(clauses, used, missing)) => {
            for (number, (_, clause)) in clauses.iter().enumerate().filter(|(number, _)| !used.contains(number)) {
                let used = used.iter().copied().chain([number]).collect();
                let mut behind = rest.clone();
                behind.push(Left::Clauses(clauses, used, false));
                let behind = with(&behind, clause);
                found.push((&COMMA, behind.clone()));
                nexts(behind, found);
            }
            if !missing {
                nexts(rest, found);
            }
        }
    }
}

/// What is left after these tokens, by every way to read them; empty where none fits.
pub(super) fn after(tokens: &[Token<'_>], head: bool) -> Vec<Rest> {
    let mut all = vec![vec![Left::Form(statements(head))]];
    for token in tokens {
        let fits = |(form, rest): (&Form, Rest)| takes(form, token).then_some(rest);
        let mut behind: Vec<Rest> = all.iter().flat_map(|rest| next(rest)).filter_map(fits).collect();
        behind.dedup();
        all = behind;
    }
    all
}

/// Whether a token is such a part.
pub(super) fn takes(form: &Form, token: &Token<'_>) -> bool {
    match form {
        Form::Word(spellings) => token.kind == TokenKind::Word && spellings.iter().any(|word| word == token.text),
        Form::Part(word, _) => token.kind == TokenKind::Word && word == token.text,
        Form::Any(kind, _) => token.is(*kind),
        Form::Comma => token.kind == TokenKind::Comma,
        _ => false,
    }
}

/// Whether a statement may end here.
pub(super) fn may_end(rest: &[Left]) -> bool {
    fn empty(form: &Form) -> bool {
        match form {
            Form::Word(_) | Form::Part(..) | Form::Any(..) | Form::Comma => false,
            Form::Seq(forms) => forms.iter().all(empty),
            Form::Choice(forms) => forms.iter().any(empty),
            Form::Opt(_) => true,
            Form::Again(_, once) | Form::Clauses(_, once) => !once,
            Form::Rule(_, form) | Form::Unit(_, form) => empty(form),
        }
    }
    rest.iter().all(|left| match left {
        Left::Form(form) => empty(form),
        Left::Clauses(_, _, missing) => !missing,
    })
}

/// The grammar's text, read, and whether lines of a head are taken.
struct Reading(Vec<Rule>, bool);

impl Reading {
    fn new(head: bool) -> Self {
        let text = include_str!("../../../grammar/edition_1.pest");
        // The text made this very program's parser; what cannot be read here completes nothing.
        let rules = pest_meta::parser::parse(pest_meta::parser::Rule::grammar_rules, text)
            .ok()
            .and_then(|pairs| pest_meta::parser::consume_rules(pairs).ok());
        Self(rules.unwrap_or_default(), head)
    }

    fn form(&self, expr: &Expr, place: &str) -> Form {
        match expr {
            Expr::Str(_) => Form::Comma,
            Expr::Ident(name) => self.ident(name, place),
            Expr::Seq(..) => {
                let parts = flat(expr).into_iter().filter(|expr| !matches!(expr, Expr::PosPred(_) | Expr::NegPred(_)));
                let mut parts: Vec<Form> = parts.map(|expr| self.form(expr, place)).collect();
                match parts.pop() {
                    Some(only) if parts.is_empty() => only,
                    last => Form::Seq(parts.into_iter().chain(last).collect()),
                }
            }
            // What is tried by its first letter before it is tried in its place stands there once.
            Expr::Choice(..) => {
                let mut all: Vec<Form> = Vec::new();
                for form in flat(expr).into_iter().map(|expr| self.form(expr, place)) {
                    let forms = if let Form::Choice(forms) = form { forms } else { vec![form] };
                    all.extend(forms);
                }
                // In the order of the whole list, which comes last.
                let mut once: Vec<Form> = Vec::new();
                for form in all.into_iter().rev() {
                    if !once.contains(&form) {
                        once.push(form);
                    }
                }
                once.reverse();
                Form::Choice(once)
            }
            Expr::Opt(expr) => Form::Opt(Box::new(self.form(expr, place))),
            Expr::Rep(body) => self.repeated(body, place, false),
            Expr::RepOnce(body) => self.repeated(body, place, true),
            // A look ahead takes nothing.
            _ => Form::Seq(Vec::new()),
        }
    }

    fn ident(&self, name: &str, place: &str) -> Form {
        let any = |kind| Form::Any(kind, place.to_owned());
        match name {
            "string" => any(TokenKind::Text),
            "number" => any(TokenKind::Number),
            "word" => any(TokenKind::Word),
            "name" => any(TokenKind::Name),
            "switch_name" => any(TokenKind::Switch),
            "comma" => Form::Comma,
            name if !self.1 && HEAD.contains(&name) => Form::Choice(Vec::new()),
            "unit" => Form::Unit(place.to_owned(), Box::new(units(place))),
            _ => {
                if let Some(word) = name.strip_prefix("kw_") {
                    return Form::Word(vec![word.to_owned()]);
                }
                let inner = if name == "quantity" || name == "value" { place } else { name };
                let rule = self.0.iter().find(|rule| rule.name == name);
                let form = rule.map_or(Form::Seq(Vec::new()), |rule| self.form(&rule.expr, inner));
                Form::Rule(name.to_owned(), Box::new(form))
            }
        }
    }

    /// Clauses begin with a comma that may be left out; anything else simply stands again.
    fn repeated(&self, body: &Expr, place: &str, once: bool) -> Form {
        let mut form = self.form(body, place);
        if let Form::Seq(forms) = &mut form
            && forms.len() == 2
            && forms[0] == Form::Opt(Box::new(Form::Comma))
            && let Some(clause) = forms.pop()
        {
            let clauses = if let Form::Choice(clauses) = clause { clauses } else { vec![clause] };
            let named = |clause| match clause {
                Form::Rule(name, form) => (name, *form),
                other => (String::new(), other),
            };
            return Form::Clauses(clauses.into_iter().map(named).collect(), once);
        }
        Form::Again(Box::new(form), once)
    }
}

/// The parts of a sequence or a choice, which is kept as pairs.
fn flat(expr: &Expr) -> Vec<&Expr> {
    match expr {
        Expr::Seq(left, right) => {
            let mut parts = if matches!(**left, Expr::Seq(..)) { flat(left) } else { vec![&**left] };
            parts.extend(if matches!(**right, Expr::Seq(..)) { flat(right) } else { vec![&**right] });
            parts
        }
        Expr::Choice(left, right) => {
            let mut parts = if matches!(**left, Expr::Choice(..)) { flat(left) } else { vec![&**left] };
            parts.extend(if matches!(**right, Expr::Choice(..)) { flat(right) } else { vec![&**right] });
            parts
        }
        other => vec![other],
    }
}

/// Every unit that fits a place, words of one with blanks between as words of their own.
fn units(place: &str) -> Form {
    let one = |spellings: &[&str]| {
        let parts: Vec<&str> = spellings[0].split(' ').collect();
        if parts.len() == 1 {
            return Form::Word(spellings.iter().map(|&word| word.to_owned()).collect());
        }
        let part = |(number, word): (usize, &&str)| Form::Part((*word).to_owned(), parts[number..].join(" "));
        Form::Seq(parts.iter().enumerate().map(part).collect())
    };
    let fitting = Unit::SPELLINGS.iter().filter(|(unit, _)| fits(place, *unit));
    Form::Choice(fitting.map(|(_, spellings)| one(spellings)).collect())
}

fn fits(place: &str, unit: Unit) -> bool {
    match place {
        "pulse" => unit == Unit::Us,
        "idle_value" => matches!(unit, Unit::Us | Unit::Percent),
        "duration" => matches!(unit, Unit::Us | Unit::Ms | Unit::S | Unit::Min),
        "frequency" => matches!(unit, Unit::Hz | Unit::KHz),
        "angle" => unit == Unit::Deg,
        "cell_voltage" => matches!(unit, Unit::VPerCell | Unit::MilliVPerCell),
        "count" | "position" => false,
        _ => true,
    }
}
