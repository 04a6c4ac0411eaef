//! The disk: one thread that stores, and that opens and locks a craft's record.
//!
//! Promises: what is answered as stored has been synced, file and folder; a replaced file is the old
//! or the new one, never half; after a write that failed, the file ends where it ended before; after
//! a sync that failed, nothing is written any more. Must not be here: what a record says.

use super::mailbox::Mailbox;
use crate::board::signals::Identity;
use crate::record::{CraftRecord, RecordError, StoreJob, StorePlace, folder, journal, lines, proof};
use crate::seam::{Event, StoreTicket};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, ErrorKind, Read, Write};
use std::path::{self, Component, Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};

/// The lock's file in a craft's folder.
const LOCK: &str = "lock";

/// Work for the thread.
pub(super) enum FileJob {
    Store(StoreTicket, StoreJob),
    OpenRecord(Identity),
}

/// What the thread needs to know.
#[derive(Debug, Clone)]
pub(super) struct Places {
    /// Holds one folder a craft.
    pub(super) crafts: PathBuf,
    /// The radio card in use.
    pub(super) radio_card: Option<PathBuf>,
    /// Named in the lock.
    pub(super) recipe: String,
}

/// Starts the thread. It ends when the sender is dropped and all is done; the receiver hears of it.
pub(super) fn start(places: Places, mailbox: Mailbox) -> io::Result<(Sender<FileJob>, Receiver<()>)> {
    let (sender, jobs) = channel();
    let (done, ended) = channel();
    // A bare name has no folder that could be synced.
    let crafts = path::absolute(places.crafts)?;
    let radio_card = places.radio_card.map(path::absolute).transpose()?;
    let places = Places { crafts, radio_card, ..places };
    std::thread::Builder::new().name("files".to_owned()).spawn(move || {
        let mut files = Files { places, open: None, broken: false };
        for job in jobs {
            mailbox.post(match job {
                FileJob::Store(ticket, job) => Event::Stored(ticket, files.store(&job)),
                FileJob::OpenRecord(identity) => Event::Record(Box::new(files.open_record(&identity))),
            });
        }
        // Nobody waits where the world is gone.
        let _ = done.send(());
    })?;
    Ok((sender, ended))
}

struct Files {
    places: Places,
    open: Option<Open>,
    /// A sync failed: what is on the disk is unknown.
    broken: bool,
}

/// A craft's folder that is ours.
struct Open {
    folder: PathBuf,
    _lock: File,
}

impl Files {
    fn store(&mut self, job: &StoreJob) -> Result<(), RecordError> {
        let path = self.path(&job.place)?;
        if self.broken {
            let cause = "an earlier sync of the disk failed, so nothing more is written".to_owned();
            return Err(RecordError::Other { file: path, cause });
        }
        let parent = path.parent().unwrap_or(Path::new("/"));
        make_folder(parent)?;
        if matches!(job.place, StorePlace::New(_)) {
            if path.symlink_metadata().is_ok() {
                return Err(RecordError::Exists(path));
            }
            if !path.parent().is_some_and(Path::is_dir) {
                let cause = "there is no such folder; make it first, or name another".to_owned();
                return Err(RecordError::Other { file: path, cause });
            }
        }
        let stored = if job.append { append(&path, &job.bytes) } else { replace(&path, &job.bytes) };
        stored.map_err(|failed| {
            self.broken |= failed.unknown;
            sort(&path, &failed.error)
        })
    }

    fn path(&self, place: &StorePlace) -> Result<PathBuf, RecordError> {
        let nowhere = |file: &Path, cause: &str| RecordError::Other { file: file.to_owned(), cause: cause.to_owned() };
        match place {
            StorePlace::Craft(file) => {
                let inside = file.components().all(|part| matches!(part, Component::Normal(_)));
                let Some(open) = self.open.as_ref().filter(|_| inside && file.components().next().is_some()) else {
                    return Err(nowhere(file, "no craft's record is open, or this leads out of its folder"));
                };
                Ok(open.folder.join(file))
            }
            // A bare name has no folder that could be synced.
            StorePlace::New(file) => path::absolute(file).map_err(|error| sort(file, &error)),
            StorePlace::RadioCard => {
                let card = self.places.radio_card.as_deref();
                let card = card.ok_or_else(|| nowhere(Path::new("radio card"), "no radio card file is in use"))?;
                // A link stays a link: what it leads to is replaced.
                Ok(card.canonicalize().unwrap_or_else(|_| card.to_owned()))
            }
        }
    }

    fn open_record(&mut self, identity: &Identity) -> Result<CraftRecord, RecordError> {
        let folder = folder::of_craft(&self.places.crafts, &identity.id)?;
        if self.open.as_ref().is_none_or(|open| open.folder != folder) {
            make_folder(&folder)?;
            let lock = lock(&folder.join(LOCK), &self.places.recipe)?;
            self.open = Some(Open { folder: folder.clone(), _lock: lock });
        }
        for file in [journal::FILE, proof::FILE] {
            end_torn_line(&folder.join(file))?;
        }
        CraftRecord::read(&folder)
    }
}

/// A store that failed.
struct Failed {
    error: io::Error,
    /// Whether what is on the disk now is unknown.
    unknown: bool,
}

impl From<io::Error> for Failed {
    fn from(error: io::Error) -> Self {
        Self { error, unknown: false }
    }
}

fn synced(result: io::Result<()>) -> Result<(), Failed> {
    result.map_err(|error| Failed { error, unknown: true })
}

fn append(path: &Path, bytes: &[u8]) -> Result<(), Failed> {
    let is_new = !path.exists();
    let mut file = OpenOptions::new().append(true).create(true).open(path)?;
    let before = file.metadata()?.len();
    if let Err(error) = file.write_all(bytes) {
        // What was half written must not run into the next line.
        let unknown = file.set_len(before).is_err();
        return Err(Failed { error, unknown });
    }
    synced(file.sync_all())?;
    if is_new {
        synced(sync_folder(path))?;
    }
    Ok(())
}

fn replace(path: &Path, bytes: &[u8]) -> Result<(), Failed> {
    let folder = path.parent().unwrap_or(Path::new("/"));
    let mut file = tempfile::Builder::new().prefix(".quadjig-").permissions(permissions(path)).tempfile_in(folder)?;
    file.write_all(bytes)?;
    synced(file.as_file().sync_all())?;
    file.persist(path).map_err(|error| error.error)?;
    synced(sync_folder(path))
}

/// As the file that is replaced; of a new one, what the user's mask leaves.
fn permissions(path: &Path) -> fs::Permissions {
    use std::os::unix::fs::PermissionsExt;
    path.metadata().map_or_else(|_| fs::Permissions::from_mode(0o666), |found| found.permissions())
}

/// Syncs the folder that holds a file, so that its name is on the disk too.
fn sync_folder(path: &Path) -> io::Result<()> {
    path.parent().map_or(Ok(()), |folder| File::open(folder)?.sync_all())
}

/// Makes a folder and those above it, each synced into the one that holds it.
fn make_folder(folder: &Path) -> Result<(), RecordError> {
    if folder.is_dir() {
        return Ok(());
    }
    if let Some(parent) = folder.parent() {
        make_folder(parent)?;
    }
    match fs::create_dir(folder) {
        Err(error) if error.kind() != ErrorKind::AlreadyExists => Err(sort(folder, &error)),
        _ => sync_folder(folder).map_err(|error| sort(folder, &error)),
    }
}

/// Takes the lock, and writes into it who holds it.
fn lock(path: &Path, recipe: &str) -> Result<File, RecordError> {
    let sorted = |error: &io::Error| sort(path, error);
    let open = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(path);
    let mut file = open.map_err(|error| sorted(&error))?;
    match file.try_lock() {
        Ok(()) => {}
        Err(TryLockError::WouldBlock) => return Err(RecordError::Held(holder(&file))),
        Err(TryLockError::Error(error)) => return Err(sorted(&error)),
    }
    let who = format!("process {} with {}\n", std::process::id(), recipe.escape_debug());
    file.set_len(0).and_then(|()| file.write_all(who.as_bytes())).map_err(|error| sorted(&error))?;
    Ok(file)
}

fn holder(file: &File) -> String {
    let mut who = Vec::new();
    // Whoever took it a moment ago may not have written it yet.
    let _ = file.take(300).read_to_end(&mut who);
    let who = String::from_utf8_lossy(&who);
    let line = who.lines().next().unwrap_or_default().trim();
    if line.is_empty() { "one that has just begun".to_owned() } else { line.to_owned() }
}

/// Takes away a last line that was cut off: it was never answered as stored, and the next line must
/// not run into it.
fn end_torn_line(path: &Path) -> Result<(), RecordError> {
    let sorted = |error: io::Error| sort(path, &error);
    // A device or a pipe in its place would be read without end.
    if path.metadata().is_ok_and(|found| !found.is_file()) {
        let cause = "it is not a regular file".to_owned();
        return Err(RecordError::Other { file: path.to_owned(), cause });
    }
    let bytes = match fs::read(path) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(()),
        Err(error) => return Err(sorted(error)),
    };
    let whole = lines::whole(&bytes);
    if whole == bytes.len() {
        return Ok(());
    }
    let file = OpenOptions::new().write(true).open(path).map_err(sorted)?;
    file.set_len(whole as u64).and_then(|()| file.sync_all()).map_err(sorted)
}

/// What the system's refusal means.
fn sort(file: &Path, error: &io::Error) -> RecordError {
    let file = file.to_owned();
    match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => RecordError::Full(file),
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => RecordError::Denied(file),
        _ => RecordError::Other { file, cause: error.to_string() },
    }
}
