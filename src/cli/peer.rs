//! Who is spoken to on a wire, and under which signing key.
//!
//! Promises: a key is read from its file once and shown nowhere, not even where it is wrong. Must not be here: ports.

use super::options::{Port, PortOptions};
use super::output::Output;
use crate::board::link_detector;
use crate::board::mavlink::MavlinkLink;
use crate::board::mavlink::signing::{Key, timestamp};
use crate::board::sheet::Sheet;
use crate::board::signals::Link;
use crate::rehearsal::played::{make_of, unplayed};
use crate::seam::exit::Exit;
use crate::virtual_board::Make;
use std::io::Read;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, SystemTime, UNIX_EPOCH};

/// More of a file than any key takes: what is longer is none.
const LONGEST: u64 = 4096;

/// See the module.
#[derive(Debug, Clone, Default)]
pub struct Peer {
    system_id: Option<u8>,
    key: Option<Key>,
    /// Of the boards that may be on the wire: they decide the link.
    sheets: Vec<Sheet>,
    /// What the virtual board is made as, where it is asked for by no name of its own and one sheet says what it is.
    played: Option<Arc<Make>>,
}

impl Peer {
    /// As the options say.
    ///
    /// # Errors
    /// A file that can't be read or holds no key, or a sheet of which no virtual board can be made, after it was told.
    pub fn of(options: &PortOptions, sheets: &[Sheet], out: &mut Output) -> Result<Self, Exit> {
        let key = options.signing_key.as_deref().map(|file| key(file, out)).transpose()?;
        let played = match (&options.port, sheets) {
            (Some(Port::Virtual(None)), [sheet]) => Some(played(sheet, out)?),
            _ => None,
        };
        Ok(Self { system_id: options.system_id, key, sheets: sheets.to_vec(), played })
    }

    /// What the virtual board without a name is made as; `None`: it is the Finch.
    #[must_use]
    pub fn played(&self) -> Option<Arc<Make>> {
        self.played.clone()
    }

    /// The same, where one board alone may be on the wire.
    #[must_use]
    pub fn for_sheet(self, sheet: &Sheet) -> Self {
        Self { sheets: vec![sheet.clone()], ..self }
    }

    /// A link that speaks to it, from now on.
    #[must_use]
    pub fn link(self) -> Box<dyn Link> {
        match self.key {
            None => link_detector::link(&self.sheets, self.system_id),
            // Only MAVLink is signed: whoever asks for that is not spoken to in any other way.
            Some(key) => {
                let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or(Duration::ZERO);
                Box::new(MavlinkLink::signed(self.system_id, key, timestamp(since)))
            }
        }
    }
}

/// The virtual board that a sheet describes.
///
/// # Errors
/// None can be made of it, after it was told.
pub fn played(sheet: &Sheet, out: &mut Output) -> Result<Arc<Make>, Exit> {
    if let Some(not) = unplayed(sheet) {
        out.message(&not);
    }
    make_of(sheet).map_err(|error| {
        out.error(&format!("no virtual board can be made from {}: {error}", sheet.origin), None);
        Exit::Document
    })
}

/// The key in a file.
///
/// # Errors
/// It can't be read or holds none, after it was told.
pub fn key(file: &Path, out: &mut Output) -> Result<Key, Exit> {
    let hint = Some("write the 64 hexadecimal digits of the key into it, and nothing else");
    let mut text = String::new();
    let read = std::fs::File::open(file).and_then(|open| open.take(LONGEST).read_to_string(&mut text));
    if let Err(error) = read {
        out.error(&format!("the signing key in {} can't be read: {error}", file.display()), hint);
        return Err(Exit::Document);
    }
    Key::read(&text).map_err(|error| {
        out.error(&format!("{}: {error}", file.display()), hint);
        Exit::Document
    })
}
