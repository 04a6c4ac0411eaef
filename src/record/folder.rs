//! Where a craft's record lies, and reading it.
//!
//! Promises: a folder is named after a board's id only when that id is 16 hex digits and not zero, else after the name
//! that the operator typed, so nothing that a board says leads out of the data folder; reading changes nothing.
//! Must not be here: writing and locking (see the world's files).

use super::crafts::repair;
use super::crafts::shown::judge;
use super::journal::{self, Journal};
use super::link_loss::{self, LinkLoss};
use super::provenance::Input;
use super::{CraftRecord, Damage, RecordError, proof};
use crate::board::signals::Identity;
use std::collections::BTreeMap;
use std::ffi::OsString;
use std::fs::DirEntry;
use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};

/// The craft's own radio card, where no other is named.
pub const RADIO_CARD: &str = "radio-card.toml";

/// A file of a record is no longer than this: 64 MiB hold some hundred thousand runs.
const LONGEST_FILE: u64 = 64 << 20;

/// The folder that holds one folder a craft, from the environment.
///
/// # Errors
/// [`RecordError::Nowhere`] where it names no place.
pub fn crafts(var: impl Fn(&str) -> Option<OsString>) -> Result<PathBuf, RecordError> {
    base(var, "XDG_DATA_HOME", ".local/share").map(|data| data.join("crafts")).ok_or(RecordError::Nowhere)
}

/// The program's own folder of a kind, from the environment; `None` where it names no place.
///
/// Source: XDG Base Directory Specification 0.8: the variable where it is an absolute path, else a path below `$HOME`.
pub fn base(var: impl Fn(&str) -> Option<OsString>, name: &str, below_home: &str) -> Option<PathBuf> {
    let absolute = |name: &str| var(name).map(PathBuf::from).filter(|path| path.is_absolute());
    let base = absolute(name).or_else(|| absolute("HOME").map(|home| home.join(below_home)));
    base.map(|base| base.join("quadjig"))
}

/// What lies in the folder of all crafts; nothing where there is none.
pub(super) fn entries(crafts: &Path) -> Result<Vec<DirEntry>, RecordError> {
    let other = |error: std::io::Error| RecordError::Other { file: crafts.to_owned(), cause: error.to_string() };
    match std::fs::read_dir(crafts) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(Vec::new()),
        entries => entries.and_then(Iterator::collect).map_err(other),
    }
}

/// The folder of one craft.
///
/// # Errors
/// [`RecordError::Unnamed`] for a zero id, [`RecordError::BadId`] for one that is no id.
pub fn of_craft(crafts: &Path, id: &str) -> Result<PathBuf, RecordError> {
    let digit = |byte: u8| matches!(byte, b'0'..=b'9' | b'a'..=b'f');
    if id.len() != 16 || !id.bytes().all(digit) {
        return Err(RecordError::BadId(id.to_owned()));
    }
    if id.bytes().all(|byte| byte == b'0') {
        return Err(RecordError::Unnamed);
    }
    Ok(crafts.join(id))
}

/// The folder of the craft of a board: by its id, or by the name that was typed where the id tells it from no other.
///
/// # Errors
/// As [`of_craft`].
pub fn of_board(crafts: &Path, identity: &Identity) -> Result<PathBuf, RecordError> {
    match &identity.name {
        _ if identity.is_unique() => of_craft(crafts, &identity.id),
        Some(name) => Ok(crafts.join(name.folder())),
        None => Err(RecordError::Unnamed),
    }
}

/// A record's files as bytes; `None` where there is no such file.
#[derive(Debug, Clone, Default)]
pub struct Contents {
    /// [`journal::FILE`].
    pub journal: Option<Vec<u8>>,
    /// [`proof::FILE`].
    pub proofs: Option<Vec<u8>>,
    /// [`link_loss::FILE`].
    pub link_loss: Option<Vec<u8>>,
    /// [`repair::FILE`].
    pub repairs: Option<Vec<u8>>,
    /// [`RADIO_CARD`].
    pub radio_card: Option<Vec<u8>>,
}

impl Contents {
    /// Reads the files of a craft's folder.
    ///
    /// # Errors
    /// [`RecordError::Denied`] or [`RecordError::Other`] with the system's words.
    pub fn read(folder: &Path) -> Result<Self, RecordError> {
        Self::by(|file| bytes(&folder.join(file)))
    }

    /// The same by what reads a file of the folder.
    ///
    /// # Errors
    /// As what reads.
    pub(super) fn by(mut read: impl FnMut(&str) -> Result<Option<Vec<u8>>, RecordError>) -> Result<Self, RecordError> {
        Ok(Self {
            journal: read(journal::FILE)?,
            proofs: read(proof::FILE)?,
            link_loss: read(link_loss::FILE)?,
            repairs: read(repair::FILE)?,
            radio_card: read(RADIO_CARD)?,
        })
    }
}

impl CraftRecord {
    /// What the files of a record say.
    ///
    /// # Errors
    /// [`RecordError::Unreadable`] with file and line.
    pub fn from_contents(folder: &Path, contents: &Contents) -> Result<Self, RecordError> {
        let in_folder = |file: &str| folder.join(file);
        // A file of lines that is not there has no line.
        let Journal { lines: journal, torn } =
            Journal::parse(&in_folder(journal::FILE), contents.journal.as_deref().unwrap_or_default())?;
        let (proofs, of_proofs) =
            proof::parse(&in_folder(proof::FILE), contents.proofs.as_deref().unwrap_or_default())?;
        let (voiding, of_repairs) =
            repair::parse(&in_folder(repair::FILE), contents.repairs.as_deref().unwrap_or_default())?;
        let torn = torn.then_some(Damage::Torn(journal::FILE));
        let mut damage: Vec<Damage> = torn.into_iter().chain(of_proofs).chain(of_repairs).collect();
        let judged: Vec<_> = proofs.iter().map(|(line, proof)| judge(*line, proof, &voiding, None)).collect();
        let last = |at: usize| !judged[at + 1..].iter().any(|later| later.kind == judged[at].kind);
        let voided = (0..judged.len()).filter(|at| last(*at) && !judged[*at].void.is_empty());
        let voided = voided.map(|at| judged[at].clone()).collect();
        let repairs = voiding.iter().filter_map(|one| one.repair.clone()).collect();
        let proofs = judged.into_iter().filter(|one| one.void.is_empty()).map(|one| one.proof).collect();
        let link_loss = match &contents.link_loss {
            Some(bytes) => LinkLoss::parse(&in_folder(link_loss::FILE), bytes)?.map_or_else(
                || {
                    damage.push(Damage::File(link_loss::FILE));
                    Vec::new()
                },
                |found| found.channels,
            ),
            None => Vec::new(),
        };
        let radio_card = match &contents.radio_card {
            Some(bytes) => Some(
                String::from_utf8(bytes.clone())
                    .map_err(|_| RecordError::Unreadable { file: in_folder(RADIO_CARD), line: 1 })?,
            ),
            None => None,
        };
        Ok(Self {
            folder: folder.to_owned(),
            journal,
            proofs,
            voided,
            repairs,
            link_loss,
            radio_card,
            damage,
            at_hand: BTreeMap::new(),
        })
    }

    /// Reads a craft's folder without taking its lock: for commands that only look.
    ///
    /// # Errors
    /// As [`Contents::read`] and [`CraftRecord::from_contents`].
    pub fn read(folder: &Path) -> Result<Self, RecordError> {
        Self::from_contents(folder, &Contents::read(folder)?)
    }
}

/// The text of an input, as a craft's folder keeps it.
#[must_use]
pub fn input(folder: &Path, input: &Input) -> Option<String> {
    String::from_utf8(bytes(&folder.join(input.kept()?)).ok()??).ok()
}

/// All bytes of a file; `None` where there is none.
///
/// # Errors
/// Not a regular file, too long, or the system's words.
pub(crate) fn bytes(file: &Path) -> Result<Option<Vec<u8>>, RecordError> {
    let mut bytes = Vec::new();
    let opened = match std::fs::File::open(file) {
        Ok(opened) => opened,
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(other(file, &error)),
    };
    // A device or a pipe in its place would be read without end.
    if !opened.metadata().map_err(|error| other(file, &error))?.is_file() {
        return Err(RecordError::Other { file: file.to_owned(), cause: "it is not a regular file".to_owned() });
    }
    opened.take(LONGEST_FILE + 1).read_to_end(&mut bytes).map_err(|error| other(file, &error))?;
    if bytes.len() as u64 > LONGEST_FILE {
        let cause =
            "the file is longer than 64 MiB, more than is read; a journal has to stay where it is all the same, \
                     as it may say what a run left half written"
                .to_owned();
        return Err(RecordError::Other { file: file.to_owned(), cause });
    }
    Ok(Some(bytes))
}

fn other(file: &Path, error: &std::io::Error) -> RecordError {
    RecordError::Other { file: file.to_owned(), cause: error.to_string() }
}
