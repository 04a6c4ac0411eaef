//! A disk in memory, which carries out single steps.
//!
//! Must not be here: the order of steps (see `record::files`).

use crate::language::sources::Memory;
use crate::record::RecordError;
use crate::record::files::{FileStep, FileSystem, StepOutcome};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Where crafts' folders lie.
pub(super) const CRAFTS: &str = "";
/// The radio card's own place.
pub(super) const RADIO_CARD: &str = "radio card";

/// See the module.
#[derive(Debug, Clone, Default)]
pub struct Disk {
    /// Files of the craft's folder.
    pub craft: BTreeMap<PathBuf, Vec<u8>>,
    /// The radio card, if one was written.
    pub radio_card: Option<Vec<u8>>,
    /// Files that the operator named.
    pub named: BTreeMap<PathBuf, Vec<u8>>,
    /// The craft's folder, once it was locked.
    pub craft_folder: PathBuf,
    /// Folders that were made.
    pub folders: BTreeSet<PathBuf>,
    beside: Option<Vec<u8>>,
}

impl Disk {
    /// Texts among the files that the operator named.
    #[must_use]
    pub fn texts(&self) -> Memory {
        let text = |(file, bytes): (&PathBuf, &Vec<u8>)| Some((file.clone(), String::from_utf8(bytes.clone()).ok()?));
        Memory::of(self.named.iter().filter_map(text))
    }

    fn in_craft<'p>(&self, path: &'p Path) -> Option<&'p Path> {
        path.strip_prefix(&self.craft_folder).ok().filter(|_| !self.craft_folder.as_os_str().is_empty())
    }

    /// What a file holds.
    #[must_use]
    pub fn file(&self, path: &Path) -> Option<&Vec<u8>> {
        match self.in_craft(path) {
            Some(inside) => self.craft.get(inside),
            None if path == Path::new(RADIO_CARD) => self.radio_card.as_ref(),
            None => self.named.get(path),
        }
    }

    /// The same, to be changed; an empty one where there was none.
    pub fn place(&mut self, path: &Path) -> &mut Vec<u8> {
        match self.in_craft(path).map(Path::to_owned) {
            Some(inside) => self.craft.entry(inside).or_default(),
            None if path == Path::new(RADIO_CARD) => self.radio_card.get_or_insert_default(),
            None => self.named.entry(path.to_owned()).or_default(),
        }
    }
}

impl FileSystem for Disk {
    fn act(&mut self, step: FileStep) -> Result<StepOutcome, RecordError> {
        match step {
            FileStep::Look(path) => {
                return Ok(match self.file(&path) {
                    Some(bytes) => StepOutcome::File(bytes.len() as u64),
                    None if self.folders.contains(&path) => StepOutcome::Folder,
                    None => StepOutcome::Nothing,
                });
            }
            FileStep::Read(path) => {
                return Ok(self.file(&path).map_or(StepOutcome::Nothing, |bytes| StepOutcome::Bytes(bytes.clone())));
            }
            FileStep::MakeFolder(path) => drop(self.folders.insert(path)),
            FileStep::SyncFolder(_) | FileStep::Sync(_) | FileStep::SyncBeside(_) => {}
            FileStep::Append(path, bytes) => self.place(&path).extend(bytes),
            FileStep::Cut(path, length) => {
                self.place(&path).truncate(usize::try_from(length).unwrap_or(usize::MAX));
            }
            FileStep::WriteBeside(_, bytes) => self.beside = Some(bytes),
            FileStep::Rename(path) => {
                if let Some(bytes) = self.beside.take() {
                    *self.place(&path) = bytes;
                }
            }
            FileStep::Lock(path, _) => path.parent().unwrap_or(Path::new("")).clone_into(&mut self.craft_folder),
        }
        Ok(StepOutcome::Done)
    }
}
