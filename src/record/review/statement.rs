//! What a reviewer states: which recipe, by its hashes, with which sheets, and what was done to review it.
//!
//! Promises: a statement is bounded and strict: a field that it does not know, a hash that is none, or a text of several
//! lines is refused. Must not be here: signatures.

use crate::language::characters::is_hidden;
use serde::{Deserialize, Serialize};

/// Written into every statement.
pub const SCHEMA: &str = "quadjig.review/1";

/// Longest text of a field, in characters.
const LONGEST: usize = 400;
/// Most entries of a list.
const MOST: usize = 200;

/// See the module.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Statement {
    /// [`SCHEMA`].
    pub schema: String,
    /// Who states it, as the allowed-signers file names them.
    pub reviewer: String,
    /// When, RFC 3339, as they say.
    pub at: String,
    /// Title of the recipe.
    pub recipe: String,
    /// The recipe hash, as `check` tells it.
    pub recipe_hash: String,
    /// What was done: read, rehearsed, run.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub criteria: Vec<String>,
    /// Statements that are withdrawn by this one, by the SHA-256 of their files.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub withdraws: Vec<String>,
    /// Why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
    /// Every file of the recipe, the named one first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub files: Vec<Reviewed>,
    /// The board sheets that it was reviewed with.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sheets: Vec<Reviewed>,
}

/// A text that was reviewed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reviewed {
    /// A file relative to the recipe's root, or a board.
    pub name: String,
    /// SHA-256 of its bytes.
    pub sha256: String,
}

/// A text that is no statement.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotAStatement {
    /// Its form.
    #[error("it is no review that this version can read: {0}")]
    Form(String),
    /// Another version's.
    #[error("its schema is not {SCHEMA}")]
    Schema,
    /// A field that can't be so.
    #[error("its `{0}` can't be so")]
    Field(&'static str),
}

/// Whether a text is the SHA-256 of something.
fn is_hash(text: &str) -> bool {
    text.len() == 64 && text.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
}

/// Whether a reviewer may be called so: one word, which means only itself in an allowed-signers file.
#[must_use]
pub fn is_reviewer(name: &str) -> bool {
    let fits = |c: char| c.is_ascii_alphanumeric() || "@._+-".contains(c);
    !name.is_empty() && name.len() <= 64 && name.chars().all(fits) && !name.starts_with('-')
}

impl Statement {
    /// Reads a statement's text.
    ///
    /// # Errors
    /// What keeps it from being one.
    pub fn parse(text: &str) -> Result<Self, NotAStatement> {
        let read: Self = toml::from_str(text).map_err(|error| NotAStatement::Form(error.message().to_owned()))?;
        if read.schema != SCHEMA {
            return Err(NotAStatement::Schema);
        }
        let line = |text: &str| text.chars().count() <= LONGEST && !text.chars().any(is_hidden);
        let moment = read.at.parse::<jiff::Timestamp>().is_ok();
        let withdrawal = !read.withdraws.is_empty();
        let texts = read.criteria.iter().chain(&read.reason);
        let names = read.files.iter().chain(&read.sheets);
        let few = [read.criteria.len(), read.withdraws.len(), read.files.len(), read.sheets.len()];
        for (field, good) in [
            ("reviewer", is_reviewer(&read.reviewer)),
            ("at", moment),
            ("recipe", line(&read.recipe)),
            ("recipe_hash", is_hash(&read.recipe_hash)),
            ("criteria", read.criteria.is_empty() == withdrawal && texts.clone().all(|text| line(text))),
            ("withdraws", read.withdraws.iter().all(|hash| is_hash(hash))),
            ("reason", read.reason.is_some() == withdrawal),
            ("files", read.files.is_empty() == withdrawal && few.into_iter().all(|count| count <= MOST)),
            ("sha256", names.clone().all(|one| is_hash(&one.sha256) && line(&one.name))),
        ] {
            if !good {
                return Err(NotAStatement::Field(field));
            }
        }
        Ok(read)
    }

    /// The statement's text, which is what is signed.
    ///
    /// # Errors
    /// A value that TOML can't hold.
    pub fn text(&self) -> Result<String, NotAStatement> {
        let about = if self.withdraws.is_empty() { "A review of a recipe" } else { "A review withdrawn" };
        let body = toml::to_string(self).map_err(|error| NotAStatement::Form(error.to_string()))?;
        Ok(format!("# {about}. Any change of this file voids its signature.\n\n{body}"))
    }
}
