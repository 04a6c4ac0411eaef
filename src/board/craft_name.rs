//! What a craft is called whose board gives no id that tells it from every other.
//!
//! Promises: a name is short, plain and one spelling of itself, so that it names a folder, can't lead out of one, is no
//! board's id, and can't pass for the mark of a virtual board. Must not be here: asking for it.

use serde::{Deserialize, Serialize};
use thiserror::Error;

/// The longest name, in characters.
pub const LONGEST: usize = 32;

/// A name as it was typed, in small letters and with `-` for every blank: however it is written, it is the same craft.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct CraftName(String);

/// Why a text names no craft.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum NotAName {
    /// Too long, or with something else in it.
    #[error("a name is letters a to z, digits, and single blanks or `-` between them, {LONGEST} characters at most")]
    Form,
    /// It says of itself what only an id may say.
    #[error("a name may not say VIRTUAL: that is the mark of virtual boards")]
    Virtual,
}

impl CraftName {
    /// Reads a typed name.
    ///
    /// # Errors
    /// What a name has to be like.
    pub fn read(text: &str) -> Result<Self, NotAName> {
        let name = text.trim_matches(' ').to_ascii_lowercase().replace(' ', "-");
        let part = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_alphanumeric());
        if name.len() > LONGEST || !name.split('-').all(part) {
            return Err(NotAName::Form);
        }
        if name.replace('-', "").contains("virtual") {
            return Err(NotAName::Virtual);
        }
        Ok(Self(name))
    }

    /// The name of its folder: no id, which is hex digits alone.
    #[must_use]
    pub fn folder(&self) -> String {
        format!("named-{}", self.0)
    }
}

impl std::fmt::Display for CraftName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl TryFrom<String> for CraftName {
    type Error = NotAName;

    fn try_from(text: String) -> Result<Self, NotAName> {
        Self::read(&text)
    }
}

impl From<CraftName> for String {
    fn from(name: CraftName) -> Self {
        name.0
    }
}
