//! Which kind of document a TOML file is, and what is wrong with it.
//!
//! Promises: told by what the text says of itself, else by the folder that it lies in. Must not be here: files.

use super::DocumentError;
use crate::board::{radio_card_file, sheet_file};
use crate::language::checks::codes;
use std::path::Path;

/// Which document.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DocumentKind {
    /// A board sheet.
    Sheet,
    /// A radio card.
    Card,
}

impl DocumentKind {
    /// What calls itself a radio's or a board's, or lies where one of them belongs.
    #[must_use]
    pub fn of(path: &Path, text: &str) -> Option<Self> {
        let says = |key: &str| {
            text.lines()
                .take_while(|line| !line.trim_start().starts_with('['))
                .any(|line| line.trim_start().strip_prefix(key).is_some_and(|rest| rest.trim_start().starts_with('=')))
        };
        let lies_in = |name: &str| path.parent().and_then(Path::file_name).is_some_and(|folder| folder == name);
        match () {
            () if says("radio") => Some(Self::Card),
            () if says("board") => Some(Self::Sheet),
            () if lies_in("radios") => Some(Self::Card),
            () if lies_in("boards") => Some(Self::Sheet),
            () => None,
        }
    }

    /// The code of what is wrong with one.
    #[must_use]
    pub fn code(self) -> &'static str {
        match self {
            Self::Sheet => codes::SHEET_WRONG,
            Self::Card => codes::CARD_WRONG,
        }
    }

    /// What is wrong with a text as such a document.
    #[must_use]
    pub fn wrong(self, origin: &str, text: &str) -> Option<DocumentError> {
        match self {
            Self::Sheet => sheet_file::read(origin, text).err(),
            Self::Card => radio_card_file::read(origin, text).err(),
        }
    }
}
