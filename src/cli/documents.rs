//! Board sheets and radio cards as the command line names them: shipped by name, or a file.
//!
//! Promises: a name that is shipped wins over a file of that name, as `--help` says; whatever is
//! wrong with a document is told whole. Must not be here: what a document means.

use crate::board::document::DocumentError;
use crate::board::document::load::LoadError;
use crate::board::radio_card::RadioCard;
use crate::board::sheet::Sheet;
use crate::board::{radio_card_file, sheet_file, shipped};
use crate::language::nearest::nearest;
use crate::language::recipe::Recipe;
use std::path::Path;

/// Why a document could not be had.
#[derive(Debug, thiserror::Error)]
pub enum ChosenError {
    /// Neither shipped nor a file.
    #[error("there is no {kind} `{name}`: neither a file nor one of those that come with quadjig ({})", .shipped.join(", "))]
    Unknown {
        /// What was asked for.
        kind: &'static str,
        /// How it was named.
        name: String,
        /// The names that would do.
        shipped: Vec<&'static str>,
        /// The one that was most likely meant.
        near: Option<&'static str>,
    },
    /// A file that cannot be used.
    #[error(transparent)]
    Load(#[from] LoadError),
}

impl ChosenError {
    /// What to do.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        match self {
            Self::Unknown { near: Some(near), .. } => Some(format!("did you mean `{near}`?")),
            _ => None,
        }
    }
}

fn unknown(kind: &'static str, name: &str, shipped: &'static [shipped::Shipped]) -> ChosenError {
    let shipped: Vec<&'static str> = shipped.iter().map(|one| one.stem).collect();
    let near = nearest(name, shipped.iter().copied());
    ChosenError::Unknown { kind, name: name.to_owned(), shipped, near }
}

/// The sheet that `--sheet` names.
///
/// # Errors
/// No such sheet, or all that is wrong with it.
pub fn sheet(name: &str) -> Result<Sheet, ChosenError> {
    match shipped::sheet(name) {
        Some(sheet) => Ok(sheet.map_err(LoadError::Document)?),
        None if !Path::new(name).exists() => Err(unknown("board sheet", name, shipped::SHEETS)),
        None => Ok(sheet_file::load(Path::new(name))?),
    }
}

/// The card that `--radio` names.
///
/// # Errors
/// No such card, or all that is wrong with it.
pub fn radio_card(name: &str) -> Result<RadioCard, ChosenError> {
    match shipped::radio_card(name) {
        Some(card) => Ok(card.map_err(LoadError::Document)?),
        None if !Path::new(name).exists() => Err(unknown("radio card", name, shipped::RADIOS)),
        None => Ok(radio_card_file::load(Path::new(name))?),
    }
}

/// The sheets of the boards that a recipe was written for: one's own before those that are shipped.
///
/// # Errors
/// A shipped sheet that its own reader refuses.
pub fn sheets_for(recipe: &Recipe, own: &[Sheet]) -> Result<Vec<Sheet>, DocumentError> {
    let mut sheets: Vec<Sheet> = Vec::new();
    for board in &recipe.boards {
        match own.iter().find(|sheet| sheet.board == board.value) {
            Some(sheet) => sheets.push(sheet.clone()),
            None => sheets.extend(shipped::sheet(&board.value).transpose()?),
        }
    }
    Ok(sheets)
}

/// The shipped sheets of the boards that a recipe was written for.
///
/// # Errors
/// A shipped sheet that its own reader refuses.
pub fn shipped_for(recipe: &Recipe) -> Result<Vec<Sheet>, DocumentError> {
    sheets_for(recipe, &[])
}
