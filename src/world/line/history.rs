//! What was typed before, over sessions, in one file.
//!
//! Promises: never more than [`MOST`] lines; a line like the one before it, or one that begins with a blank, is not
//! kept; the file is for its owner alone; a file that can't be read or written costs the memory, never the session,
//! and is told once; nobody waits for the disk while typing. Answers to questions never come here.
//! Must not be here: keys.

use crate::language::characters::is_hidden;
use crate::record::folder::base;
use crate::world::mailbox::held;
use rustyline::config::{Builder, Config};
use rustyline::history::{FileHistory, History as _, MemHistory, SearchDirection};
use std::ffi::OsString;
use std::io;
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// Most lines.
const MOST: usize = 2000;
/// A file longer than this is no history of ours: [`MOST`] lines of 4 KiB.
const LONGEST_FILE: u64 = 8 << 20;
/// How long the disk may take: another program may hold the file.
const LONGEST: Duration = Duration::from_millis(500);

/// Where typed lines are kept, from the environment; `None` where it names no place. Source: as [`base`]; a history of
/// actions is its own example of state.
pub fn file(var: impl Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
    base(var, "XDG_STATE_HOME", ".local/state").map(|state| state.join("typed-lines"))
}

/// See the module.
pub(super) struct History {
    lines: MemHistory,
    disk: Option<Disk>,
    trouble: Trouble,
}

/// The thread that keeps the file.
struct Disk {
    lines: Sender<String>,
    ended: Receiver<()>,
}

type Trouble = Arc<Mutex<Option<String>>>;

impl History {
    /// Reads the file, if one is named and there.
    pub(super) fn open(file: Option<PathBuf>) -> Self {
        let mut history = Self { lines: MemHistory::with_config(&config()), disk: None, trouble: Trouble::default() };
        let Some(file) = file else { return history };
        let (lines, added) = channel();
        let (found, loaded) = channel();
        let (done, ended) = channel();
        let (path, trouble) = (file.clone(), history.trouble.clone());
        let started = std::thread::Builder::new().name("history".to_owned()).spawn(move || {
            if let Err((what, cause)) = keep(&path, &found, &added) {
                *held(&trouble) = Some(told(what, &path, &cause));
            }
            // Nobody waits any more where the disk took too long.
            let _ = done.send(());
        });
        let before = started.ok().and_then(|_| loaded.recv_timeout(LONGEST).ok());
        if let Some(before) = before {
            for line in before {
                // What memory does not take is not kept.
                let _ = history.lines.add_owned(line);
            }
            history.disk = Some(Disk { lines, ended });
        } else {
            let late = || told("read", &file, "it is held by another program");
            held(&history.trouble).get_or_insert_with(late);
        }
        history
    }

    /// Adds a line, and to the file.
    pub(super) fn add(&mut self, line: &str) {
        let kept = self.lines.add(line).ok() == Some(true);
        if let Some(disk) = self.disk.as_ref().filter(|_| kept) {
            // A file that was given up was told.
            let _ = disk.lines.send(line.to_owned());
        }
    }

    /// Waits for the file, but not for long.
    pub(super) fn close(&mut self) {
        if let Some(Disk { lines, ended }) = self.disk.take() {
            drop(lines);
            let _ = ended.recv_timeout(LONGEST);
        }
    }

    /// What went wrong, once.
    pub(super) fn trouble(&mut self) -> Option<String> {
        held(&self.trouble).take()
    }

    /// How many lines.
    pub(super) fn len(&self) -> usize {
        self.lines.len()
    }

    /// A line by its place, the oldest first; one that would not show as it is stays away.
    pub(super) fn get(&self, index: usize) -> Option<String> {
        let found = self.lines.get(index, SearchDirection::Reverse).ok().flatten()?;
        shows(&found.entry).then(|| found.entry.into_owned())
    }

    /// The youngest line before `end` that holds this text: its place.
    pub(super) fn find(&self, text: &str, end: usize) -> Option<usize> {
        let mut from = end.checked_sub(1)?;
        loop {
            let found = self.lines.search(text, from, SearchDirection::Reverse).ok().flatten()?;
            if shows(&found.entry) {
                return Some(found.idx);
            }
            from = found.idx.checked_sub(1)?;
        }
    }
}

/// Hands over what the file holds, then adds to it until nothing comes any more.
fn keep(path: &Path, found: &Sender<Vec<String>>, added: &Receiver<String>) -> Result<(), (&'static str, String)> {
    let mut lines = FileHistory::with_config(&config());
    read(path, &mut lines).map_err(|cause| ("read", cause))?;
    // Without anybody there is nothing to keep.
    let _ = found.send(lines.iter().cloned().collect());
    for line in added {
        // What memory does not take is not kept.
        let _ = lines.add_owned(line);
        write(path, &mut lines).map_err(|cause| ("written", cause))?;
    }
    Ok(())
}

fn read(path: &Path, lines: &mut FileHistory) -> Result<(), String> {
    match std::fs::metadata(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(error) => return Err(error.to_string()),
        Ok(about) if !about.is_file() => return Err("it is no file".to_owned()),
        Ok(about) if about.len() > LONGEST_FILE => return Err("it is too long".to_owned()),
        Ok(_) => {}
    }
    lines.load(path).map_err(|error| error.to_string())
}

fn write(path: &Path, lines: &mut FileHistory) -> Result<(), String> {
    if let Some(folder) = path.parent().filter(|folder| !folder.exists()) {
        let mut make = std::fs::DirBuilder::new();
        make.recursive(true).mode(0o700).create(folder).map_err(|error| error.to_string())?;
    }
    // Made here: the library would change for a moment how every thread makes files.
    let mut make = std::fs::OpenOptions::new();
    make.append(true).create(true).mode(0o600).open(path).map_err(|error| error.to_string())?;
    lines.append(path).map_err(|error| error.to_string())
}

fn told(what: &str, path: &Path, cause: &str) -> String {
    format!(
        "the lines typed before could not be {what} ({}: {cause}); lines of this session are kept until it ends",
        path.display()
    )
}

fn config() -> Config {
    // A line like the one before it stays away without being asked to.
    let config = Config::builder().history_ignore_space(true).max_history_size(MOST);
    config.map_or_else(|_| Config::default(), Builder::build)
}

/// Somebody else may have written the file.
fn shows(line: &str) -> bool {
    !line.chars().any(|c| c != '\n' && is_hidden(c))
}
