//! A recipe that comes from elsewhere than its name says, such as through standard input, named `-`.
//!
//! Promises: no more is read than a recipe may be long; what it uses is looked for in the current folder. Must not be
//! here: questions, which standard input answers elsewhere.

use crate::language::root::Root;
use crate::language::sources::{Disk, Source, SourceError, Sources, text};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// How it is called in findings.
const NAME: &str = "standard input";

/// Whether a recipe was named `-`.
pub fn is_meant(recipe: &Path) -> bool {
    recipe.as_os_str() == "-"
}

/// What gives a text as the recipe that was named, and the disk for all that it uses.
pub struct Elsewhere<T>(pub T);

impl<T: Fn() -> Result<Arc<str>, SourceError>> Sources for Elsewhere<T> {
    fn read(&self, file: &Path) -> Result<Source, SourceError> {
        Ok(Source { text: (self.0)()?, identity: file.to_owned() })
    }

    fn root(&self, file: &Path) -> Root {
        Disk.root(file)
    }

    fn read_inside(&self, folder: &Path, file: &Path) -> Result<Source, SourceError> {
        Disk.read_inside(folder, file)
    }
}

/// Where a recipe comes from, and under which name.
pub fn source(recipe: &Path) -> (&'static dyn Sources, PathBuf) {
    let input = &Elsewhere(|| text(std::io::stdin().lock()));
    if is_meant(recipe) { (input, PathBuf::from(NAME)) } else { (&Disk, recipe.to_owned()) }
}

/// The root of what was named: a recipe, standard input, or a folder.
pub fn root(named: &Path) -> PathBuf {
    let inside = if named.is_dir() { named.join("-") } else { named.to_owned() };
    Disk.root(&inside).folder
}

/// The root of the current folder.
pub fn here() -> PathBuf {
    root(Path::new("-"))
}

/// What to say where standard input is named more than once: it can be read but once.
pub fn named_twice(recipes: &[PathBuf]) -> Option<&'static str> {
    (recipes.iter().filter(|recipe| is_meant(recipe)).count() > 1).then_some("`-` can be named once only")
}
