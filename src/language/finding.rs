//! A finding: what a check says about a recipe. One value, shown as text, JSON or editor diagnostic.

use super::codes;
use super::limits;
use super::span::Span;

/// The file name of what was typed at the prompt.
pub const SESSION: &str = "this session";

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

impl Finding {
    /// A finding of a severity, without other places, hints or replacements.
    #[must_use]
    pub fn new(severity: Severity, code: &'static str, span: impl Into<Span>, message: impl Into<String>) -> Self {
        let (message, span) = (message.into(), span.into());
        Self { code, severity, message, span, also: Vec::new(), hints: Vec::new(), fixes: Vec::new() }
    }

    /// An error.
    #[must_use]
    pub fn error(code: &'static str, span: impl Into<Span>, message: impl Into<String>) -> Self {
        Self::new(Severity::Error, code, span, message)
    }

    /// A warning.
    #[must_use]
    pub fn warning(code: &'static str, span: impl Into<Span>, message: impl Into<String>) -> Self {
        Self::new(Severity::Warning, code, span, message)
    }

    /// A finding that is no more than a hint.
    #[must_use]
    pub fn suggestion(code: &'static str, span: impl Into<Span>, message: impl Into<String>) -> Self {
        Self::new(Severity::Hint, code, span, message)
    }

    /// The same, with another place and its words.
    #[must_use]
    pub fn also(mut self, span: impl Into<Span>, words: impl Into<String>) -> Self {
        self.also.push((span.into(), words.into()));
        self
    }

    /// The same, with something to do.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }

    /// The same, with a replacement that an editor can apply.
    #[must_use]
    pub fn fix(mut self, fix: Fix) -> Self {
        self.fixes.push(fix);
        self
    }

    /// As [`Finding::fix`], from its parts.
    #[must_use]
    pub fn replace(self, title: impl Into<String>, span: impl Into<Span>, replacement: impl Into<String>) -> Self {
        self.fix(Fix { title: title.into(), span: span.into(), replacement: replacement.into() })
    }
}

/// Puts findings in the order in which a reader meets their places; worst first at one place.
pub fn sort(findings: &mut [Finding]) {
    let key = |f: &Finding| (f.span.file, f.span.range.start, std::cmp::Reverse(f.severity), f.span.range.end, f.code);
    findings.sort_by(|a, b| key(a).cmp(&key(b)).then_with(|| a.message.cmp(&b.message)));
}

/// Sorts findings, and keeps the first [`limits::FINDINGS`]: behind so many, one says how many there are, as bad as
/// the worst of them.
pub fn bound(findings: &mut Vec<Finding>) {
    sort(findings);
    findings.dedup();
    if findings.len() <= limits::FINDINGS {
        return;
    }
    let rest = findings.split_off(limits::FINDINGS);
    let worst = rest.iter().map(|finding| finding.severity).max().unwrap_or(Severity::Error);
    let message = format!("from here on there are {} findings more, which are not told", rest.len());
    let place = rest.into_iter().next().map(|first| first.span).unwrap_or_default();
    findings.push(Finding::new(worst, codes::TOO_MANY_FINDINGS, place, message).hint("mend those above first"));
}

/// A clause that stands twice.
pub(crate) fn repeated_clause(second: Span, first: Span) -> Finding {
    Finding::error(codes::REPEATED_CLAUSE, second, "this clause stands a second time in one statement")
        .also(first, "the first")
        .hint("keep one of them")
}
