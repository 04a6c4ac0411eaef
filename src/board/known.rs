//! What a board sheet knows that a statement may say: functions, settings, protocols, signals.
//!
//! Must not be here: completion itself, what a board holds, switches.

use super::binding;
use super::sheet::{Form, Sheet};
use super::vocabulary;
use crate::language::known::Known;

/// All of it.
#[must_use]
pub fn of_sheet(sheet: &Sheet) -> Known {
    let words = |word: &str| match sheet.settings.get(word).map(|entry| &entry.form) {
        Some(Form::Words(words)) => words.keys().cloned().collect(),
        _ => Vec::new(),
    };
    Known {
        functions: binding::functions(sheet).into_iter().map(|function| function.0.clone()).collect(),
        settings: sheet
            .settings
            .keys()
            .filter(|word| vocabulary::word(word).is_some_and(|word| word.statement.is_none()))
            .map(|word| ((*word).to_owned(), words(word)))
            .collect(),
        raw: sheet.raw.keys().map(ToString::to_string).collect(),
        protocols: words("receiver-protocol"),
        signals: words("signal"),
        ..Known::default()
    }
}
