//! A disk in memory: carries out single steps, and may fail, be killed or lose its power at any of them.
//!
//! Promises: what was synced, with its name, outlives a loss of power; of all else, what the disk had come to is up to
//! whoever cuts it. Must not be here: the order of steps (see `record::files`).

use crate::language::sources::Memory;
use crate::record::RecordError;
use crate::record::files::{FileStep, FileSystem, StepOutcome};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Where crafts' folders lie.
pub(super) const CRAFTS: &str = "";
/// The radio card's own place.
pub(super) const RADIO_CARD: &str = "radio card";

/// What befalls a disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DiskFault {
    /// The step fails and does nothing, and so does each after it.
    Full,
    /// The step fails, an append by half; those after it are carried out.
    FailsOnce,
    /// The program is killed before the step.
    KilledBefore,
    /// The program is killed in the step: an append is half there, all else is done.
    KilledIn,
}

/// See the module.
#[derive(Debug, Clone, Default)]
pub struct Disk {
    /// Files of the craft's folder.
    pub craft: BTreeMap<PathBuf, Vec<u8>>,
    /// The radio card, if one was written.
    pub radio_card: Option<Vec<u8>>,
    /// Files that the operator named.
    pub named: BTreeMap<PathBuf, Vec<u8>>,
    /// The step, from 0, at which something befalls it.
    pub fault: Option<(usize, DiskFault)>,
    steps: usize,
    killed: bool,
    craft_folder: PathBuf,
    folders: BTreeSet<PathBuf>,
    beside: Option<(Vec<u8>, bool)>,
    /// Content that is on the disk, under names that need not be.
    synced: BTreeMap<PathBuf, Vec<u8>>,
    /// What is there after a loss of power: folders, and files with their content.
    safe_folders: BTreeSet<PathBuf>,
    safe: BTreeMap<PathBuf, Vec<u8>>,
}

impl Disk {
    /// An empty one which this befalls at a step, from 0.
    #[must_use]
    pub fn that(step: usize, fault: DiskFault) -> Self {
        Self { fault: Some((step, fault)), ..Self::default() }
    }

    /// Texts among the files that the operator named.
    #[must_use]
    pub fn texts(&self) -> Memory {
        let text = |(file, bytes): (&PathBuf, &Vec<u8>)| Some((file.clone(), String::from_utf8(bytes.clone()).ok()?));
        Memory::of(self.named.iter().filter_map(text))
    }

    /// How many steps were asked of it.
    #[must_use]
    pub fn steps(&self) -> usize {
        self.steps
    }

    /// Whether the program was killed at a step.
    #[must_use]
    pub fn killed(&self) -> bool {
        self.killed
    }

    /// Goes on with another program, and nothing befalls it any more.
    pub fn again(&mut self) {
        (self.fault, self.steps, self.killed, self.beside) = (None, 0, false, None);
    }

    /// Loses its power: what was not synced is gone, but for at most so many bytes behind what was synced.
    pub fn lose_power(&mut self, more: usize) {
        let before: Vec<PathBuf> = self.files();
        for path in before {
            let safe = self.safe.get(&path).filter(|_| self.is_safe(&path)).cloned();
            let tail = safe.as_ref().and_then(|safe| self.file(&path)?.strip_prefix(&safe[..]).map(<[u8]>::to_vec));
            let tail = tail.unwrap_or_default();
            let left = safe.map(|safe| [&safe[..], &tail[..tail.len().min(more)]].concat());
            match left {
                Some(bytes) => *self.place(&path) = bytes,
                None => self.remove(&path),
            }
        }
        self.folders = self.safe_folders.clone();
    }

    fn is_safe(&self, path: &Path) -> bool {
        path.ancestors().skip(1).all(|folder| folder.as_os_str().is_empty() || self.safe_folders.contains(folder))
    }

    fn in_craft<'p>(&self, path: &'p Path) -> Option<&'p Path> {
        path.strip_prefix(&self.craft_folder).ok().filter(|_| !self.craft_folder.as_os_str().is_empty())
    }

    fn files(&self) -> Vec<PathBuf> {
        let craft = self.craft.keys().map(|path| self.craft_folder.join(path));
        let card = self.radio_card.iter().map(|_| PathBuf::from(RADIO_CARD));
        craft.chain(card).chain(self.named.keys().cloned()).collect()
    }

    fn file(&self, path: &Path) -> Option<&Vec<u8>> {
        match self.in_craft(path) {
            Some(inside) => self.craft.get(inside),
            None if path == Path::new(RADIO_CARD) => self.radio_card.as_ref(),
            None => self.named.get(path),
        }
    }

    fn place(&mut self, path: &Path) -> &mut Vec<u8> {
        match self.in_craft(path).map(Path::to_owned) {
            Some(inside) => self.craft.entry(inside).or_default(),
            None if path == Path::new(RADIO_CARD) => self.radio_card.get_or_insert_default(),
            None => self.named.entry(path.to_owned()).or_default(),
        }
    }

    fn remove(&mut self, path: &Path) {
        match self.in_craft(path).map(Path::to_owned) {
            Some(inside) => drop(self.craft.remove(&inside)),
            None if path == Path::new(RADIO_CARD) => self.radio_card = None,
            None => drop(self.named.remove(path)),
        }
    }

    fn carry_out(&mut self, step: FileStep) -> StepOutcome {
        match step {
            FileStep::Look(path) => {
                return match self.file(&path) {
                    Some(bytes) => StepOutcome::File(bytes.len() as u64),
                    None if self.folders.contains(&path) => StepOutcome::Folder,
                    None => StepOutcome::Nothing,
                };
            }
            FileStep::Read(path) => {
                return self.file(&path).map_or(StepOutcome::Nothing, |bytes| StepOutcome::Bytes(bytes.clone()));
            }
            FileStep::MakeFolder(path) => drop(self.folders.insert(path)),
            FileStep::SyncFolder(path) => {
                let inside = |other: &PathBuf| other.parent() == Some(&path);
                self.safe_folders.extend(self.folders.iter().filter(|other| inside(other)).cloned());
                for file in self.files().into_iter().filter(inside) {
                    let content = self.synced.get(&file).cloned().unwrap_or_default();
                    self.safe.insert(file, content);
                }
            }
            FileStep::Append(path, bytes) => self.place(&path).extend(bytes),
            FileStep::Cut(path, length) => {
                self.place(&path).truncate(usize::try_from(length).unwrap_or(usize::MAX));
            }
            FileStep::Sync(path) => {
                let content = self.file(&path).cloned().unwrap_or_default();
                if let Some(safe) = self.safe.get_mut(&path) {
                    safe.clone_from(&content);
                }
                self.synced.insert(path, content);
            }
            FileStep::WriteBeside(_, bytes) => self.beside = Some((bytes, false)),
            FileStep::SyncBeside(_) => self.beside.iter_mut().for_each(|(_, synced)| *synced = true),
            FileStep::Rename(path) => {
                if let Some((bytes, synced)) = self.beside.take() {
                    // Under its new name; the folder still has the old one.
                    self.synced.insert(path.clone(), if synced { bytes.clone() } else { Vec::new() });
                    *self.place(&path) = bytes;
                }
            }
            FileStep::Lock(path, _) => path.parent().unwrap_or(Path::new("")).clone_into(&mut self.craft_folder),
        }
        StepOutcome::Done
    }
}

/// An append by its first half, all else as it is.
fn halved(step: FileStep) -> FileStep {
    match step {
        FileStep::Append(path, mut bytes) => {
            bytes.truncate(bytes.len() / 2);
            FileStep::Append(path, bytes)
        }
        other => other,
    }
}

impl FileSystem for Disk {
    fn act(&mut self, step: FileStep) -> Result<StepOutcome, RecordError> {
        let at = self.steps;
        self.steps += 1;
        let failed = || RecordError::Full(PathBuf::from("the disk"));
        let due = self.fault.filter(|(step, _)| *step <= at).map(|(step, fault)| (step == at, fault));
        match due {
            _ if self.killed => Err(failed()),
            None | Some((false, DiskFault::FailsOnce)) => Ok(self.carry_out(step)),
            Some((_, DiskFault::Full)) => Err(failed()),
            Some((_, DiskFault::FailsOnce)) => {
                if matches!(step, FileStep::Append(..)) {
                    self.carry_out(halved(step));
                }
                Err(failed())
            }
            Some((_, DiskFault::KilledBefore)) => {
                self.killed = true;
                Err(failed())
            }
            Some((_, DiskFault::KilledIn)) => {
                self.killed = true;
                self.carry_out(halved(step));
                Err(failed())
            }
        }
    }
}
