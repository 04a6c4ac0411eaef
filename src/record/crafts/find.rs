//! Which craft a person means.
//!
//! Promises: a craft goes by its name, its board's id or the name that was typed, never by a part of one; where two fit,
//! neither is taken. Must not be here: reading what its record says.

use super::glance::folders;
use super::label::{self, Label};
use crate::board::craft_name::CraftName;
use crate::record::{RecordError, folder};
use std::path::{Path, PathBuf};

/// Why no craft was found.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotFound {
    /// There is none.
    #[error("there is no record of a craft called {}", .0.escape_debug())]
    None(String),
    /// Several.
    #[error("{count} crafts are called {}: {}", .name.escape_debug(), .folders.join(", "))]
    Several {
        /// The name.
        name: String,
        /// How many.
        count: usize,
        /// Their folders.
        folders: Vec<String>,
    },
    /// The disk's reason.
    #[error(transparent)]
    Record(#[from] RecordError),
}

/// The folder of the craft that goes by these words.
///
/// # Errors
/// None, or several.
pub fn find(crafts: &Path, words: &str) -> Result<PathBuf, NotFound> {
    let all = folders(crafts)?;
    let typed = CraftName::read(words).ok().map(|name| name.folder());
    let by_folder = |folder: &&PathBuf| {
        let name = folder.file_name().unwrap_or_default().to_string_lossy();
        name == words || typed.as_ref().is_some_and(|typed| name == *typed)
    };
    let mut found: Vec<&PathBuf> = all.iter().filter(by_folder).collect();
    if found.is_empty() {
        found = all.iter().filter(|folder| named(folder).is_some_and(|label| label.is(words))).collect();
    }
    match found.as_slice() {
        [] => Err(NotFound::None(words.to_owned())),
        [only] => Ok((*only).clone()),
        several => Err(NotFound::Several {
            name: words.to_owned(),
            count: several.len(),
            folders: several.iter().map(|folder| folder.display().to_string()).collect(),
        }),
    }
}

/// What a craft is called; nothing where its name can't be read.
#[must_use]
pub fn named(craft: &Path) -> Option<Label> {
    let file = craft.join(label::FILE);
    Label::parse(&file, &folder::bytes(&file).ok()??).ok()?
}
