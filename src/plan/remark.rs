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

impl fmt::Display for Remark {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            Some(line) => write!(f, "Line {line}: {}", self.text),
            None => f.write_str(&self.text),
        }
    }
}
