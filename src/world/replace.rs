//! Replacing a file's content whole: afterwards the old or the new content is there, never a part.
//!
//! Promises: written and synced beside the file, then renamed over it; permissions stay, and a
//! symbolic link stays a link. Must not be here: what is written.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;

/// Replaces the content of a file, or makes it; its folder must exist.
///
/// # Errors
/// The system's reason; the file then has its old content, unless only the folder's own sync failed.
pub fn replace(path: &Path, content: &[u8]) -> io::Result<()> {
    let (path, old) = match fs::canonicalize(path) {
        Ok(path) => (path.clone(), Some(fs::metadata(&path)?.permissions())),
        Err(error) if error.kind() == io::ErrorKind::NotFound => (std::path::absolute(path)?, None),
        Err(error) => return Err(error),
    };
    let folder = path.parent().unwrap_or(Path::new("/"));
    let mut new = tempfile::Builder::new().prefix(".quadjig-").tempfile_in(folder)?;
    new.write_all(content)?;
    if let Some(permissions) = old.or_else(new_file_permissions) {
        new.as_file().set_permissions(permissions)?;
    }
    new.as_file().sync_all()?;
    new.persist(&path).map_err(|error| error.error)?;
    // The name is in force only when the folder is on the disk too.
    File::open(folder)?.sync_all()
}

/// What a new file is given: readable by everybody, as programs' files usually are.
#[cfg(unix)]
#[expect(clippy::unnecessary_wraps, reason = "other systems have none")]
fn new_file_permissions() -> Option<fs::Permissions> {
    use std::os::unix::fs::PermissionsExt;
    Some(fs::Permissions::from_mode(0o644))
}

/// What a new file is given: whatever the system gives.
#[cfg(not(unix))]
fn new_file_permissions() -> Option<fs::Permissions> {
    None
}
