//! How a statement may go on, as a few words: values in capitals, what may be left out in brackets.
//!
//! Must not be here: what may follow what.

use super::form::{Form, Left, Rest, may_end};
use super::token::TokenKind;

/// Clauses that a statement needs, though the grammar lets them stand anywhere; reading tells who forgets one.
const NEEDED: &[&str] = &["search_step", "search_end", "on_channel", "rests", "warn_at", "land_at"];

/// What a place takes, in capitals.
fn value(rule: &str) -> Option<&'static str> {
    Some(match rule {
        "pulse" => "PULSE",
        "duration" => "TIME",
        "frequency" => "RATE",
        "angle" => "ANGLE",
        "cell_voltage" => "VOLTAGE",
        "count" => "COUNT",
        "position" => "POSITION",
        "idle_value" => "PULSE-OR-SHARE",
        "with_value" | "setting_value" | "quantity" => "VALUE",
        "function" => "FUNCTION",
        "protocol" => "PROTOCOL",
        "setting" => "SETTING",
        "stick" => "STICK",
        "motor_signal" => "SIGNAL",
        "new_name" => "NAME",
        _ => return None,
    })
}

/// The units of a place; nothing where a bare number is what is usually written.
fn units(place: &str, all: &Form) -> String {
    match place {
        "pulse" | "count" | "position" => String::new(),
        "idle_value" => format!("[{}]", whole(all)),
        "setting_value" | "with_value" => "[UNIT]".to_owned(),
        _ => whole(all),
    }
}

/// The ways in which it goes on; nothing where it only may end.
pub(super) fn rests(rests: &[Rest]) -> Option<String> {
    let mut ways: Vec<String> = Vec::new();
    for rest in rests {
        let shown = tidy(&rest.iter().rev().map(left).collect::<Vec<_>>());
        // Nothing stands around ways that are all there is.
        let bare = shown.strip_prefix('(').and_then(|shown| shown.strip_suffix(')')).filter(|_| rest.len() == 1);
        let shown = bare.map(str::to_owned).unwrap_or(shown);
        if !shown.is_empty() && !ways.contains(&shown) {
            ways.push(shown);
        }
    }
    ways.sort_by_key(String::len);
    // Where one way only ends, the others are no need.
    let shown = ways.join(" | ");
    let optional = rests.iter().any(|rest| may_end(rest) && rest.iter().rev().all(|item| left(item).is_empty()));
    match ways.len() {
        0 => None,
        1 if optional && !shown.starts_with('[') => Some(format!("[{shown}]")),
        _ => Some(shown),
    }
}

fn left(left: &Left) -> String {
    match left {
        Left::Form(form) => whole(form),
        Left::Clauses(all, used, _) => {
            let open = all.iter().enumerate().filter(|(number, _)| !used.contains(number));
            tidy(&open.map(|(_, (name, form))| clause(name, form)).collect::<Vec<_>>())
        }
    }
}

fn clause(name: &str, form: &Form) -> String {
    let shown = whole(form);
    if NEEDED.contains(&name) { shown } else { format!("[{shown}]") }
}

fn whole(form: &Form) -> String {
    match form {
        Form::Word(spellings) => spellings[0].clone(),
        Form::Part(word, _) => word.clone(),
        Form::Any(kind, _) => match kind {
            TokenKind::Text => "\"TEXT\"",
            TokenKind::Number => "NUMBER",
            TokenKind::Switch => "SWITCH",
            TokenKind::Name => "NAME",
            _ => "WORD",
        }
        .to_owned(),
        Form::Comma => ",".to_owned(),
        Form::Seq(forms) => tidy(&forms.iter().map(whole).collect::<Vec<_>>()),
        Form::Choice(forms) => choice(forms),
        Form::Opt(inner) => match &**inner {
            Form::Unit(place, all) => units(place, all),
            Form::Comma => String::new(),
            inner => format!("[{}]", whole(inner)),
        },
        // What stands again was shown once.
        Form::Again(_, false) => ", …".to_owned(),
        Form::Again(inner, true) => whole(inner),
        Form::Clauses(all, _) => tidy(&all.iter().map(|(name, form)| clause(name, form)).collect::<Vec<_>>()),
        Form::Rule(name, inner) => value(name).map_or_else(|| whole(inner), str::to_owned),
        Form::Unit(place, all) => units(place, all),
    }
}

fn choice(forms: &[Form]) -> String {
    // Of many ways the first word of each is enough.
    let mut ways: Vec<String> = Vec::new();
    for form in forms {
        let shown = if forms.len() > 2 { first(form) } else { whole(form) };
        // One and several of the same word are one way.
        let same = |way: &String| *way == shown || *way == format!("{shown}s");
        if !shown.is_empty() && !ways.iter().any(same) {
            ways.push(shown);
        }
    }
    let long = ways.iter().any(|way| way.contains(' '));
    if long {
        ways.sort_by_key(String::len);
    }
    match ways.len() {
        1 => ways.remove(0),
        _ if long => format!("({})", ways.join(" | ")),
        _ => ways.join("|"),
    }
}

/// The first word of a form.
fn first(form: &Form) -> String {
    match form {
        Form::Seq(forms) => forms.iter().map(first).find(|shown| !shown.is_empty()).unwrap_or_default(),
        Form::Rule(name, inner) => value(name).map_or_else(|| first(inner), str::to_owned),
        other => whole(other),
    }
}

/// Words in a row; a comma stands right behind what is before it.
fn tidy(words: &[String]) -> String {
    let words: Vec<&str> = words.iter().map(String::as_str).filter(|word| !word.is_empty()).collect();
    words.join(" ").replace(" ,", ",")
}
