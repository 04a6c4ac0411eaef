//! What came for a script and waits to be taken: answers of the world and of the board, and what the board says in words.
//!
//! Must not be here: signals (see the interlock), and what an answer means.

use crate::board::signals::{Done, LinkEvent, Stream, Ticket};
use crate::board::value::{NoValue, SettingName};
use crate::language::Reading;
use crate::record::{CraftRecord, RecordError};
use crate::seam::page::Listing;
use crate::seam::{OpenError, PortInfo, StoreTicket};
use std::collections::{BTreeMap, VecDeque};

/// How much of the board's words is kept.
const WORDS_KEPT: usize = 4096;
/// How much of what came is kept, bytes: half a minute of a wire at 115200 bits a second.
const CAME_KEPT: usize = 400_000;

/// What the world and the board answered, until whoever asked takes it.
#[derive(Debug, Default)]
pub struct Replies {
    pub(in crate::bench) opened: Option<Result<PortInfo, OpenError>>,
    pub(in crate::bench) stored: BTreeMap<StoreTicket, Result<(), RecordError>>,
    pub(in crate::bench) record: Option<Result<CraftRecord, RecordError>>,
    pub(in crate::bench) recipe: Option<Reading>,
    pub(in crate::bench) done: BTreeMap<Ticket, Done>,
}

/// What the board tells beside its signals: words, and how far it is.
#[derive(Debug, Default)]
pub struct News {
    /// What the board said in words, not yet shown; severity and text.
    pub texts: VecDeque<(u8, String)>,
    /// Settings that the board has and does not tell the value of, as all were read last.
    pub lacking: BTreeMap<SettingName, NoValue>,
    /// How far a reading of all settings is.
    pub listing: Option<Listing>,
    pub(in crate::bench) progress: Option<(Ticket, Option<u8>)>,
    /// Why the last answer to a signal that was none could not be understood.
    pub misread: BTreeMap<Stream, String>,
    /// Whether anything came over the wire since it was opened.
    pub noise: bool,
    /// What came, where it is kept to be shown.
    pub came: Option<Vec<u8>>,
    /// Frames heard and lost so far, where the link counts them.
    pub frames: Option<(u64, u64)>,
}

impl News {
    /// Something came over the wire.
    pub(in crate::bench) fn hears(&mut self, bytes: &[u8]) {
        self.noise = true;
        if let Some(came) = &mut self.came {
            came.extend(bytes.iter().take(CAME_KEPT.saturating_sub(came.len())));
        }
    }

    pub(in crate::bench) fn take(&mut self, event: &LinkEvent) {
        match event {
            LinkEvent::Text { severity, text } => {
                if self.texts.len() == WORDS_KEPT {
                    self.texts.pop_front();
                }
                self.texts.push_back((*severity, text.clone()));
            }
            LinkEvent::NoValue { name, why } => {
                self.lacking.insert(name.clone(), *why);
            }
            // Asked once more it told a number after all.
            LinkEvent::Setting { name, .. } if self.lacking.get(name) == Some(&NoValue::NoNumber) => {
                self.lacking.remove(name);
            }
            LinkEvent::Listing { have, of, left } => {
                self.listing = Some(Listing { have: *have, of: *of, left: *left });
            }
            LinkEvent::Misread { stream, why } => drop(self.misread.insert(*stream, why.clone())),
            LinkEvent::Progress { ticket, percent } => self.progress = Some((*ticket, *percent)),
            _ => {}
        }
    }
}
