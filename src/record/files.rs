//! The order in which a craft's files are written, as single steps of a file system: look, read, append, cut, sync,
//! replace, lock.
//!
//! Promises: what is answered as stored has been synced, file and folder; a replaced file is the old or the new one,
//! never half; after a write that failed, the file ends where it ended before; after a sync that failed, nothing is
//! written any more; a folder that a killed run may have made is synced before anything is put into it. The real disk
//! and the simulated one carry out the same steps. Must not be here: system calls, what a record says.

use super::crafts::repair;
use super::folder::{self, Contents};
use super::{CraftRecord, RecordError, StoreJob, StorePlace, journal, lines, proof, recovery};
use crate::board::signals::Identity;
use std::collections::BTreeSet;
use std::path::{Component, Path, PathBuf};

/// The lock's file in a craft's folder.
const LOCK: &str = "lock";

/// One thing that a file system is asked for. Each is one call, before and after which the program may be killed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FileStep {
    /// What is there; a link is what it leads to.
    Look(PathBuf),
    /// All bytes.
    Read(PathBuf),
    /// A folder, in one that is there.
    MakeFolder(PathBuf),
    /// The names in a folder.
    SyncFolder(PathBuf),
    /// Bytes at the end of a file, which is made where there is none.
    Append(PathBuf, Vec<u8>),
    /// Takes all behind so many bytes away.
    Cut(PathBuf, u64),
    /// The content of a file.
    Sync(PathBuf),
    /// A new file beside this one, with its rights.
    WriteBeside(PathBuf, Vec<u8>),
    /// The content of the file beside.
    SyncBeside(PathBuf),
    /// Puts the file beside in the place of this one.
    Rename(PathBuf),
    /// Locks by this file, and writes into it who holds it. A link is not followed.
    Lock(PathBuf, String),
}

/// What came of a step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StepOutcome {
    /// It was done.
    Done,
    /// There is nothing.
    Nothing,
    /// A folder.
    Folder,
    /// A file of so many bytes.
    File(u64),
    /// Something else, such as a device.
    Other,
    /// What was read.
    Bytes(Vec<u8>),
}

/// Carries out single steps: the system's, or a simulated one that may fail or end at any of them.
pub trait FileSystem {
    /// One step.
    ///
    /// # Errors
    /// The system's reason.
    fn act(&mut self, step: FileStep) -> Result<StepOutcome, RecordError>;
}

/// Where things lie.
#[derive(Debug, Clone)]
pub struct Places {
    /// Holds one folder a craft.
    pub crafts: PathBuf,
    /// The radio card in use, links followed.
    pub radio_card: Option<PathBuf>,
    /// Named in the lock.
    pub holder: String,
}

/// A craft's files. See the module.
#[derive(Debug)]
pub struct Files {
    places: Places,
    /// The craft's folder that is ours.
    open: Option<PathBuf>,
    /// A sync failed: what is on the disk is unknown.
    broken: bool,
    /// Folders and files of which the names are known to be on the disk.
    synced: BTreeSet<PathBuf>,
}

impl Files {
    /// Nothing is open yet.
    #[must_use]
    pub fn new(places: Places) -> Self {
        Self { places, open: None, broken: false, synced: BTreeSet::new() }
    }

    /// Puts something on the disk.
    ///
    /// # Errors
    /// The file system's reason, or a place that may not be written.
    pub fn store(&mut self, system: &mut impl FileSystem, job: &StoreJob) -> Result<(), RecordError> {
        let path = self.path(&job.place)?;
        if self.broken {
            let cause = "an earlier sync of the disk failed, so nothing more is written".to_owned();
            return Err(RecordError::Other { file: path, cause });
        }
        if matches!(job.place, StorePlace::New(_)) && system.act(FileStep::Look(path.clone()))? != StepOutcome::Nothing
        {
            return Err(RecordError::Exists(path));
        }
        let there = matches!(job.place, StorePlace::Once(_))
            && matches!(system.act(FileStep::Read(path.clone())), Ok(StepOutcome::Bytes(bytes)) if bytes == job.bytes);
        self.folder(system, path.parent().unwrap_or(Path::new("")))?;
        // Of a file that was there already, a killed run may not have come to sync its name.
        let named = !self.synced.insert(path.clone());
        let act = &mut |step| system.act(step);
        let stored = if there {
            name(act, &path, named)
        } else if job.append {
            append(act, &path, &job.bytes, named)
        } else {
            replace(act, &path, &job.bytes)
        };
        stored.map_err(|failed| {
            self.broken |= failed.unknown;
            self.synced.remove(&path);
            failed.error
        })
    }

    fn path(&self, place: &StorePlace) -> Result<PathBuf, RecordError> {
        let nowhere = |file: &Path, cause: &str| RecordError::Other { file: file.to_owned(), cause: cause.to_owned() };
        match place {
            StorePlace::Craft(file) | StorePlace::Once(file) => {
                let inside = file.components().all(|part| matches!(part, Component::Normal(_)));
                let Some(open) = self.open.as_ref().filter(|_| inside && file.components().next().is_some()) else {
                    return Err(nowhere(file, "no craft's record is open, or this leads out of its folder"));
                };
                Ok(open.join(file))
            }
            StorePlace::New(file) => Ok(file.clone()),
            StorePlace::RadioCard => {
                let card = self.places.radio_card.clone();
                card.ok_or_else(|| nowhere(Path::new("radio card"), "no radio card file is in use"))
            }
        }
    }

    /// Makes a folder and those above it, each synced into the one that holds it. One that is there may be what a
    /// killed run made and did not come to sync.
    fn folder(&mut self, system: &mut impl FileSystem, folder: &Path) -> Result<(), RecordError> {
        let Some(parent) = folder.parent().filter(|_| !self.synced.contains(folder)) else { return Ok(()) };
        self.folder(system, parent)?;
        let made = match system.act(FileStep::Look(folder.to_owned()))? {
            StepOutcome::Folder => false,
            StepOutcome::Nothing => system.act(FileStep::MakeFolder(folder.to_owned())).map(|_| true)?,
            _ => {
                let cause = "a folder belongs there, and it is none".to_owned();
                return Err(RecordError::Other { file: folder.to_owned(), cause });
            }
        };
        // Above the crafts' own folder there are others' folders, which a system need not let us sync.
        let ours = made || folder.starts_with(&self.places.crafts);
        if let Err(error) = system.act(FileStep::SyncFolder(parent.to_owned()))
            && ours
        {
            self.broken = true;
            return Err(error);
        }
        self.synced.insert(folder.to_owned());
        Ok(())
    }

    /// Opens and locks the record of a craft, and ends its lines where they were torn.
    ///
    /// # Errors
    /// Held by another run, another version's, another craft's, or the file system's reason.
    pub fn open_record(
        &mut self,
        system: &mut impl FileSystem,
        identity: &Identity,
    ) -> Result<CraftRecord, RecordError> {
        let folder = folder::of_board(&self.places.crafts, identity)?;
        self.take_up(system, &folder, Some(identity))
    }

    /// The same for a folder that is known to be a craft's.
    ///
    /// # Errors
    /// As [`Files::open_record`].
    pub fn open_folder(&mut self, system: &mut impl FileSystem, folder: &Path) -> Result<CraftRecord, RecordError> {
        self.take_up(system, folder, None)
    }

    fn take_up(
        &mut self,
        system: &mut impl FileSystem,
        folder: &Path,
        own: Option<&Identity>,
    ) -> Result<CraftRecord, RecordError> {
        if self.open.as_deref() != Some(folder) {
            self.folder(system, folder)?;
            system.act(FileStep::Lock(folder.join(LOCK), self.places.holder.clone()))?;
            self.open = Some(folder.to_owned());
        }
        let contents = Contents::by(|file| match system.act(FileStep::Read(folder.join(file)))? {
            StepOutcome::Bytes(bytes) => Ok(Some(bytes)),
            _ => Ok(None),
        })?;
        let mut record = CraftRecord::from_contents(folder, &contents)?;
        // Of a folder that was copied or renamed nothing is said of this craft, and nothing is written into it.
        if let Some((own, other)) = own.zip(record.last_board())
            && folder::of_board(&self.places.crafts, other).as_deref() != Ok(folder)
        {
            self.open = None;
            return Err(RecordError::AnothersRecord {
                folder: folder.to_owned(),
                own: own.told(),
                other: other.told(),
            });
        }
        // What was torn is said, and taken away: it was never answered as stored, and the next line must not run into it.
        let of_lines =
            [(journal::FILE, &contents.journal), (proof::FILE, &contents.proofs), (repair::FILE, &contents.repairs)];
        for (file, bytes) in of_lines {
            let Some(whole) = bytes.as_ref().map(|bytes| (lines::whole(bytes), bytes.len())) else { continue };
            if whole.0 < whole.1 {
                system.act(FileStep::Cut(folder.join(file), whole.0 as u64))?;
                system.act(FileStep::Sync(folder.join(file))).inspect_err(|_| self.broken = true)?;
            }
        }
        for file in recovery::files(&record) {
            // What can't be read is one way less out of what was cut off, and locks nobody out.
            if let Ok(StepOutcome::Bytes(bytes)) = system.act(FileStep::Read(folder.join(&file))) {
                record.at_hand.insert(file, bytes);
            }
        }
        Ok(record)
    }
}

/// A store that failed.
#[derive(Debug)]
pub(crate) struct Failed<E> {
    pub(crate) error: E,
    /// Whether what is on the disk now is unknown.
    unknown: bool,
}

impl<E> From<E> for Failed<E> {
    fn from(error: E) -> Self {
        Self { error, unknown: false }
    }
}

fn synced<E>(result: Result<StepOutcome, E>) -> Result<(), Failed<E>> {
    result.map(|_| ()).map_err(|error| Failed { error, unknown: true })
}

fn append<E>(
    act: &mut impl FnMut(FileStep) -> Result<StepOutcome, E>,
    path: &Path,
    bytes: &[u8],
    named: bool,
) -> Result<(), Failed<E>> {
    let before = act(FileStep::Look(path.to_owned()))?;
    if let Err(error) = act(FileStep::Append(path.to_owned(), bytes.to_vec())) {
        // What was half written must not run into the next line.
        let length = if let StepOutcome::File(length) = before { length } else { 0 };
        let unknown = act(FileStep::Cut(path.to_owned(), length)).is_err();
        return Err(Failed { error, unknown });
    }
    synced(act(FileStep::Sync(path.to_owned())))?;
    name(act, path, named)
}

/// Syncs a file's name, if it is not `named` on the disk yet.
fn name<E>(
    act: &mut impl FnMut(FileStep) -> Result<StepOutcome, E>,
    path: &Path,
    named: bool,
) -> Result<(), Failed<E>> {
    if named { Ok(()) } else { synced(act(FileStep::SyncFolder(holding(path)))) }
}

/// Replaces the content of a file, or makes it; its folder must exist.
pub(crate) fn replace<E>(
    act: &mut impl FnMut(FileStep) -> Result<StepOutcome, E>,
    path: &Path,
    bytes: &[u8],
) -> Result<(), Failed<E>> {
    act(FileStep::WriteBeside(path.to_owned(), bytes.to_vec()))?;
    synced(act(FileStep::SyncBeside(path.to_owned())))?;
    act(FileStep::Rename(path.to_owned()))?;
    name(act, path, false)
}

fn holding(path: &Path) -> PathBuf {
    path.parent().unwrap_or(Path::new("/")).to_owned()
}
