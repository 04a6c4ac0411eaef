//! Snapshots: copies of all settings of a board, one file each, never changed afterwards.
//!
//! Promises: what was written is read as the same values; a name that stands twice, and what can be no name, is refused,
//! never chosen between. Must not be here: comparing two, or bringing one back.

use super::{RecordError, Snapshot, StoreJob, lines};
use crate::board::sheet::Settings;
use crate::board::signals::Identity;
use crate::board::value::{Number, SettingName};
use serde::de::{Deserializer, Error, MapAccess, Visitor};
use std::path::{Path, PathBuf};

/// Written into every snapshot.
pub const SCHEMA: &str = "quadjig.snapshot/1";

impl Snapshot {
    /// A copy taken at this moment (RFC 3339).
    #[must_use]
    pub fn new(taken: String, board: Identity, settings: Settings) -> Self {
        Self { schema: SCHEMA.to_owned(), taken, board, settings }
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
        if read.schema == SCHEMA { Ok(read) } else { Err(unfit(format!("its schema is not {SCHEMA}"))) }
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

/// Reads settings, each name once.
///
/// # Errors
/// A name twice, or one that no board's setting can have.
pub(super) fn settings<'de, D: Deserializer<'de>>(from: D) -> Result<Settings, D::Error> {
    struct Each;
    impl<'de> Visitor<'de> for Each {
        type Value = Settings;

        fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
            f.write_str("settings by the board's own names")
        }

        fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Settings, A::Error> {
            let mut settings = Settings::new();
            while let Some((text, number)) = map.next_entry::<String, Number>()? {
                let shown = text.escape_debug();
                let name = SettingName::new(&text)
                    .ok_or_else(|| A::Error::custom(format!("no board has a setting of the name \"{shown}\"")))?;
                if settings.insert(name, number).is_some() {
                    return Err(A::Error::custom(format!("{shown} stands twice")));
                }
            }
            Ok(settings)
        }
    }
    from.deserialize_map(Each)
}
