//! Snapshots: copies of all settings of a board, one file each, never changed afterwards.
//!
//! Promises: what was written is read as the same values; a name that stands twice, what can be no name, and what no
//! snapshot has is refused, never chosen between or left out; one that is not whole says so. Must not be here: comparing two, or bringing one back.

use super::{RecordError, Snapshot, StoreJob, lines};
use crate::board::sheet::Settings;
use crate::board::signals::Identity;
use crate::board::value::{NoValue, SettingName};
use serde::Deserialize;
use serde::de::{Deserializer, Error, MapAccess, Visitor};
use std::collections::BTreeMap;
use std::marker::PhantomData;
use std::path::{Path, PathBuf};

/// Written into every snapshot.
pub const SCHEMA: &str = "quadjig.snapshot/1";

impl Snapshot {
    /// A copy taken at this moment (RFC 3339).
    #[must_use]
    pub fn new(taken: String, board: Identity, settings: Settings) -> Self {
        Self { schema: SCHEMA.to_owned(), taken, board, settings, lacking: BTreeMap::new() }
    }

    /// Why it is not whole; nothing where it is.
    #[must_use]
    pub fn not_whole(&self) -> Option<String> {
        let names = |why| self.lacking.iter().filter(move |(_, is)| **is == why).map(|(name, _)| name.to_string());
        let said = [(NoValue::NoNumber, "no number is told of"), (NoValue::Twice, "the board lists twice")];
        let told = said.into_iter().filter_map(|(why, words)| {
            let names = names(why).collect::<Vec<_>>().join(", ");
            (!names.is_empty()).then(|| format!("{words} {names}"))
        });
        let told = told.collect::<Vec<_>>().join("; ");
        (!told.is_empty()).then_some(told)
    }

    /// Its file in the craft's folder, named after the moment: `snapshots/20260301T101500Z.json`.
    #[must_use]
    pub fn file(&self) -> String {
        let fits = |c: &char| c.is_ascii_alphanumeric();
        let stem: String = self.taken.chars().filter(fits).take(40).collect();
        format!("snapshots/{}.json", if stem.is_empty() { "undated" } else { &stem })
    }

    /// Reads a snapshot's bytes.
    ///
    /// # Errors
    /// Why it is no snapshot of this schema, and where.
    pub fn parse(file: &Path, bytes: &[u8]) -> Result<Self, SnapshotError> {
        let unfit = |why: String| SnapshotError { file: file.to_owned(), why };
        let read: Self = serde_json::from_slice(bytes).map_err(|error| unfit(error.to_string()))?;
        match () {
            () if read.schema != SCHEMA => Err(unfit(format!("its schema is not {SCHEMA}"))),
            () if read.taken.parse::<jiff::Timestamp>().is_err() => {
                Err(unfit("when it was taken is no moment".to_owned()))
            }
            () => Ok(read),
        }
    }

    /// The file for the disk.
    ///
    /// # Errors
    /// [`RecordError::Other`] for a value that JSON can't hold.
    pub fn store(&self) -> Result<StoreJob, RecordError> {
        lines::replace(&self.file(), self)
    }
}

/// Why a file is no snapshot.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{} is no snapshot that this version can read: {why}", .file.display())]
pub struct SnapshotError {
    /// Which file.
    pub file: PathBuf,
    /// What is wrong, and where.
    pub why: String,
}

/// Reads something of each setting, each name once.
///
/// # Errors
/// A name twice, or one that no board's setting can have.
pub(super) fn by_name<'de, D: Deserializer<'de>, V: Deserialize<'de>>(
    from: D,
) -> Result<BTreeMap<SettingName, V>, D::Error> {
    struct Each<V>(PhantomData<V>);
    impl<'de, V: Deserialize<'de>> Visitor<'de> for Each<V> {
        type Value = BTreeMap<SettingName, V>;

        fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
            f.write_str("settings by the board's own names")
        }

        fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
            let mut all = BTreeMap::new();
            while let Some((text, value)) = map.next_entry::<String, V>()? {
                let shown = text.escape_debug();
                let name = SettingName::new(&text)
                    .ok_or_else(|| A::Error::custom(format!("no board has a setting of the name \"{shown}\"")))?;
                if all.insert(name, value).is_some() {
                    return Err(A::Error::custom(format!("{shown} stands twice")));
                }
            }
            Ok(all)
        }
    }
    from.deserialize_map(Each(PhantomData))
}
