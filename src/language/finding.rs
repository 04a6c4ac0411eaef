//! A finding: what a check says about a recipe. One value, shown as text, JSON or editor diagnostic.

use super::span::Span;

/// How bad. Only an error changes the exit code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "lowercase")]
#[expect(missing_docs, reason = "the words are the language's")]
pub enum Severity {
    Hint,
    Warning,
    Error,
}

/// A replacement that an editor can apply.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fix {
    /// What it does, for a menu.
    pub title: String,
    /// Where.
    pub span: Span,
    /// With what.
    pub replacement: String,
}

/// One finding. Collected, never first only.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// Stable short code of the project's own.
    pub code: &'static str,
    /// How bad.
    pub severity: Severity,
    /// A sentence that says what would happen at the bench.
    pub message: String,
    /// What it points at.
    pub span: Span,
    /// Other places that belong to it, each with its own words.
    pub also: Vec<(Span, String)>,
    /// What to do.
    pub hints: Vec<String>,
    /// Replacements.
    pub fixes: Vec<Fix>,
}
