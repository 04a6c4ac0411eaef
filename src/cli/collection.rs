//! What `check` is given: recipes, sheets and cards by name, and folders of them.
//!
//! Promises: a folder's files come sorted, and only those that are recipes, sheets or cards; links to folders and hidden
//! folders are not entered; no folder is walked without end. Must not be here: reading what stands in them.

use crate::board::document::kind::DocumentKind;
use crate::board::document::load;
use crate::language::recipe::File;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Most files and folders that a folder may hold.
const ENTRIES: usize = 10_000;
/// Most levels of folders.
const LEVELS: usize = 16;

/// One thing to check.
#[derive(Debug)]
pub enum Item {
    /// A recipe, or `-`.
    Recipe(PathBuf),
    /// A board sheet or a radio card.
    Document(DocumentKind, PathBuf),
}

/// Why a folder cannot be gone through.
#[derive(Debug, thiserror::Error)]
pub enum CollectionError {
    /// The system's reason.
    #[error("{} cannot be read: {cause}", path.display())]
    Unreadable {
        /// The folder.
        path: PathBuf,
        /// Why.
        cause: io::Error,
    },
    /// Too much of it.
    #[error("{} holds more than {ENTRIES} files and folders, or goes more than {LEVELS} levels deep", .0.display())]
    TooLarge(PathBuf),
    /// None of it.
    #[error("{} holds no recipe, board sheet or radio card", .0.display())]
    Nothing(PathBuf),
}

/// All that is to be checked, in the order in which it was named.
///
/// # Errors
/// A folder that cannot be read, is too large, or holds nothing to check.
pub fn gather(named: &[PathBuf]) -> Result<Vec<Item>, CollectionError> {
    let mut items = Vec::new();
    for path in named {
        if path.is_dir() {
            let mut files = Vec::new();
            walk(path, path, 0, &mut 0, &mut files)?;
            files.sort();
            let before = items.len();
            items.extend(files.into_iter().filter_map(|file| item(file, false)));
            if items.len() == before {
                return Err(CollectionError::Nothing(path.clone()));
            }
        } else {
            items.extend(item(path.clone(), true));
        }
    }
    Ok(items)
}

fn walk(
    top: &Path,
    folder: &Path,
    level: usize,
    seen: &mut usize,
    files: &mut Vec<PathBuf>,
) -> Result<(), CollectionError> {
    let unreadable = |cause| CollectionError::Unreadable { path: folder.to_owned(), cause };
    if level > LEVELS {
        return Err(CollectionError::TooLarge(top.to_owned()));
    }
    for entry in std::fs::read_dir(folder).map_err(unreadable)? {
        let entry = entry.map_err(unreadable)?;
        *seen += 1;
        if *seen > ENTRIES {
            return Err(CollectionError::TooLarge(top.to_owned()));
        }
        let hidden = entry.file_name().as_encoded_bytes().starts_with(b".");
        let kind = entry.file_type().map_err(unreadable)?;
        // What was reviewed of a recipe lies beside it, and is none.
        let of_reviews = entry.path().extension().is_some_and(|ending| ending == "reviews");
        if kind.is_dir() && !hidden && !of_reviews {
            walk(top, &entry.path(), level + 1, seen, files)?;
        } else if !kind.is_dir() && !hidden && entry.path().is_file() {
            files.push(entry.path());
        }
    }
    Ok(())
}

/// What a file is by its ending, a document by its folder or its content. Whatever was named itself is one of them.
fn item(path: PathBuf, named: bool) -> Option<Item> {
    let ends = |ending: &str| path.extension().is_some_and(|found| found == ending);
    if ends("toml") {
        return match DocumentKind::of(&path, &load::text(&path).unwrap_or_default()) {
            Some(kind) => Some(Item::Document(kind, path)),
            None if named => Some(Item::Document(DocumentKind::Sheet, path)),
            None => None,
        };
    }
    (named || ends("jig")).then_some(Item::Recipe(path))
}

/// A document's file as findings show it; one that cannot be read has no text.
pub fn file(path: &Path) -> File {
    let text: Arc<str> = load::text(path).map(Arc::from).unwrap_or_default();
    File { name: path.display().to_string(), text }
}
