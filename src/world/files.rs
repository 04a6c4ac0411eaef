//! The disk: one thread that stores, that opens and locks a craft's record, and that reads a recipe.
//!
//! Promises: jobs are done one after the other, and each is answered. Must not be here: the order of a job's steps (see
//! `record::files`), what a record says.

use super::mailbox::Mailbox;
use super::replace::{SystemFiles, Trouble};
use crate::board::signals::Identity;
use crate::board::vocabulary;
use crate::language::sources;
use crate::record::files::{FileStep, FileSystem, Files, Places, StepOutcome};
use crate::record::{CraftRecord, RecordError, StoreJob, StorePlace, folder};
use crate::seam::{Event, RecipeAsked, StoreTicket};
use std::io::{self, ErrorKind};
use std::path::{self, Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};

/// Work for the thread.
pub(super) enum FileJob {
    Store(StoreTicket, StoreJob),
    OpenRecord(Identity),
    ReadRecipe(RecipeAsked),
}

/// Starts the thread. It ends when the sender is dropped and all is done; the receiver hears of it.
pub(super) fn start(places: Places, mailbox: Mailbox) -> io::Result<(Sender<FileJob>, Receiver<()>)> {
    let (sender, jobs) = channel();
    let (done, ended) = channel();
    // A bare name has no folder that could be synced; a link stays a link, and what it leads to is replaced.
    let card = |card| path::absolute(card).map(|card| card.canonicalize().unwrap_or(card));
    let radio_card = places.radio_card.map(card).transpose()?;
    let places = Places { crafts: path::absolute(places.crafts)?, radio_card, ..places };
    std::thread::Builder::new().name("files".to_owned()).spawn(move || {
        let mut files = Files::new(places);
        let mut disk = Disk(SystemFiles::default());
        for job in jobs {
            mailbox.post(match job {
                FileJob::Store(ticket, job) => {
                    Event::Stored(ticket, named(job).and_then(|job| files.store(&mut disk, &job)))
                }
                FileJob::OpenRecord(identity) => Event::Record(Box::new(files.open_record(&mut disk, &identity))),
                FileJob::ReadRecipe(asked) => {
                    Event::Recipe(Box::new(vocabulary::read(&sources::Disk, &asked.file, &asked.with)))
                }
            });
        }
        // Nobody waits where the world is gone.
        let _ = done.send(());
    })?;
    Ok((sender, ended))
}

/// Puts something into the record in a craft's folder, which is locked meanwhile; `jobs` is told what is in it.
///
/// # Errors
/// A run holds it, another version wrote it, or the disk's reason.
pub fn keep(
    craft: &Path,
    jobs: impl FnOnce(&CraftRecord) -> Result<Vec<StoreJob>, RecordError>,
) -> Result<(), RecordError> {
    let craft = path::absolute(craft).map_err(|error| sorted(craft, &error))?;
    let holder = holder("a note");
    let mut files = Files::new(Places { crafts: PathBuf::new(), radio_card: None, holder });
    let mut disk = Disk(SystemFiles::default());
    let record = files.open_folder(&mut disk, &craft)?;
    for job in jobs(&record)? {
        files.store(&mut disk, &job)?;
    }
    Ok(())
}

/// Who holds a lock, for whoever finds it: records may lie in a folder that several machines share.
pub(super) fn holder(what: &str) -> String {
    #[cfg(unix)]
    let machine = format!(" on {}", rustix::system::uname().nodename().to_string_lossy().escape_debug());
    #[cfg(not(unix))]
    let machine = "";
    format!("process {}{machine} with {}\n", std::process::id(), what.escape_debug())
}

/// A bare name has no folder that could be synced.
fn named(job: StoreJob) -> Result<StoreJob, RecordError> {
    let StorePlace::New(file) = job.place else { return Ok(job) };
    let place = StorePlace::New(path::absolute(&file).map_err(|error| sorted(&file, &error))?);
    Ok(StoreJob { place, ..job })
}

struct Disk(SystemFiles);

impl FileSystem for Disk {
    fn act(&mut self, step: FileStep) -> Result<StepOutcome, RecordError> {
        let path = match &step {
            FileStep::Read(path) => {
                return folder::bytes(path).map(|bytes| bytes.map_or(StepOutcome::Nothing, StepOutcome::Bytes));
            }
            FileStep::Look(path)
            | FileStep::MakeFolder(path)
            | FileStep::SyncFolder(path)
            | FileStep::Append(path, _)
            | FileStep::Cut(path, _)
            | FileStep::Sync(path)
            | FileStep::WriteBeside(path, _)
            | FileStep::SyncBeside(path)
            | FileStep::Rename(path)
            | FileStep::Lock(path, _) => path.clone(),
        };
        self.0.carry_out(step).map_err(|trouble| match trouble {
            Trouble::Held(by) => RecordError::Held(by),
            Trouble::NoLocks => RecordError::NoLocks(path.clone()),
            Trouble::System(error) => sorted(&path, &error),
        })
    }
}

/// What the system's refusal means.
pub fn sorted(file: &Path, error: &io::Error) -> RecordError {
    let file = file.to_owned();
    match error.kind() {
        ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => RecordError::Full(file),
        ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => RecordError::Denied(file),
        _ => RecordError::Other { file, cause: error.to_string() },
    }
}
