//! Where recipes are read from: the disk, an editor's buffers, a test.
//!
//! Promises: a used file is read only if it is a regular file inside the recipe's root, links followed. Must not be here: what stands in a file.

use super::limits;
use super::root::{self, Root};
use std::collections::BTreeMap;
use std::fs::{File, Metadata};
use std::io::{self, Read as _};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A text, and a name under which the same file is known however it was reached.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// The text.
    pub text: Arc<str>,
    /// The same for two paths to one file.
    pub identity: PathBuf,
}

/// Why a text could not be had.
#[derive(Debug, thiserror::Error)]
pub enum SourceError {
    /// The system refused.
    #[error("{0}")]
    Io(#[from] io::Error),
    /// No regular file: what it is instead.
    #[error("it is {0}, not a file")]
    NotRegular(&'static str),
    /// A link leads out of the recipe's root.
    #[error("a link leads out of the recipe's root")]
    LeavesFolder,
    /// Longer than [`limits::FILE_BYTES`].
    #[error("it is longer than 1 MiB")]
    TooLong,
    /// Not UTF-8; the first bad byte from 0.
    #[error("byte {0} is not part of UTF-8 text")]
    NotUtf8(usize),
}

/// Reads texts for the recipe reader.
pub trait Sources {
    /// The recipe that was named.
    ///
    /// # Errors
    /// Unreadable, too long, not UTF-8.
    fn read(&self, file: &Path) -> Result<Source, SourceError>;

    /// The root of the recipe that was named.
    fn root(&self, file: &Path) -> Root;

    /// A file that a recipe uses: `folder` joined with a relative path that holds no `..`.
    ///
    /// # Errors
    /// As [`Sources::read`], and where the file is not regular or a link leads out of `folder`.
    fn read_inside(&self, folder: &Path, file: &Path) -> Result<Source, SourceError>;
}

/// Files of the disk.
#[derive(Debug, Clone, Copy, Default)]
pub struct Disk;

impl Sources for Disk {
    fn read(&self, file: &Path) -> Result<Source, SourceError> {
        regular(&file.metadata()?)?;
        let text = text(File::open(file)?)?;
        Ok(Source { text, identity: file.canonicalize()? })
    }

    fn root(&self, file: &Path) -> Root {
        Root::on_disk(file)
    }

    fn read_inside(&self, folder: &Path, file: &Path) -> Result<Source, SourceError> {
        // An empty parent, as of `recipe.jig`, is the current folder.
        let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
        let identity = folder.join(file).canonicalize()?;
        if !identity.starts_with(folder.canonicalize()?) {
            return Err(SourceError::LeavesFolder);
        }
        regular(&identity.symlink_metadata()?)?;
        let text = text(File::open(&identity)?)?;
        Ok(Source { text, identity })
    }
}

/// Asked before opening: to open a pipe would wait for its writer, and a device may never end.
fn regular(found: &Metadata) -> Result<(), SourceError> {
    if found.is_file() {
        return Ok(());
    }
    Err(SourceError::NotRegular(if found.is_dir() { "a folder" } else { odd(found) }))
}

#[cfg(unix)]
fn odd(found: &Metadata) -> &'static str {
    use std::os::unix::fs::FileTypeExt;
    let kind = found.file_type();
    match () {
        () if kind.is_fifo() => "a pipe",
        () if kind.is_char_device() || kind.is_block_device() => "a device",
        () => "a socket",
    }
}

#[cfg(not(unix))]
fn odd(_: &Metadata) -> &'static str {
    "a device"
}

/// Reads a text, and no more than a byte past the limit.
///
/// # Errors
/// The system's reason, too long, not UTF-8.
pub fn text(file: impl io::Read) -> Result<Arc<str>, SourceError> {
    let mut bytes = Vec::new();
    let most = u64::try_from(limits::FILE_BYTES).unwrap_or(u64::MAX);
    file.take(most + 1).read_to_end(&mut bytes)?;
    if bytes.len() > limits::FILE_BYTES {
        return Err(SourceError::TooLong);
    }
    String::from_utf8(bytes).map(Arc::from).map_err(|error| SourceError::NotUtf8(error.utf8_error().valid_up_to()))
}

/// Texts in memory, by path: for tests and the bench prompt.
#[derive(Debug, Clone, Default)]
pub struct Memory {
    /// Path and text.
    pub files: BTreeMap<PathBuf, Arc<str>>,
}

impl Memory {
    /// From pairs of path and text.
    pub fn of<P: Into<PathBuf>, T: Into<Arc<str>>>(files: impl IntoIterator<Item = (P, T)>) -> Self {
        Self { files: files.into_iter().map(|(path, text)| (path.into(), text.into())).collect() }
    }
}

impl Sources for Memory {
    fn read(&self, file: &Path) -> Result<Source, SourceError> {
        let text = self.files.get(file).ok_or_else(|| io::Error::from(io::ErrorKind::NotFound))?;
        if text.len() > limits::FILE_BYTES {
            return Err(SourceError::TooLong);
        }
        Ok(Source { text: Arc::clone(text), identity: file.to_owned() })
    }

    fn root(&self, file: &Path) -> Root {
        let own = Root::own(file);
        let marked = |folder: &&Path| self.files.contains_key(&folder.join(root::FILE));
        let Some(folder) = own.folder.ancestors().find(marked) else { return own };
        let recipe = file.strip_prefix(folder).unwrap_or(file).to_owned();
        let wrong = self.files.get(&folder.join(root::FILE)).and_then(|text| root::judge(text).err());
        Root { folder: folder.to_owned(), recipe, wrong }
    }

    fn read_inside(&self, folder: &Path, file: &Path) -> Result<Source, SourceError> {
        self.read(&folder.join(file))
    }
}
