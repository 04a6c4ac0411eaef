//! Replacing a file's content whole: afterwards the old or the new content is there, never a part.
//!
//! Promises: written and synced beside the file, then renamed over it; permissions stay, and a
//! symbolic link stays a link. Must not be here: what is written.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;

/// Replaces the content of an existing file.
///
/// # Errors
/// The system's reason; the file then has its old content, unless only the folder's own sync failed.
pub fn replace(path: &Path, content: &[u8]) -> io::Result<()> {
    let path = fs::canonicalize(path)?;
    let folder = path.parent().unwrap_or(Path::new("/"));
    let mut new = tempfile::Builder::new().prefix(".quadjig-").tempfile_in(folder)?;
    new.write_all(content)?;
    new.as_file().set_permissions(fs::metadata(&path)?.permissions())?;
    new.as_file().sync_all()?;
    new.persist(&path).map_err(|error| error.error)?;
    // The name is in force only when the folder is on the disk too.
    File::open(folder)?.sync_all()
}
