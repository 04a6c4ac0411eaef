//! A series: one recipe, with the same parameters, on craft after craft, over as many days as it takes. One file a series
//! beside the folders of the crafts.
//!
//! Promises: what a series was begun with stays; what became of each craft stands in the craft's own record and nowhere
//! else, so that a run that was cut off, or finished later, is told as it is. Must not be here: the figures (see `rows`).

pub mod rows;

use super::lines::{self, Verdict};
use super::{RecordError, folder};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

/// Written into the first line.
pub const SCHEMA: &str = "quadjig.series/1";

/// The longest name.
const LONGEST: usize = 40;

/// What a series is called: it is part of a file's name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeriesName(String);

/// A text that is no name of a series.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("a series is called by lower case letters, digits and inner hyphens, at most {LONGEST}")]
pub struct NoSeriesName;

impl SeriesName {
    /// Reads it.
    ///
    /// # Errors
    /// What a name is like.
    pub fn read(text: &str) -> Result<Self, NoSeriesName> {
        let fits = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        let good = !text.is_empty() && text.len() <= LONGEST && text.chars().all(fits);
        let ends = text.starts_with('-') || text.ends_with('-');
        if good && !ends { Ok(Self(text.to_owned())) } else { Err(NoSeriesName) }
    }

    /// The name of a recipe's first series: its file's, as far as it fits.
    #[must_use]
    pub fn of_recipe(file: &Path) -> Self {
        let stem = file.file_stem().unwrap_or_default().to_string_lossy().to_ascii_lowercase();
        let fitting: String = stem
            .chars()
            .map(|c| if c.is_ascii_lowercase() || c.is_ascii_digit() { c } else { '-' })
            .take(LONGEST)
            .collect();
        Self::read(fitting.trim_matches('-')).unwrap_or_else(|_| Self("series".to_owned()))
    }

    /// The name.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Its file, beside the folders of the crafts.
    #[must_use]
    pub fn file(&self, crafts: &Path) -> PathBuf {
        crafts.join(format!("series-{}.jsonl", self.0))
    }

    /// Its radio card, where no other is named.
    #[must_use]
    pub fn card(&self, crafts: &Path) -> PathBuf {
        crafts.join(format!("series-{}-radio.toml", self.0))
    }
}

impl std::fmt::Display for SeriesName {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

/// What all crafts of a series have in common.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Common {
    /// [`SCHEMA`].
    pub schema: String,
    /// When it began, RFC 3339.
    pub at: String,
    /// Version of the program.
    pub program: String,
    /// Title of the recipe.
    pub recipe: String,
    /// What a review signs.
    pub recipe_hash: String,
    /// Parameters as they were given.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub with: Vec<String>,
}

/// One line of a series' file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "event")]
pub enum Line {
    /// It begins.
    Begin(Common),
    /// It goes on, after a stop or on another day.
    GoesOn {
        /// When, RFC 3339.
        at: String,
    },
    /// It was stopped: no other craft was wanted then.
    Stopped {
        /// When, RFC 3339.
        at: String,
    },
}

impl Line {
    /// The line's bytes.
    ///
    /// # Errors
    /// [`RecordError::Other`] for a value that JSON can't hold.
    pub fn bytes(&self) -> Result<Vec<u8>, RecordError> {
        Ok(lines::append("series", self)?.bytes)
    }
}

/// What a series' file says it was begun with.
///
/// # Errors
/// [`RecordError::Unreadable`] where another version wrote it, or its first line is damaged.
pub fn parse(file: &Path, bytes: &[u8]) -> Result<Common, RecordError> {
    let read = lines::read(file, bytes, |line: &Line, summed| match line {
        Line::Begin(common) if common.schema != SCHEMA => Verdict::Foreign,
        _ if summed => Verdict::Fine,
        _ => Verdict::Damaged,
    })?;
    match read.lines.into_iter().next() {
        Some(Ok(Line::Begin(common))) => Ok(common),
        _ => Err(RecordError::Unreadable { file: file.to_owned(), line: 1 }),
    }
}

/// The names of all series.
///
/// # Errors
/// The folder can't be read; where there is none, there are none.
pub fn names(crafts: &Path) -> Result<Vec<SeriesName>, RecordError> {
    let mut names = Vec::new();
    for entry in folder::entries(crafts)? {
        let name = entry.file_name().to_string_lossy().into_owned();
        let stem = name.strip_prefix("series-").and_then(|rest| rest.strip_suffix(".jsonl"));
        names.extend(stem.and_then(|stem| SeriesName::read(stem).ok()));
    }
    names.sort_by(|a, b| a.0.cmp(&b.0));
    Ok(names)
}

#[cfg(test)]
mod tests {
    use super::SeriesName;
    use std::path::Path;

    #[test]
    fn a_name_never_leads_elsewhere() {
        for bad in ["", "-a", "a-", "A", "a/b", "..", "a b", &"a".repeat(41)] {
            assert!(SeriesName::read(bad).is_err(), "{bad}");
        }
        for (file, name) in
            [("crafts/Wren 95.jig", "wren-95"), ("../..", "series"), ("\u{e4}\u{e4}.jig", "series"), ("a.b.jig", "a-b")]
        {
            assert_eq!(SeriesName::of_recipe(Path::new(file)).as_str(), name);
        }
    }
}
