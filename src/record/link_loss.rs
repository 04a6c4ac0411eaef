//! What each channel does on link loss: it belongs to receiver and radio together, so to the craft.
//!
//! Promises: the newest finding replaces the one before as one. Must not be here: how it is found.

use super::{ChannelOnLoss, RecordError, StoreJob, lines};
use serde::{Deserialize, Serialize};
use std::path::Path;

/// Written into the file.
pub const SCHEMA: &str = "quadjig.link-loss/1";

/// The file in the craft's folder.
pub const FILE: &str = "measurements/link-loss.json";

/// The file's content.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LinkLoss {
    /// [`SCHEMA`].
    pub schema: String,
    /// When, RFC 3339.
    pub at: String,
    /// By channel.
    pub channels: Vec<ChannelOnLoss>,
}

impl LinkLoss {
    /// A finding.
    #[must_use]
    pub fn new(at: String, channels: Vec<ChannelOnLoss>) -> Self {
        Self { schema: SCHEMA.to_owned(), at, channels }
    }

    /// Reads the file's bytes; `None` where they are damaged: then it is found anew.
    ///
    /// # Errors
    /// [`RecordError::Unreadable`] where it is a finding of another schema.
    pub fn parse(file: &Path, bytes: &[u8]) -> Result<Option<Self>, RecordError> {
        lines::replaced(file, bytes, SCHEMA)
    }

    /// The file for the disk.
    ///
    /// # Errors
    /// [`RecordError::Other`] for a value that JSON can't hold.
    pub fn store(&self) -> Result<StoreJob, RecordError> {
        lines::replace(FILE, self)
    }
}
