//! Something to know about a plan that keeps nothing from being done.
//!
//! Promises: where it is about a line, the line is a number of its own: nobody reads it out of the sentence.

use std::fmt;

/// Something to know about a plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// The line of the recipe that it is about, where it is about one.
    pub line: Option<usize>,
    /// A sentence.
    pub text: String,
}

/// Said of a test that was shown by the run that is finished, and of nothing else.
pub(super) const TAKEN_OVER: &str = "by the run that is finished here";

impl Remark {
    /// Whether it says that something was taken over from the run that is finished.
    #[must_use]
    pub fn is_taken_over(&self) -> bool {
        self.text.contains(TAKEN_OVER)
    }
}

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "Line {line}: {}", self.text),
            None => f.write_str(&self.text),
        }
    }
}
