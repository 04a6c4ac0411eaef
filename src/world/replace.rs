//! The system's own files: carries out the single steps of writing them, and replaces a file's content whole.
//!
//! Promises: a file that is replaced keeps its permissions, and a symbolic link stays a link; a lock follows none and
//! changes no file that is not its own. Must not be here: the order of steps (see `record::files`).

use crate::record::files::{self, FileStep, StepOutcome};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// The longest line about a lock's holder that is read.
const HOLDER: u64 = 300;

/// Replaces the content of a file, or makes it; its folder must exist.
///
/// # Errors
/// The system's reason; the file then has its old content, unless only the folder's own sync failed.
pub fn replace(path: &Path, content: &[u8]) -> io::Result<()> {
    let path = match fs::canonicalize(path) {
        Err(error) if error.kind() == ErrorKind::NotFound => std::path::absolute(path)?,
        found => found?,
    };
    let mut system = SystemFiles::default();
    let mut act = |step| system.carry_out(step).map_err(Trouble::into_io);
    files::replace(&mut act, &path, content).map_err(|failed| failed.error)
}

/// Why a step could not be carried out.
#[derive(Debug)]
pub(super) enum Trouble {
    /// Another program holds the lock, with its own words.
    Held(String),
    /// Nothing can be locked there.
    NoLocks,
    /// The system's reason.
    System(io::Error),
}

impl Trouble {
    fn into_io(self) -> io::Error {
        match self {
            Self::Held(by) => io::Error::new(ErrorKind::WouldBlock, by),
            Self::NoLocks => ErrorKind::Unsupported.into(),
            Self::System(error) => error,
        }
    }
}

impl From<io::Error> for Trouble {
    fn from(error: io::Error) -> Self {
        Self::System(error)
    }
}

/// See the module.
#[derive(Debug, Default)]
pub(super) struct SystemFiles {
    /// The new file beside the one that it is to replace.
    beside: Option<NamedTempFile>,
    /// What was written to last, so that its sync is told what became of it.
    written: Option<(PathBuf, File)>,
    /// Held for as long as this lives.
    lock: Option<File>,
}

impl SystemFiles {
    /// One step. What stands beside is taken away where a step fails.
    pub(super) fn carry_out(&mut self, step: FileStep) -> Result<StepOutcome, Trouble> {
        let beside = self.beside.take();
        let gone = || io::Error::other("nothing stands beside it");
        match step {
            FileStep::Look(path) => return Ok(look(&path)?),
            FileStep::Read(path) => return Ok(StepOutcome::Bytes(fs::read(path)?)),
            FileStep::MakeFolder(path) => match fs::create_dir(path) {
                Err(error) if error.kind() != ErrorKind::AlreadyExists => return Err(error.into()),
                _ => {}
            },
            FileStep::SyncFolder(path) => File::open(path)?.sync_all()?,
            FileStep::Append(path, bytes) => {
                let mut file = OpenOptions::new().append(true).create(true).open(&path)?;
                file.write_all(&bytes)?;
                self.written = Some((path, file));
            }
            FileStep::Cut(path, length) => OpenOptions::new().write(true).open(path)?.set_len(length)?,
            FileStep::Sync(path) => match self.written.take() {
                Some((written, file)) if written == path => file.sync_all()?,
                _ => File::open(path)?.sync_all()?,
            },
            FileStep::WriteBeside(path, bytes) => {
                let folder = path.parent().unwrap_or(Path::new("/"));
                let mut maker = tempfile::Builder::new();
                if let Some(permissions) = permissions(&path) {
                    maker.permissions(permissions);
                }
                let mut file = maker.prefix(".quadjig-").tempfile_in(folder)?;
                file.write_all(&bytes)?;
                self.beside = Some(file);
            }
            FileStep::SyncBeside(_) => {
                let file = beside.ok_or_else(gone)?;
                file.as_file().sync_all()?;
                self.beside = Some(file);
            }
            FileStep::Rename(path) => {
                beside.ok_or_else(gone)?.persist(path).map_err(|error| error.error)?;
            }
            FileStep::Lock(path, holder) => {
                // A record that was refused is held no more.
                self.lock = None;
                self.lock = Some(lock(&path, &holder)?);
            }
        }
        Ok(StepOutcome::Done)
    }
}

fn look(path: &Path) -> io::Result<StepOutcome> {
    match path.symlink_metadata() {
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(StepOutcome::Nothing),
        found => found?,
    };
    // A link that leads nowhere is something all the same.
    Ok(match path.metadata() {
        Ok(found) if found.is_dir() => StepOutcome::Folder,
        Ok(found) if found.is_file() => StepOutcome::File(found.len()),
        _ => StepOutcome::Other,
    })
}

/// Takes the lock, and writes into it who holds it. Nothing of a file that is not ours alone is touched: a link is not
/// followed, and a file that has another name too is left as it is.
fn lock(path: &Path, holder: &str) -> Result<File, Trouble> {
    let mut open = OpenOptions::new();
    open.read(true).write(true).create(true).truncate(false);
    no_follow(&mut open);
    let mut file = open.open(path)?;
    if !is_ours_alone(&file)? {
        return Err(io::Error::other("it is no file of its own; take it away").into());
    }
    match file.try_lock() {
        Ok(()) => {}
        Err(TryLockError::WouldBlock) => return Err(Trouble::Held(held_by(&file))),
        Err(TryLockError::Error(error)) => return Err(lock_error(error)),
    }
    file.set_len(0)?;
    file.write_all(holder.as_bytes())?;
    Ok(file)
}

/// A share that knows no locks says so in one of several ways.
fn lock_error(error: io::Error) -> Trouble {
    #[cfg(unix)]
    if error.raw_os_error() == Some(rustix::io::Errno::NOLCK.raw_os_error()) {
        return Trouble::NoLocks;
    }
    if error.kind() == ErrorKind::Unsupported { Trouble::NoLocks } else { error.into() }
}

fn held_by(file: &File) -> String {
    let mut who = Vec::new();
    // Whoever took it a moment ago may not have written it yet.
    let _ = file.take(HOLDER).read_to_end(&mut who);
    let who = String::from_utf8_lossy(&who);
    let line = who.lines().next().unwrap_or_default().trim();
    if line.is_empty() { "one that has just begun".to_owned() } else { line.to_owned() }
}

#[cfg(unix)]
fn no_follow(open: &mut OpenOptions) {
    use std::os::unix::fs::OpenOptionsExt;
    let flags = rustix::fs::OFlags::NOFOLLOW | rustix::fs::OFlags::NONBLOCK;
    open.custom_flags(flags.bits().cast_signed());
}

#[cfg(unix)]
fn is_ours_alone(file: &File) -> io::Result<bool> {
    use std::os::unix::fs::MetadataExt;
    let found = file.metadata()?;
    Ok(found.is_file() && found.nlink() == 1)
}

/// As the file that is replaced; of a new one, what the user's mask leaves.
#[cfg(unix)]
#[expect(clippy::unnecessary_wraps, reason = "other systems have none for a new file")]
fn permissions(path: &Path) -> Option<fs::Permissions> {
    use std::os::unix::fs::PermissionsExt;
    let new = || fs::Permissions::from_mode(0o666);
    Some(path.metadata().map_or_else(|_| new(), |found| found.permissions()))
}

#[cfg(not(unix))]
fn no_follow(_: &mut OpenOptions) {}

#[cfg(not(unix))]
fn is_ours_alone(file: &File) -> io::Result<bool> {
    Ok(file.metadata()?.is_file())
}

/// As the file that is replaced; of a new one, whatever the system gives.
#[cfg(not(unix))]
fn permissions(path: &Path) -> Option<fs::Permissions> {
    path.metadata().ok().map(|found| found.permissions())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// flock(2): ENOLCK and, from file systems that have none, ENOTSUP or ENOSYS.
    #[test]
    #[cfg(unix)]
    fn a_share_without_locks_is_told_from_other_trouble() {
        use rustix::io::Errno;
        let of = |errno: Errno| lock_error(io::Error::from_raw_os_error(errno.raw_os_error()));
        for errno in [Errno::NOLCK, Errno::OPNOTSUPP, Errno::NOSYS] {
            assert!(matches!(of(errno), Trouble::NoLocks), "{errno:?}");
        }
        assert!(matches!(of(Errno::IO), Trouble::System(_)));
    }
}
