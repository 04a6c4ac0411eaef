//! Whether a sheet is for the board on the wire.
//!
//! A sheet that does not match is refused: it would name the wrong settings. Must not be here:
//! asking the board who it is.

use super::document::reader::escaped;
use super::sheet::{Settings, Sheet};
use super::signals::Identity;
use super::value::SettingName;
use thiserror::Error;

/// Why a sheet is not for a board.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[expect(missing_docs, reason = "the fields are the parts of the sentence above them")]
pub enum Mismatch {
    /// The board calls its kind by another name.
    #[error(
        "the sheet {sheet} is for boards of the kind \"{wanted}\"; this board says that it is \"{}\"",
        escaped(found)
    )]
    Kind { sheet: String, wanted: String, found: String },
    /// Settings that the sheet's boards have are not there.
    #[error("the sheet {sheet} is not for this board, which lacks what the sheet says must exist: {}", names(missing))]
    Missing { sheet: String, missing: Vec<SettingName> },
}

/// Why no sheet was chosen.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ChooseError {
    /// No sheet matches; for each, why.
    #[error("no sheet is for this board: {}", reasons(.0))]
    None(Vec<Mismatch>),
    /// More than one matches: the boards' names.
    #[error("more than one sheet is for this board: {}; name one with --sheet", .0.join(", "))]
    Several(Vec<String>),
}

fn names(missing: &[SettingName]) -> String {
    missing.iter().map(SettingName::as_str).collect::<Vec<_>>().join(", ")
}

fn reasons(all: &[Mismatch]) -> String {
    all.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}

/// Judges a board's kind and settings by a sheet.
///
/// # Errors
/// Another kind, or settings missing that the sheet says must exist.
pub fn matches(sheet: &Sheet, identity: &Identity, settings: &Settings) -> Result<(), Mismatch> {
    // A board that was named because it says nothing of itself is told by its settings alone.
    let unsaid = identity.name.is_some() && identity.kind.is_empty();
    if let Some(wanted) = &sheet.kind
        && *wanted != identity.kind
        && !unsaid
    {
        let (sheet, found) = (sheet.origin.clone(), identity.kind.clone());
        return Err(Mismatch::Kind { sheet, wanted: wanted.clone(), found });
    }
    let missing = absent(&sheet.must_have, settings);
    if missing.is_empty() { Ok(()) } else { Err(Mismatch::Missing { sheet: sheet.origin.clone(), missing }) }
}

/// The one sheet that is for a board.
///
/// # Errors
/// None or several of them.
pub fn choose<'s>(sheets: &'s [Sheet], identity: &Identity, settings: &Settings) -> Result<&'s Sheet, ChooseError> {
    let mut fit = Vec::new();
    let mut unfit = Vec::new();
    for sheet in sheets {
        match matches(sheet, identity, settings) {
            Ok(()) => fit.push(sheet),
            Err(why) => unfit.push(why),
        }
    }
    match fit.as_slice() {
        [] => Err(ChooseError::None(unfit)),
        [one] => Ok(one),
        several => Err(ChooseError::Several(several.iter().map(|sheet| sheet.board.clone()).collect())),
    }
}

/// Those of the names that the board does not have.
#[must_use]
pub fn absent(names: &[SettingName], settings: &Settings) -> Vec<SettingName> {
    names.iter().filter(|name| !settings.contains_key(name)).cloned().collect()
}
