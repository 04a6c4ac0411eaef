//! The disk of a rehearsal, which may fail, be killed or lose its power at any step.
//!
//! Promises: what was synced, with its name, outlives a loss of power; of all else, what the disk had come to is up to
//! whoever cuts it.

use quadjig::record::RecordError;
use quadjig::record::files::{FileStep, FileSystem, StepOutcome};
use quadjig::rehearsal::simulated::Disk as Whole;
use std::borrow::Borrow;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::{Deref, DerefMut};
use std::path::{Path, PathBuf};

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
    inner: Whole,
    /// The step, from 0, at which something befalls it.
    pub fault: Option<(usize, DiskFault)>,
    steps: usize,
    killed: bool,
    beside: Option<(Vec<u8>, bool)>,
    /// Content that is on the disk, under names that need not be.
    synced: BTreeMap<PathBuf, Vec<u8>>,
    /// What is there after a loss of power: folders, and files with their content.
    safe_folders: BTreeSet<PathBuf>,
    safe: BTreeMap<PathBuf, Vec<u8>>,
}

impl Deref for Disk {
    type Target = Whole;
    fn deref(&self) -> &Whole {
        &self.inner
    }
}

impl DerefMut for Disk {
    fn deref_mut(&mut self) -> &mut Whole {
        &mut self.inner
    }
}

impl Borrow<Whole> for Disk {
    fn borrow(&self) -> &Whole {
        &self.inner
    }
}

impl Disk {
    /// An empty one which this befalls at a step, from 0.
    pub fn that(step: usize, fault: DiskFault) -> Self {
        Self { fault: Some((step, fault)), ..Self::default() }
    }

    /// How many steps were asked of it.
    pub fn steps(&self) -> usize {
        self.steps
    }

    /// Whether the program was killed at a step.
    pub fn killed(&self) -> bool {
        self.killed
    }

    /// Goes on with another program, and nothing befalls it any more.
    pub fn again(&mut self) {
        (self.fault, self.steps, self.killed, self.beside) = (None, 0, false, None);
    }

    /// Loses its power: what was not synced is gone, but for at most so many bytes behind what was synced.
    pub fn lose_power(&mut self, more: usize) {
        for path in self.files() {
            let safe = self.safe.get(&path).filter(|_| self.is_safe(&path)).cloned();
            let tail = safe.as_ref().and_then(|safe| self.file(&path)?.strip_prefix(&safe[..]).map(<[u8]>::to_vec));
            let tail = tail.unwrap_or_default();
            match safe {
                Some(safe) => *self.place(&path) = [&safe[..], &tail[..tail.len().min(more)]].concat(),
                None => self.remove(&path),
            }
        }
        self.inner.folders = self.safe_folders.clone();
    }

    fn is_safe(&self, path: &Path) -> bool {
        path.ancestors().skip(1).all(|folder| folder.as_os_str().is_empty() || self.safe_folders.contains(folder))
    }

    /// Every file but the radio card's, which no loss of power is asked of.
    fn files(&self) -> Vec<PathBuf> {
        let craft = self.craft.keys().map(|path| self.craft_folder.join(path));
        craft.chain(self.named.keys().cloned()).collect()
    }

    fn remove(&mut self, path: &Path) {
        match path.strip_prefix(&self.inner.craft_folder) {
            Ok(inside) if self.inner.craft.remove(inside).is_some() => {}
            _ => drop(self.inner.named.remove(path)),
        }
    }

    /// What a step that is about to be carried out makes safe.
    fn note(&mut self, step: &FileStep) {
        match step {
            FileStep::SyncFolder(path) => {
                let inside = |other: &PathBuf| other.parent() == Some(path);
                self.safe_folders.extend(self.inner.folders.iter().filter(|other| inside(other)).cloned());
                for file in self.files().into_iter().filter(inside) {
                    let content = self.synced.get(&file).cloned().unwrap_or_default();
                    self.safe.insert(file, content);
                }
            }
            FileStep::Sync(path) => {
                let content = self.file(path).cloned().unwrap_or_default();
                if let Some(safe) = self.safe.get_mut(path) {
                    safe.clone_from(&content);
                }
                self.synced.insert(path.clone(), content);
            }
            FileStep::WriteBeside(_, bytes) => self.beside = Some((bytes.clone(), false)),
            FileStep::SyncBeside(_) => self.beside.iter_mut().for_each(|(_, synced)| *synced = true),
            // Under its new name; the folder still has the old one.
            FileStep::Rename(path) => {
                if let Some((bytes, synced)) = self.beside.take() {
                    self.synced.insert(path.clone(), if synced { bytes } else { Vec::new() });
                }
            }
            _ => {}
        }
    }

    fn carry_out(&mut self, step: FileStep) -> Result<StepOutcome, RecordError> {
        self.note(&step);
        self.inner.act(step)
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
        let due = self.fault.filter(|(step, _)| *step <= at).map(|(step, fault)| (step == at, fault));
        match due {
            _ if self.killed => {}
            None | Some((false, DiskFault::FailsOnce)) => return self.carry_out(step),
            Some((_, DiskFault::Full)) => {}
            Some((_, DiskFault::FailsOnce)) => {
                if matches!(step, FileStep::Append(..)) {
                    self.carry_out(halved(step))?;
                }
            }
            Some((_, DiskFault::KilledBefore)) => self.killed = true,
            Some((_, DiskFault::KilledIn)) => {
                self.killed = true;
                self.carry_out(halved(step))?;
            }
        }
        Err(RecordError::Full(PathBuf::from("the disk")))
    }
}
