//! JSON lines: one record a line, each ended by a line feed.
//!
//! Promises: what can't be read is refused with its file and line, never skipped; only a last line
//! without its line feed counts as torn off. Must not be here: what a record means.

use super::{RecordError, StoreJob, StorePlace};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::path::Path;

/// Bytes of the whole lines in a file of lines: what follows was torn off.
pub(crate) fn whole(bytes: &[u8]) -> usize {
    bytes.iter().rposition(|&byte| byte == b'\n').map_or(0, |at| at + 1)
}

/// What a file of lines holds.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Read<T> {
    /// Every whole line, in order.
    pub(super) lines: Vec<T>,
    /// Bytes of the whole lines; what follows was torn off in the middle of a write.
    pub(super) whole: usize,
}

/// Reads every whole line.
///
/// # Errors
/// [`RecordError::Unreadable`] with the first line that is no such record.
pub(super) fn read<T: DeserializeOwned>(
    file: &Path,
    bytes: &[u8],
    known: impl Fn(&T) -> bool,
) -> Result<Read<T>, RecordError> {
    let whole = whole(bytes);
    let mut lines = Vec::new();
    for (at, line) in bytes[..whole].split_inclusive(|&byte| byte == b'\n').enumerate() {
        match serde_json::from_slice::<T>(line) {
            Ok(record) if known(&record) => lines.push(record),
            _ => return Err(RecordError::Unreadable { file: file.to_owned(), line: at + 1 }),
        }
    }
    Ok(Read { lines, whole })
}

/// One line for the disk, to be added at the end.
///
/// # Errors
/// [`RecordError::Other`] for a value that JSON can't hold.
pub(super) fn append<T: Serialize>(file: &str, record: &T) -> Result<StoreJob, RecordError> {
    let mut bytes = json(file, serde_json::to_vec(record))?;
    bytes.push(b'\n');
    Ok(StoreJob { place: StorePlace::Craft(file.into()), bytes, append: true })
}

/// A whole file for the disk, laid out for people too.
///
/// # Errors
/// As [`append`].
pub(super) fn replace<T: Serialize>(file: &str, record: &T) -> Result<StoreJob, RecordError> {
    let mut bytes = json(file, serde_json::to_vec_pretty(record))?;
    bytes.push(b'\n');
    Ok(StoreJob { place: StorePlace::Craft(file.into()), bytes, append: false })
}

/// A whole file, read.
///
/// # Errors
/// [`RecordError::Unreadable`] with the line where it goes wrong.
pub(super) fn read_file<T: DeserializeOwned>(
    file: &Path,
    bytes: &[u8],
    known: impl Fn(&T) -> bool,
) -> Result<T, RecordError> {
    let unreadable = |line: usize| RecordError::Unreadable { file: file.to_owned(), line: line.max(1) };
    let record = serde_json::from_slice(bytes).map_err(|error| unreadable(error.line()))?;
    if known(&record) { Ok(record) } else { Err(unreadable(1)) }
}

fn json(file: &str, made: serde_json::Result<Vec<u8>>) -> Result<Vec<u8>, RecordError> {
    made.map_err(|error| RecordError::Other { file: file.into(), cause: error.to_string() })
}
