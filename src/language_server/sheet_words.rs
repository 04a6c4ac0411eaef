//! What the sheets of a recipe's boards say of a word: its name on the board, what it takes, what changing it can do.
//!
//! Promises: a board that no sheet at hand describes is said to be so. Must not be here: what a recipe says.

use super::markdown::{code, strong};
use super::workspace::Judged;
use crate::board::effect::Effect;
use crate::board::sheet::{BindingLayout, Form, SettingEntry, Sheet};
use crate::board::value::SettingName;
use crate::board::{binding, vocabulary};
use crate::language::recipe::{Function, Setting, Statement, StatementKind};
use crate::language::sets::sets;
use crate::language::setting_word::SettingWord;
use crate::plan::titles;

/// What a statement sets, by the words that the sheets have for it.
pub fn of_statement(judged: &Judged, statement: &Statement) -> Option<String> {
    let words: Vec<&str> = match &statement.what {
        StatementKind::Set { setting: Setting::Word(_), .. } | StatementKind::Expect { .. } => Vec::new(),
        what => sets(what).into_iter().map(|sets| sets.word.word()).collect(),
    };
    let said: Vec<String> = words.into_iter().filter_map(|word| of_setting(judged, word)).collect();
    (!said.is_empty()).then(|| said.join("\n\n"))
}

/// A word of the vocabulary.
pub fn of_setting(judged: &Judged, word: &str) -> Option<String> {
    vocabulary::word(word)?;
    let said = |sheet: &Sheet| match sheet.settings.get(word) {
        Some(entry) => entry_words(sheet, word, entry),
        None => format!("The {} has no {}.", board(sheet), code(word)),
    };
    each(judged, said)
}

/// The board's own name of a setting.
pub fn of_raw(judged: &Judged, name: &str) -> Option<String> {
    let name = SettingName::new(name)?;
    let said = |sheet: &Sheet| match (sheet.word_of(&name), sheet.raw.get(&name)) {
        (Some((word, _)), _) => format!("On the {} this is {}.", board(sheet), code(word)),
        (None, Some(entry)) => entry_words(sheet, name.as_str(), entry),
        (None, None) => format!(
            "The sheet of the {} does not list {}: it counts as a setting that can turn a motor.",
            board(sheet),
            code(name.as_str())
        ),
    };
    each(judged, said)
}

/// A function that is bound to a switch.
pub fn of_function(judged: &Judged, word: &str) -> Option<String> {
    let function = Function(word.to_owned());
    let said = |sheet: &Sheet| {
        if !binding::functions(sheet).contains(&&function) {
            return format!("The {} has no function {}.", board(sheet), code(word));
        }
        match &sheet.binding.way {
            BindingLayout::Direct(_) => {
                let names = binding::settings_of(sheet, &function);
                let names: Vec<String> = names.iter().map(|name| code(name.as_str())).collect();
                format!("On the {} {} is bound by {}.", board(sheet), code(word), names.join(", "))
            }
            BindingLayout::Rows { rows, .. } => {
                format!("On the {} {} is bound by one of {} rows.", board(sheet), code(word), rows.len())
            }
        }
    };
    each(judged, said)
}

/// A receiver protocol.
pub fn of_protocol(judged: &Judged, word: &str) -> Option<String> {
    let said = |sheet: &Sheet| match sheet.entry(SettingWord::ReceiverProtocol).map(|entry| &entry.form) {
        Some(Form::Words(words)) if words.contains_key(word) => {
            format!("The {} listens to {}.", board(sheet), code(word))
        }
        Some(Form::Words(words)) => {
            format!("The {} listens to {}, not {}.", board(sheet), listed(words.keys()), code(word))
        }
        _ => format!("The sheet of the {} names no protocols.", board(sheet)),
    };
    each(judged, said)
}

/// A board.
pub fn of_board(judged: &Judged, name: &str) -> String {
    let Some(sheet) = judged.sheets.iter().find(|sheet| sheet.board == name) else {
        return format!("Nothing at hand describes a board {}.", code(name));
    };
    let functions: Vec<&String> = binding::functions(sheet).into_iter().map(|function| &function.0).collect();
    let settings = sheet.settings.len();
    format!(
        "{}, from {}: {}, {} by words of the language; functions {}. Sheet {}.",
        board(sheet),
        code(&sheet.origin),
        titles::count(sheet.corners.len(), "motor"),
        titles::count(settings, "setting"),
        listed(functions.into_iter()),
        code(&sheet.hash[..sheet.hash.len().min(16)])
    )
}

fn board(sheet: &Sheet) -> String {
    strong(&sheet.board)
}

fn listed<'w>(words: impl Iterator<Item = &'w String>) -> String {
    words.map(|word| code(word)).collect::<Vec<_>>().join(", ")
}

/// A sentence for each sheet, or that there is none.
fn each(judged: &Judged, said: impl Fn(&Sheet) -> String) -> Option<String> {
    let all: Vec<String> = judged.sheets.iter().map(said).collect();
    if all.is_empty() { None } else { Some(all.join("\n\n")) }
}

fn entry_words(sheet: &Sheet, word: &str, entry: &SettingEntry) -> String {
    let unit = |unit: &str| if unit.is_empty() { String::new() } else { format!(" in {}", code(unit)) };
    let takes = match &entry.form {
        Form::Words(words) => format!("one of {}", listed(words.keys())),
        Form::Whole { unit: one, only } if !only.is_empty() => {
            let only: Vec<String> = only.iter().map(ToString::to_string).collect();
            format!("one of {}{}", only.join(", "), unit(one))
        }
        Form::Whole { unit: one, .. } => format!("a whole number{}", unit(one)),
        Form::Real { unit: one } => format!("a number{}", unit(one)),
    };
    let range = entry.range.map(|(least, most)| format!(", from {least} to {most}")).unwrap_or_default();
    let facts = [
        (entry.restart, "; a change takes a restart"),
        (entry.effect == Effect::TurnsMotors, "; a change can turn a motor while the battery is in"),
        (entry.craft_own, "; it belongs to the single craft"),
    ];
    let facts: String = facts.into_iter().filter(|(so, _)| *so).map(|(_, words)| words).collect();
    let (board, word, name) = (board(sheet), code(word), code(entry.name.as_str()));
    format!("On the {board} {word} is {name}, {takes}{range}{facts}.")
}
