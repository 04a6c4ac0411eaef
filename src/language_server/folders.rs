//! Recipes that lie in a folder.
//!
//! Promises: sorted, never more than asked for; links to folders and hidden folders are not entered. Must not be here:
//! reading them.

use std::path::{Path, PathBuf};

/// Most entries that are looked at, recipes or not.
const ENTRIES: usize = 5_000;

/// The first recipes of a folder and of those below it.
pub fn recipes(folder: &Path, levels: usize, most: usize) -> Vec<PathBuf> {
    let mut found = Vec::new();
    walk(folder, levels, &mut 0, &mut found);
    found.sort();
    found.truncate(most);
    found
}

fn walk(folder: &Path, levels: usize, seen: &mut usize, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        *seen += 1;
        if *seen > ENTRIES {
            return;
        }
        let hidden = entry.file_name().as_encoded_bytes().starts_with(b".");
        let Ok(kind) = entry.file_type() else { continue };
        if kind.is_dir() && !hidden && levels > 0 {
            walk(&entry.path(), levels - 1, seen, found);
        } else if !kind.is_dir() && entry.path().extension().is_some_and(|ending| ending == "jig") {
            found.push(entry.path());
        }
    }
}
