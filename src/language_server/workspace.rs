//! What is open, and what is at hand beside it: sheets, a radio card, records.
//!
//! Promises: an open recipe, sheet or card is judged exactly as `check` would judge its text; what was judged is kept until something
//! changes that it was made from. Must not be here: the protocol's messages.

use super::buffers::{Buffer, Buffers, Reader};
use super::positions::{Encoding, Lines, starts};
use crate::board::document::kind::DocumentKind;
use crate::board::document::load::LoadError;
use crate::board::radio_card::RadioCard;
use crate::board::sheet::Sheet;
use crate::board::{at_hand, vocabulary};
use crate::language::Reading;
use crate::language::checks::codes;
use crate::language::finding::{self, Finding};
use crate::language::recipe::File;
use crate::language::span::{FileId, Span};
use crate::plan::checks;
use crate::report::findings;
use lsp_types::{Location, Range, Uri};
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range as Bytes;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Arc;

/// What the command line names.
#[derive(Debug, Clone, Default)]
pub struct Setup {
    /// The board sheet for every recipe; else those of the boards that a recipe names.
    pub sheet: Option<Sheet>,
    /// The name of the radio card, which each recipe finds at its root.
    pub radio: Option<String>,
    /// Values for parameters.
    pub with: Vec<(String, String)>,
    /// Where craft records are, if anywhere.
    pub crafts: Option<PathBuf>,
    /// Whose last snapshot is compared with: the id of its board, or its name.
    pub craft: Option<String>,
}

/// A recipe as it was judged.
#[derive(Debug)]
pub struct Judged {
    /// What was read.
    pub reading: Reading,
    /// Everything that was found.
    pub findings: Vec<Finding>,
    /// The sheets of its boards.
    pub sheets: Vec<Sheet>,
    /// The radio card.
    pub card: Option<RadioCard>,
    /// Every file that was asked for.
    asked: BTreeSet<PathBuf>,
}

impl Judged {
    /// Where a file of the recipe is.
    pub fn path(&self, file: FileId) -> PathBuf {
        path(&self.reading.files, file)
    }
}

/// Where one of some files is.
pub fn path(files: &[File], FileId(file): FileId) -> PathBuf {
    files.get(file).map(|file| PathBuf::from(&file.name)).unwrap_or_default()
}

/// See the module.
#[derive(Debug, Default)]
pub struct Workspace {
    /// What the command line names.
    pub setup: Setup,
    /// What a column counts.
    pub encoding: Encoding,
    /// Folders that are open in the editor.
    pub folders: Vec<PathBuf>,
    /// Open texts.
    pub buffers: Buffers,
    judged: RefCell<BTreeMap<String, Rc<Judged>>>,
}

impl Workspace {
    /// Nothing open yet.
    pub fn new(setup: Setup) -> Self {
        Self { setup, ..Self::default() }
    }

    /// Something changed at this path; `None`: anything may have.
    pub fn forget(&mut self, path: Option<&Path>) {
        let same = |asked: &BTreeSet<PathBuf>, path: &Path| {
            asked.contains(path) || path.canonicalize().is_ok_and(|path| asked.contains(&path))
        };
        self.judged.get_mut().retain(|_, judged| path.is_some_and(|path| !same(&judged.asked, path)));
    }

    /// The open recipes that were not judged since something changed.
    pub fn unjudged(&self) -> Vec<String> {
        let judged = self.judged.borrow();
        let open = self.buffers.values().filter(|buffer| buffer.is_recipe && !judged.contains_key(&buffer.uri));
        open.map(|buffer| buffer.uri.clone()).collect()
    }

    /// An open recipe as it is judged now.
    pub fn judge(&self, uri: &str) -> Option<Rc<Judged>> {
        if let Some(judged) = self.judged.borrow().get(uri) {
            return Some(Rc::clone(judged));
        }
        let buffer = self.buffers.get(uri).filter(|buffer| buffer.is_recipe)?;
        let reader = Reader::of(&self.buffers, buffer);
        let reading = vocabulary::read(&reader, &buffer.path, &self.setup.with);
        let (sheets, wrong) = match (&self.setup.sheet, &reading.recipe) {
            (Some(sheet), _) => (vec![sheet.clone()], Vec::new()),
            // A shipped sheet that its own reader refuses is a mistake that a test finds.
            (None, Some(recipe)) => at_hand::sheets_for(recipe, &reading.root, &[]).unwrap_or_default(),
            (None, None) => Default::default(),
        };
        let named = self.setup.radio.as_deref().map(|name| at_hand::radio_card(name, &reading.root));
        let (card, no_card) = match named {
            Some(Ok((card, _))) => (Some(card), None),
            Some(Err(error)) => {
                let finding = Finding::error(codes::CARD_WRONG, Span::default(), error.to_string());
                (None, Some(error.hint().into_iter().fold(finding, Finding::hint)))
            }
            None => (None, None),
        };
        let mut findings = checks::reading(&reading, &sheets, card.as_ref());
        findings.extend(wrong.into_iter().chain(no_card));
        finding::sort(&mut findings);
        let mut asked = reader.asked();
        asked.insert(buffer.path.clone());
        let judged = Rc::new(Judged { reading, findings, sheets, card, asked });
        self.judged.borrow_mut().insert(uri.to_owned(), Rc::clone(&judged));
        Some(judged)
    }

    /// An open board sheet or radio card, with all that is wrong with it.
    pub fn document(&self, uri: &str) -> Option<(File, Vec<Finding>)> {
        let buffer = self.buffers.get(uri).filter(|buffer| buffer.is_toml && !buffer.is_recipe)?;
        let kind = DocumentKind::of(&buffer.path, &buffer.text)?;
        let file = File { name: buffer.path.display().to_string(), text: Arc::clone(&buffer.text) };
        let wrong = kind.wrong(&file.name, &file.text);
        let found = wrong.map(|wrong| findings::of_document(kind.code(), &file, &LoadError::Document(wrong)));
        Some((file, found.unwrap_or_default()))
    }

    /// The open text of a file.
    pub fn buffer_of(&self, path: &Path) -> Option<&Buffer> {
        self.buffers.values().find(|buffer| buffer.path == path)
    }

    /// How a file is named to the client: as the client names it, where it is open.
    pub fn uri_of(&self, path: &Path) -> String {
        self.buffer_of(path).map_or_else(|| super::uri::of(path), |buffer| buffer.uri.clone())
    }

    /// A range of a text as the client counts.
    pub fn range(&self, text: &str, bytes: &Bytes<usize>) -> Range {
        Lines::new(text, &starts(text), self.encoding).range(bytes)
    }

    /// A place in a file, with the text that it has now.
    pub fn location(&self, path: &Path, text: &str, bytes: &Bytes<usize>) -> Option<Location> {
        let uri: Uri = self.uri_of(path).parse().ok()?;
        Some(Location { uri, range: self.range(text, bytes) })
    }
}
