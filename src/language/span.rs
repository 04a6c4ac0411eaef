//! Where something stands: a file of the recipe and a byte range in it.

use std::ops::Range;

/// Index of a file in [`super::recipe::Recipe::files`]; 0 is the recipe that was named.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct FileId(pub usize);

/// A byte range in one file of a recipe. `start..end`, UTF-8 boundaries.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default)]
pub struct Span {
    /// The file.
    pub file: FileId,
    /// Bytes from the start of the file.
    pub range: Range<usize>,
}

impl From<&Span> for Span {
    fn from(span: &Span) -> Self {
        span.clone()
    }
}

/// A value and the place where it was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Spanned<T> {
    /// The value.
    pub value: T,
    /// Its place.
    pub span: Span,
}

/// A place as a person reads it: file name, line and column, both from 1, columns in characters.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
pub struct Place {
    /// File name as given, relative to the recipe's folder for used files.
    pub file: String,
    /// Line from 1; 0 where `file` is the statement itself, as it was typed.
    pub line: usize,
    /// Column in characters from 1.
    pub column: usize,
    /// Last line, inclusive.
    pub end_line: usize,
    /// Column after the last character.
    pub end_column: usize,
}

impl std::fmt::Display for Place {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.line {
            0 => write!(f, "`{}`", self.file),
            line => write!(f, "{}:{line}:{}", self.file, self.column),
        }
    }
}
