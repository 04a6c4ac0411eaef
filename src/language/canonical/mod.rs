//! The written canonical form of a recipe and the two hashes over it.
//!
//! Promises: the form is text in the language's own words, so that a person can read what was hashed; recipes that mean
//! the same have the same form, whatever their titles, comments, layout, units and order of clauses; its bytes stay the
//! same over versions of the program (golden files hold them). Must not be here: who signs or keeps a hash.

pub(crate) mod statement;

use super::recipe::{Given, GivenKind, GivenValue, Recipe};
use super::span::FileId;
use sha2::{Digest, Sha256};
use std::fmt::Write;

/// First line of the form with the parameters open.
pub const RECIPE_SCHEMA: &str = "quadjig.recipe/1";
/// First line of the form with the parameters filled.
pub const FILLED_SCHEMA: &str = "quadjig.filled/1";

/// What a review signs: used files taken in, parameters open, with kind, default and range. A value from `--with`
/// within them changes nothing here.
#[must_use]
pub fn open(recipe: &Recipe) -> String {
    let mut text = head(RECIPE_SCHEMA, recipe);
    let mut givens: Vec<&Given> = recipe.givens.iter().filter(|given| is_own(given)).collect();
    // In which order parameters are declared means nothing.
    givens.sort_by_key(|given| &given.name.value);
    for given in givens {
        // Writing into a string cannot fail.
        let _ = write!(text, "given {} ", given.name.value);
        match &given.kind {
            GivenKind::Quantity => text.push_str("quantity"),
            GivenKind::Switch => text.push_str("switch"),
            GivenKind::Word(words) => {
                // In which order a list stands means nothing.
                let mut words = words.clone();
                words.sort_unstable();
                let _ = write!(text, "one of {}", words.join(", "));
            }
        }
        if let Some(default) = &given.default {
            let _ = write!(text, " default {}", statement::any(default));
        }
        if let Some((least, most)) = given.range {
            let bound = |bound| statement::any(&GivenValue::Quantity(bound));
            let _ = write!(text, " from {} to {}", bound(least), bound(most));
        }
        text.push('\n');
    }
    for statement in &recipe.statements {
        statement.written.write(&|given| in_open(recipe, given), &mut text);
        text.push('\n');
    }
    text
}

/// What a record keeps: parameters filled, and the hashes of the sheets used with it. `None` while a parameter that
/// a statement uses has no value.
#[must_use]
pub fn filled(recipe: &Recipe, sheets: &[&str]) -> Option<String> {
    let mut text = head(FILLED_SCHEMA, recipe);
    let mut sheets = sheets.to_vec();
    sheets.sort_unstable();
    for sheet in sheets {
        let _ = writeln!(text, "sheet {sheet}");
    }
    for statement in &recipe.statements {
        if statement.written.givens().any(|given| recipe.givens[given].value.is_none()) {
            return None;
        }
        statement.written.write(&|given| in_filled(recipe, given), &mut text);
        text.push('\n');
    }
    Some(text)
}

/// The hash of [`open`].
#[must_use]
pub fn recipe_hash(recipe: &Recipe) -> String {
    sha256(&open(recipe))
}

/// The hash of [`filled`].
#[must_use]
pub fn filled_hash(recipe: &Recipe, sheets: &[&str]) -> Option<String> {
    filled(recipe, sheets).map(|text| sha256(&text))
}

/// SHA-256 as lower-case hexadecimal.
#[must_use]
pub fn sha256(text: &str) -> String {
    hex(&Sha256::digest(text))
}

/// Bytes as lower-case hexadecimal.
#[must_use]
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut hex, byte| {
        // Writing into a string cannot fail.
        let _ = write!(hex, "{byte:02x}");
        hex
    })
}

/// What stands for a parameter in [`open`].
pub(super) fn in_open(recipe: &Recipe, given: usize) -> Slot {
    match &recipe.givens[given] {
        Given { stands_for: Some(open), .. } => Slot::Name(open.clone()),
        Given { value: Some(value), .. } => Slot::Value(value.clone()),
        Given { name, .. } => Slot::Name(name.value.clone()),
    }
}

/// What stands for a parameter in [`filled`].
fn in_filled(recipe: &Recipe, given: usize) -> Slot {
    let Given { name, value, .. } = &recipe.givens[given];
    value.clone().map_or_else(|| Slot::Name(name.value.clone()), Slot::Value)
}

/// What a statement shows where it names a parameter.
pub(crate) enum Slot {
    Name(String),
    Value(GivenValue),
}

/// Whether a parameter is the named recipe's.
fn is_own(given: &Given) -> bool {
    given.name.span.file == FileId(0)
}

fn head(schema: &str, recipe: &Recipe) -> String {
    let mut text = format!("{schema}\nedition 1\n");
    if let Some(craft) = &recipe.craft {
        let _ = writeln!(text, "craft {}", craft.value);
    }
    for board in &recipe.boards {
        let _ = writeln!(text, "board {}", statement::quoted(&board.value));
    }
    for firmware in &recipe.firmware {
        let _ = writeln!(text, "require firmware {}", statement::quoted(&firmware.value.0));
    }
    text
}
