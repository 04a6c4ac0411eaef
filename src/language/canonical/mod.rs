//! The written canonical form of a recipe and the two hashes over it.
//!
//! Promises: the form is text in the language's own words, so that a person can read what was hashed; recipes that mean
//! the same have the same form, whatever their titles, comments, layout, units and order of clauses; its bytes stay the
//! same over versions of the program (golden files hold them). Must not be here: who signs or keeps a hash.

pub(crate) mod statement;

use super::recipe::{Craft, Given, Recipe, Turning};
use super::units::Quantity;
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
        let _ = write!(text, "given {} quantity", given.name.value);
        if let Some(default) = given.default {
            let _ = write!(text, " default {}", statement::any(default));
        }
        if let Some((least, most)) = given.range {
            let _ = write!(text, " from {} to {}", statement::any(least), statement::any(most));
        }
        text.push('\n');
    }
    for written in recipe.statements.iter().map(|statement| statement.written.text(&|name| in_open(recipe, name))) {
        let _ = writeln!(text, "{written}");
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
        if statement.written.givens().any(|name| value(recipe, name).is_none()) {
            return None;
        }
        let _ = writeln!(text, "{}", statement.written.text(&|name| in_filled(recipe, name)));
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
    Sha256::digest(text).iter().fold(String::new(), |mut hex, byte| {
        let _ = write!(hex, "{byte:02x}");
        hex
    })
}

/// What stands for a parameter's name in [`open`].
pub(super) fn in_open(recipe: &Recipe, name: &str) -> Slot {
    match find(recipe, name) {
        Some(Given { stands_for: Some(open), .. }) => Slot::Name(open.clone()),
        Some(Given { value: Some(value), .. }) => Slot::Value(*value),
        _ => Slot::Name(name.to_owned()),
    }
}

/// What stands for a parameter's name in [`filled`].
fn in_filled(recipe: &Recipe, name: &str) -> Slot {
    value(recipe, name).map_or_else(|| Slot::Name(name.to_owned()), Slot::Value)
}

/// What a statement shows where it names a parameter.
pub(crate) enum Slot {
    Name(String),
    Value(Quantity),
}

fn find<'r>(recipe: &'r Recipe, name: &str) -> Option<&'r Given> {
    recipe.givens.iter().find(|given| given.name.value == name)
}

fn value(recipe: &Recipe, name: &str) -> Option<Quantity> {
    find(recipe, name)?.value
}

/// Whether a parameter stands open by its own name.
fn is_own(given: &Given) -> bool {
    given.stands_for.as_ref() == Some(&given.name.value)
}

fn head(schema: &str, recipe: &Recipe) -> String {
    let Craft { frame, turning } = recipe.craft.value;
    let turning = match turning {
        None => "",
        Some(Turning::Inward) => " turning inward",
        Some(Turning::Outward) => " turning outward",
    };
    let mut text = format!("{schema}\nedition 1\ncraft {}{turning}\n", frame.words());
    for board in &recipe.boards {
        let _ = writeln!(text, "board {}", statement::quoted(&board.value));
    }
    for firmware in &recipe.firmware {
        let _ = writeln!(text, "require firmware {}", statement::quoted(&firmware.value.0));
    }
    text
}
