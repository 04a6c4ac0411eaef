//! Tests of what is written for people, and of the habits of the tree: README, recipes, headers.

mod blocks;
mod console;
mod editors;
mod guide;
mod habits;
mod manual;
mod readme;
pub mod stage;

use std::path::{Path, PathBuf};

/// The folder of the project.
pub fn project() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// A text of the project, with line feeds alone at the ends of lines.
pub fn text(name: &str) -> String {
    std::fs::read_to_string(project().join(name)).unwrap_or_else(|error| panic!("{name}: {error}")).replace('\r', "")
}

/// Every file below a folder of the project that ends so, by its path from the project's folder, sorted.
pub fn files(folder: &str, ending: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut left = vec![project().join(folder)];
    while let Some(folder) = left.pop() {
        for entry in std::fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                left.push(path);
            } else if path.to_string_lossy().ends_with(ending) {
                found.push(path.strip_prefix(project()).unwrap().to_owned());
            }
        }
    }
    found.sort();
    assert!(!found.is_empty(), "no file in {folder} ends in {ending}");
    found
}
