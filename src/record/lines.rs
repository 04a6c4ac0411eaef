//! JSON lines: one record a line, each with a checksum of its own, each ended by a line feed.
//!
//! Promises: a line that was changed or cut is told from a whole one, and is never skipped in silence; what another
//! version wrote is refused with its file and line. Must not be here: what a record means.

use super::{RecordError, StoreJob, StorePlace};
use crate::language::canonical::hex;
use serde::Serialize;
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};
use std::path::Path;

/// What stands before a line's checksum: its last field, over all that stands before it.
const SUM: &[u8] = b",\"sum\":\"";
/// Hex digits of a checksum: the first 8 bytes of a SHA-256.
const DIGITS: usize = 16;
/// What stands behind it.
const END: &[u8] = b"\"}";

/// Bytes of the whole lines in a file of lines: what follows was torn off.
pub(crate) fn whole(bytes: &[u8]) -> usize {
    bytes.iter().rposition(|&byte| byte == b'\n').map_or(0, |at| at + 1)
}

/// How many whole lines there are.
pub(crate) fn count(bytes: &[u8]) -> usize {
    bytes.split(|&byte| byte == b'\n').count().saturating_sub(1)
}

/// What is thought of a line that reads as a record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Verdict {
    /// It is one.
    Fine,
    /// It should carry a checksum, and has none.
    Damaged,
    /// Another version wrote it.
    Foreign,
}

impl Verdict {
    /// Of a line of this version, or of another, where every version writes checksums.
    pub(super) fn of(ours: bool, summed: bool) -> Self {
        match (ours, summed) {
            (true, true) => Self::Fine,
            (true, false) => Self::Damaged,
            (false, _) => Self::Foreign,
        }
    }
}

/// What a file of lines holds.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Read<T> {
    /// Every line that ends, in order; the number from 1 of one that is damaged.
    pub(super) lines: Vec<Result<T, usize>>,
    /// Whether something without a line feed follows them: a write that was cut off.
    pub(super) torn: bool,
}

/// Reads every line that ends. `judge` is told whether the record carries its checksum.
///
/// # Errors
/// [`RecordError::Unreadable`] with the first line that another version wrote.
pub(super) fn read<T: DeserializeOwned>(
    file: &Path,
    bytes: &[u8],
    judge: impl Fn(&T, bool) -> Verdict,
) -> Result<Read<T>, RecordError> {
    let whole = whole(bytes);
    let mut lines = Vec::new();
    let mut summed = false;
    for (at, line) in bytes[..whole].split_inclusive(|&byte| byte == b'\n').enumerate() {
        let number = at + 1;
        let line = line.strip_suffix(b"\n").unwrap_or(line);
        let foreign = Err(RecordError::Unreadable { file: file.to_owned(), line: number });
        let (record, with_sum) = match unsealed(line) {
            Some(Ok(record)) => (record, true),
            Some(Err(())) => {
                lines.push(Err(number));
                continue;
            }
            None => (line.to_vec(), false),
        };
        // Lines from before there were checksums stand at the beginning; behind one with a checksum each has one.
        let verdict = match serde_json::from_slice::<T>(&record) {
            Ok(record) => match judge(&record, with_sum) {
                Verdict::Fine if summed && !with_sum => Err(Verdict::Damaged),
                Verdict::Fine => Ok(record),
                other => Err(other),
            },
            // A line that was written so and means nothing to this version is a later one's.
            Err(_) if with_sum => Err(Verdict::Foreign),
            Err(_) => Err(Verdict::Damaged),
        };
        summed |= with_sum;
        match verdict {
            Err(Verdict::Foreign) => return foreign,
            other => lines.push(other.map_err(|_| number)),
        }
    }
    Ok(Read { lines, torn: whole < bytes.len() })
}

/// One line for the disk, to be added at the end.
///
/// # Errors
/// [`RecordError::Other`] for a value that JSON can't hold.
pub(super) fn append<T: Serialize>(file: &str, record: &T) -> Result<StoreJob, RecordError> {
    append_all(file, std::slice::from_ref(record))
}

/// As many lines as there are records.
///
/// # Errors
/// As [`append`].
pub(super) fn append_all<T: Serialize>(file: &str, records: &[T]) -> Result<StoreJob, RecordError> {
    let lines: Vec<Vec<u8>> = records.iter().map(|record| line(file, record)).collect::<Result<_, _>>()?;
    Ok(StoreJob { place: StorePlace::Craft(file.into()), bytes: lines.concat(), append: true })
}

fn line<T: Serialize>(file: &str, record: &T) -> Result<Vec<u8>, RecordError> {
    let mut bytes = json(file, serde_json::to_vec(record))?;
    let sum = sum(&bytes);
    // The checksum becomes the object's last field.
    bytes.truncate(bytes.len().saturating_sub(1));
    bytes.extend_from_slice(SUM);
    bytes.extend_from_slice(sum.as_bytes());
    bytes.extend_from_slice(END);
    bytes.push(b'\n');
    Ok(bytes)
}

/// Whether one of these lines carries its checksum: then each behind it does.
pub(super) fn has_sums(bytes: &[u8]) -> bool {
    bytes.split(|&byte| byte == b'\n').any(|line| matches!(unsealed(line), Some(Ok(_))))
}

/// A line without its checksum; an error for one that does not fit, `None` where it has none.
fn unsealed(line: &[u8]) -> Option<Result<Vec<u8>, ()>> {
    let sealed = line.strip_suffix(END)?;
    let (rest, found) = sealed.split_at_checked(sealed.len().checked_sub(DIGITS)?)?;
    let mut record = rest.strip_suffix(SUM)?.to_vec();
    record.push(b'}');
    Some(if sum(&record).as_bytes() == found { Ok(record) } else { Err(()) })
}

fn sum(record: &[u8]) -> String {
    hex(&Sha256::digest(record)[..DIGITS / 2])
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

/// What [`replace`] wrote; `None` where it is damaged.
///
/// # Errors
/// [`RecordError::Unreadable`] where it is of another schema.
pub(super) fn replaced<T: DeserializeOwned>(file: &Path, bytes: &[u8], schema: &str) -> Result<Option<T>, RecordError> {
    let Ok(found) = serde_json::from_slice::<serde_json::Value>(bytes) else { return Ok(None) };
    if found.get("schema").is_some_and(|found| found != schema) {
        return Err(RecordError::Unreadable { file: file.to_owned(), line: 1 });
    }
    Ok(serde_json::from_value(found).ok())
}

fn json(file: &str, made: serde_json::Result<Vec<u8>>) -> Result<Vec<u8>, RecordError> {
    made.map_err(|error| RecordError::Other { file: file.into(), cause: error.to_string() })
}
