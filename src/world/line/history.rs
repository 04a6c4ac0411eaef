//! What was typed before, over sessions, in one file.
//!
//! Promises: never more than [`MOST`] lines; a line like the one before it, or one that begins with a blank, is not
//! kept; the file is for its owner alone; a file that can't be read or written costs the memory, never the session,
//! and is told once. Answers to questions never come here. Must not be here: keys.

use crate::language::characters::is_hidden;
use rustyline::config::{Builder, Config};
use rustyline::history::{FileHistory, History as _, SearchDirection};
use std::io;
use std::os::unix::fs::DirBuilderExt;
use std::path::{Path, PathBuf};

/// Most lines.
const MOST: usize = 2000;
/// A file longer than this is no history of ours: [`MOST`] lines of 4 KiB.
const LONGEST_FILE: u64 = 8 << 20;

/// See the module.
pub(super) struct History {
    lines: FileHistory,
    file: Option<PathBuf>,
    trouble: Option<String>,
}

impl History {
    /// Reads the file, if one is named and there.
    pub(super) fn open(file: Option<PathBuf>) -> Self {
        let mut history = Self { lines: empty(), file, trouble: None };
        if let Some(path) = history.file.clone()
            && let Err(cause) = history.read(&path)
        {
            history.give_up("read", &path, &cause);
        }
        history
    }

    fn read(&mut self, path: &Path) -> Result<(), String> {
        match std::fs::metadata(path) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
            Err(error) => return Err(error.to_string()),
            Ok(about) if !about.is_file() => return Err("it is no file".to_owned()),
            Ok(about) if about.len() > LONGEST_FILE => return Err("it is too long".to_owned()),
            Ok(_) => {}
        }
        self.lines.load(path).map_err(|error| error.to_string())
    }

    /// Adds a line, and to the file.
    pub(super) fn add(&mut self, line: &str) {
        if self.lines.add(line).ok() != Some(true) {
            return;
        }
        if let Some(path) = self.file.clone()
            && let Err(cause) = self.write(&path)
        {
            self.give_up("written", &path, &cause);
        }
    }

    fn write(&mut self, path: &Path) -> Result<(), String> {
        if let Some(folder) = path.parent().filter(|folder| !folder.exists()) {
            let mut make = std::fs::DirBuilder::new();
            make.recursive(true).mode(0o700).create(folder).map_err(|error| error.to_string())?;
        }
        self.lines.append(path).map_err(|error| error.to_string())
    }

    fn give_up(&mut self, what: &str, path: &Path, cause: &str) {
        self.file = None;
        self.trouble = Some(format!(
            "the lines typed before could not be {what} ({}: {cause}); lines of this session are kept until it ends",
            path.display()
        ));
    }

    /// What went wrong, once.
    pub(super) fn trouble(&mut self) -> Option<String> {
        self.trouble.take()
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

fn empty() -> FileHistory {
    // A line like the one before it stays away without being asked to.
    let config = Config::builder().history_ignore_space(true).max_history_size(MOST);
    FileHistory::with_config(&config.map_or_else(|_| Config::default(), Builder::build))
}

/// Somebody else may have written the file.
fn shows(line: &str) -> bool {
    !line.chars().any(|c| c != '\n' && is_hidden(c))
}
