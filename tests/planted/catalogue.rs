//! The catalogue: one entry a defect, in files by subject under `tests/planted/catalogue/`.
//!
//! An entry names the rule with its place in the documents, the file, the text that stands exactly once in it, what takes
//! its place, and the tests that must then fail. Guillemets in `old` mark the part that is replaced; without any it is
//! all of it. That part is an expression, or whole statements. `also` holds more of the same, where two rules each suffice.
//! Must not be here: how a defect is planted.

use crate::docs::{files, text};
use serde::Deserialize;
use std::collections::BTreeSet;

/// One rule taken out.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Defect {
    /// What it does, in a few words with hyphens.
    pub name: String,
    /// Document and section, and the rule.
    pub rule: String,
    /// The source file.
    file: String,
    /// What stands there.
    old: String,
    /// What takes its place.
    new: String,
    /// More that has to go with it.
    #[serde(default)]
    also: Vec<Also>,
    /// Each of these must fail.
    pub tests: BTreeSet<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Also {
    file: String,
    old: String,
    new: String,
}

impl Defect {
    /// File, what stands there, what takes its place.
    pub fn changes(&self) -> impl Iterator<Item = (&str, &str, &str)> {
        let also = self.also.iter().map(|also| (also.file.as_str(), also.old.as_str(), also.new.as_str()));
        std::iter::once((self.file.as_str(), self.old.as_str(), self.new.as_str())).chain(also)
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    defect: Vec<Defect>,
}

/// All entries, in the order of the files' names.
pub fn all() -> Vec<Defect> {
    let names = files("tests/planted/catalogue", ".toml");
    let read = |name: &std::path::PathBuf| {
        let name = name.to_string_lossy();
        toml::from_str::<File>(&text(&name)).unwrap_or_else(|error| panic!("{name}: {error}")).defect
    };
    names.iter().flat_map(read).collect()
}
