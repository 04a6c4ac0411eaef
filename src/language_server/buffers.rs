//! Texts as they stand in an editor, before those of the disk.
//!
//! Promises: a file that is open is read from its buffer however it is named, also where it is no longer on the disk;
//! what was asked for is known afterwards. Must not be here: what stands in a text.

use super::positions::{Encoding, Lines, starts};
use crate::language::limits;
use crate::language::root::Root;
use crate::language::sources::{Disk, Source, SourceError, Sources};
use lsp_types::TextDocumentContentChangeEvent;
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// An open text.
#[derive(Debug, Clone)]
pub struct Buffer {
    /// As the client names it.
    pub uri: String,
    /// Where it is, or a name that is no file.
    pub path: PathBuf,
    /// The same for two paths to one file.
    identity: PathBuf,
    /// Whether it is a recipe.
    pub is_recipe: bool,
    /// Whether it is TOML, as sheets and cards are.
    pub is_toml: bool,
    /// The client's number of this state.
    pub version: i32,
    /// The text.
    pub text: Arc<str>,
    /// Where its lines begin.
    starts: Vec<usize>,
}

impl Buffer {
    /// A text that was opened.
    pub fn new(uri: String, language: &str, version: i32, text: &str) -> Self {
        let on_disk = super::uri::path(&uri);
        let is = |kind: &str| {
            language == kind
                || on_disk.as_ref().is_some_and(|path| path.extension().is_some_and(|ending| ending == kind))
        };
        let (is_recipe, is_toml) = (is("jig"), is("toml"));
        let path = on_disk.unwrap_or_else(|| PathBuf::from(&uri));
        let identity = path.canonicalize().unwrap_or_else(|_| path.clone());
        Self { uri, path, identity, is_recipe, is_toml, version, text: Arc::from(text), starts: starts(text) }
    }

    /// Whether it is a file, so that others lie beside it.
    pub fn is_file(&self) -> bool {
        super::uri::path(&self.uri).is_some()
    }

    /// Its places.
    pub fn lines(&self, encoding: Encoding) -> Lines<'_> {
        Lines::new(&self.text, &self.starts, encoding)
    }

    /// Takes changes in, each on the text that the one before left.
    pub fn change(&mut self, version: i32, changes: Vec<TextDocumentContentChangeEvent>, encoding: Encoding) {
        self.version = version;
        for change in changes {
            let text = match change.range {
                None => change.text,
                Some(range) => {
                    let bytes = self.lines(encoding).bytes(range);
                    let mut text = String::with_capacity(self.text.len() + change.text.len());
                    text.push_str(&self.text[..bytes.start]);
                    text.push_str(&change.text);
                    text.push_str(&self.text[bytes.end..]);
                    text
                }
            };
            self.starts = starts(&text);
            self.text = Arc::from(text);
        }
    }
}

/// All open texts, by URI.
pub type Buffers = BTreeMap<String, Buffer>;

/// Reads for one recipe: buffers first, then the disk.
pub struct Reader<'b> {
    buffers: &'b Buffers,
    /// The recipe that is read, where it is no file.
    apart: Option<&'b Buffer>,
    asked: RefCell<BTreeSet<PathBuf>>,
}

impl<'b> Reader<'b> {
    /// For a recipe that is open.
    pub fn of(buffers: &'b Buffers, top: &'b Buffer) -> Self {
        Self { apart: (!top.is_file()).then_some(top), ..Self::on_disk(buffers) }
    }

    /// For one that need not be.
    pub fn on_disk(buffers: &'b Buffers) -> Self {
        Self { buffers, apart: None, asked: RefCell::default() }
    }

    /// The files that were asked for, whether or not they are there.
    pub fn asked(self) -> BTreeSet<PathBuf> {
        self.asked.into_inner()
    }

    fn open(&self, path: &Path, identity: &Path) -> Option<Result<Source, SourceError>> {
        self.asked.borrow_mut().extend([path.to_owned(), identity.to_owned()]);
        let fits = |buffer: &&Buffer| buffer.path == path || buffer.identity == identity;
        let buffer = self.buffers.values().filter(|buffer| buffer.is_file()).find(fits)?;
        Some(source(buffer))
    }
}

fn source(buffer: &Buffer) -> Result<Source, SourceError> {
    if buffer.text.len() > limits::FILE_BYTES {
        return Err(SourceError::TooLong);
    }
    Ok(Source { text: Arc::clone(&buffer.text), identity: buffer.identity.clone() })
}

impl Sources for Reader<'_> {
    fn read(&self, file: &Path) -> Result<Source, SourceError> {
        if let Some(top) = self.apart {
            return source(top);
        }
        let identity = file.canonicalize().unwrap_or_else(|_| file.to_owned());
        self.open(file, &identity).unwrap_or_else(|| Disk.read(file))
    }

    fn root(&self, file: &Path) -> Root {
        if self.apart.is_some() { Root::own(file) } else { Disk.root(file) }
    }

    fn read_inside(&self, folder: &Path, file: &Path) -> Result<Source, SourceError> {
        if self.apart.is_some() {
            return Err(io::Error::new(io::ErrorKind::NotFound, "this recipe is no file yet: save it first").into());
        }
        let path = folder.join(file);
        match path.canonicalize() {
            // Where it leads is the disk's to judge.
            Ok(identity) => match Disk.read_inside(folder, file) {
                Err(error @ (SourceError::LeavesFolder | SourceError::NotRegular(_))) => Err(error),
                read => self.open(&path, &identity).unwrap_or(read),
            },
            Err(_) => self.open(&path, &path).unwrap_or_else(|| Disk.read_inside(folder, file)),
        }
    }
}
