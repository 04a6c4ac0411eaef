//! Bringing a document's text in from a file: a regular file of at most 1 MiB of UTF-8.
//!
//! Must not be here: what the text means.

use super::{DocumentError, MOST_BYTES};
use std::fs::File;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Why a document could not be loaded.
#[derive(Debug, Error)]
#[expect(missing_docs, reason = "the fields are the parts of the sentence above them")]
pub enum LoadError {
    /// The system's reason.
    #[error("{} cannot be read: {cause}", path.display())]
    Unreadable { path: PathBuf, cause: io::Error },
    /// A folder, a device or a pipe.
    #[error("{} is not a regular file: name the document itself", path.display())]
    NotAFile { path: PathBuf },
    /// More than 1 MiB.
    #[error("{} has more than the 1 MiB that is read: is this the file that was meant?", path.display())]
    TooLarge { path: PathBuf },
    /// Bytes that are no text.
    #[error("{} is not UTF-8 text: save it as UTF-8", path.display())]
    NotText { path: PathBuf },
    /// Read, but wrong.
    #[error(transparent)]
    Document(#[from] DocumentError),
}

/// The text of a document.
///
/// # Errors
/// No regular file, more than [`MOST_BYTES`], no UTF-8, or the system's reason.
pub fn text(path: &Path) -> Result<String, LoadError> {
    let unreadable = |cause| LoadError::Unreadable { path: path.to_owned(), cause };
    // Asked before opening, since opening a pipe would wait for its other end.
    if !std::fs::metadata(path).map_err(unreadable)?.is_file() {
        return Err(LoadError::NotAFile { path: path.to_owned() });
    }
    let mut bytes = Vec::new();
    let most = MOST_BYTES as u64;
    File::open(path).and_then(|file| file.take(most + 1).read_to_end(&mut bytes)).map_err(unreadable)?;
    if bytes.len() > MOST_BYTES {
        return Err(LoadError::TooLarge { path: path.to_owned() });
    }
    String::from_utf8(bytes).map_err(|_| LoadError::NotText { path: path.to_owned() })
}
