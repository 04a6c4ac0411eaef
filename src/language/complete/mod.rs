//! What may stand next in a statement that is being typed.
//!
//! Must not be here: the prompt's own words, files, terminals.

/// A word that may stand next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Candidate {
    /// The word as it is written.
    pub text: String,
    /// What it is, in a few words; may be empty.
    pub about: String,
}

impl AsRef<str> for Candidate {
    fn as_ref(&self) -> &str {
        &self.text
    }
}
