//! What a run was made from: program, recipe, sheet and card by their hashes, parameters as they were given, who sat there.
//!
//! Promises: it stands in the journal with the run's beginning, and each text that was read is kept under its own hash;
//! the journals of versions before have none. Must not be here: what the run did with it.

use super::{StoreJob, StorePlace};
use crate::language::canonical::sha256;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// See the module.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Provenance {
    /// Version of the program.
    pub program: String,
    /// Who sat at the bench, if said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub operator: Option<String>,
    /// What a review signs; none where no recipe was run.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recipe_hash: Option<String>,
    /// The same with parameters and sheet filled in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub filled_hash: Option<String>,
    /// Every file of the recipe, the named one first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub files: Vec<Input>,
    /// The board sheet.
    pub sheet: Input,
    /// The radio card as it was at the beginning; none where nothing was known of the radio.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub radio_card: Option<Input>,
    /// The radio card as it was named; none where the craft's own was used.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub radio: Option<String>,
    /// Parameters as they were given, such as `idle-floor=1120us`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub with: Vec<String>,
    /// The series that it belongs to, if to one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub series: Option<String>,
    /// What was measured and said, relative to the craft's folder (see `run_log`).
    pub log: String,
}

/// A text that a run was made from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Input {
    /// What it was called.
    pub name: String,
    /// SHA-256 of its bytes, lower-case hex.
    pub sha256: String,
}

impl Input {
    /// A text by its name.
    #[must_use]
    pub fn of(name: &str, text: &str) -> Self {
        Self { name: name.to_owned(), sha256: sha256(text) }
    }

    /// Where its text is kept, relative to the craft's folder.
    #[must_use]
    pub fn file(&self) -> String {
        format!("inputs/{}", self.sha256)
    }

    /// The same, where its hash is one: a record may say anything.
    #[must_use]
    pub fn kept(&self) -> Option<PathBuf> {
        let hash = self.sha256.len() == 64 && self.sha256.bytes().all(|byte| byte.is_ascii_hexdigit());
        hash.then(|| self.file().into())
    }

    /// The text for the disk.
    #[must_use]
    pub fn store(&self, text: &str) -> StoreJob {
        StoreJob { place: StorePlace::Once(self.file().into()), bytes: text.as_bytes().to_vec(), append: false }
    }
}
