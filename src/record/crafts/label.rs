//! What a craft is called: a name for people, beside the id or the typed name that its folder goes by.
//!
//! Promises: a name is one plain line, and replaced as one. Must not be here: which names are taken.

use crate::language::characters::is_hidden;
use crate::record::{RecordError, StoreJob, lines};
use serde::{Deserialize, Serialize};
use std::path::Path;

/// Written into the file.
pub const SCHEMA: &str = "quadjig.craft/1";

/// The file in the craft's folder.
pub const FILE: &str = "craft.json";

/// The longest name, in characters.
const LONGEST: usize = 40;

/// The file's content.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Label {
    /// [`SCHEMA`].
    pub schema: String,
    /// The name.
    pub name: String,
    /// Since when, RFC 3339.
    pub at: String,
}

/// A text that is no name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotALabel {
    /// Its form.
    #[error("a name is one line of at most {LONGEST} characters, and does not begin with `-`")]
    Form,
    /// It looks like what only a board may say.
    #[error("a name may not look like a board's id, nor say VIRTUAL")]
    Id,
}

impl Label {
    /// A name, from now on.
    ///
    /// # Errors
    /// What a name has to be like.
    pub fn new(name: &str, at: String) -> Result<Self, NotALabel> {
        let name = name.trim();
        let count = name.chars().count();
        if count == 0 || count > LONGEST || name.starts_with('-') || name.chars().any(is_hidden) {
            return Err(NotALabel::Form);
        }
        let hex = name.len() == 16 && name.bytes().all(|byte| byte.is_ascii_hexdigit());
        if hex || name.to_ascii_lowercase().contains("virtual") {
            return Err(NotALabel::Id);
        }
        Ok(Self { schema: SCHEMA.to_owned(), name: name.to_owned(), at })
    }

    /// Whether a person means this one by these words.
    #[must_use]
    pub fn is(&self, words: &str) -> bool {
        self.name.eq_ignore_ascii_case(words.trim())
    }

    /// Reads the file's bytes; `None` where they are damaged.
    ///
    /// # Errors
    /// [`RecordError::Unreadable`] where it is of another schema.
    pub fn parse(file: &Path, bytes: &[u8]) -> Result<Option<Self>, RecordError> {
        let read = lines::replaced::<Self>(file, bytes, SCHEMA)?;
        // Edited by hand, it has to be a name all the same.
        Ok(read.filter(|label| Self::new(&label.name, String::new()).is_ok()))
    }

    /// The file for the disk.
    ///
    /// # Errors
    /// [`RecordError::Other`] for a value that JSON can't hold.
    pub fn store(&self) -> Result<StoreJob, RecordError> {
        lines::replace(FILE, self)
    }
}
