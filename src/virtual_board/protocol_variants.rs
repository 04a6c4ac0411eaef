//! How the board speaks MAVLink where boards differ: version, signatures, errors, long work, who else is on the wire.
//!
//! Promises: what is not asked for here is as it would be without this file. The key is never shown. Sources: MAVLink
//! developer guide, `guide/message_signing`, `guide/mavlink_version`, `services/command`. Must not be here: what any
//! message means.

use mavlink::{MAVLinkMessageRaw, MavlinkVersion};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt;

/// How far behind a sender's first timestamp may be: one minute in units of 10 µs.
const BEHIND: u64 = 6_000_000;
/// The board's own link number.
const LINK: u8 = 0;

/// Which version of frames a board speaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Versions {
    /// The first alone; frames of the second are nothing to it.
    First,
    /// The first, until it hears a frame of the second.
    Switching,
    /// The second; it reads both.
    #[default]
    Second,
}

/// How it can be asked for a stream's interval.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Intervals {
    /// By requesting the message.
    #[default]
    Requested,
    /// By the older command alone.
    Commanded,
    /// Not at all.
    Untold,
}

/// A signing key of 32 bytes.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Secret(pub [u8; 32]);

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret(not shown)")
    }
}

/// See the module.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ProtocolConfig {
    /// Version of frames.
    pub versions: Versions,
    /// Signs with this key, and takes only what is signed with it.
    pub key: Option<Secret>,
    /// Whether it answers a setting's error with `PARAM_ERROR`, instead of silence or the present value.
    pub errors: bool,
    /// How often storing is "in progress" before it is done.
    pub store_takes: u8,
    /// How it tells intervals.
    pub intervals: Intervals,
    /// Other vehicles on the wire, by system and component: they only show signs of life.
    pub others: Vec<(u8, u8)>,
}

/// The speech of one board.
#[derive(Clone)]
pub struct ProtocolVariants {
    config: ProtocolConfig,
    /// Whether a frame of the second version was heard.
    second: bool,
    /// The last timestamp: it has no clock, and takes up that of others.
    last: u64,
    streams: BTreeMap<(u8, u8, u8), u64>,
}

impl ProtocolVariants {
    pub fn new(config: ProtocolConfig) -> Self {
        Self { config, second: false, last: 0, streams: BTreeMap::new() }
    }

    /// It starts anew; its last timestamp was stored.
    pub fn restart(&mut self) {
        self.second = false;
    }

    pub fn version(&self) -> MavlinkVersion {
        match self.config.versions {
            Versions::First => MavlinkVersion::V1,
            Versions::Switching if !self.second => MavlinkVersion::V1,
            Versions::Switching | Versions::Second => MavlinkVersion::V2,
        }
    }

    pub fn signs(&self) -> bool {
        self.config.key.is_some()
    }

    /// Whether a frame is taken.
    pub fn takes(&mut self, raw: &MAVLinkMessageRaw) -> bool {
        let MAVLinkMessageRaw::V2(frame) = raw else { return !self.signs() };
        if self.config.versions == Versions::First {
            return false;
        }
        if let Some(Secret(key)) = self.config.key {
            if frame.incompatibility_flags() & 1 == 0 {
                return false;
            }
            let mut sum = [0; 6];
            frame.calculate_signature(&key, &mut sum);
            let sender = (u8::try_from(frame.system_id()).unwrap_or(0), frame.component_id());
            let stream = (sender.0, sender.1, frame.signature_link_id());
            let stamp = frame.signature_timestamp();
            let later = self.streams.get(&stream).map_or(stamp + BEHIND >= self.last, |last| stamp > *last);
            if sum != frame.signature_value() || !later {
                return false;
            }
            self.streams.insert(stream, stamp);
            self.last = self.last.max(stamp);
        }
        self.second = true;
        true
    }

    /// Puts link, timestamp and signature behind a frame that is marked as signed.
    pub fn sign(&mut self, frame: &mut Vec<u8>) {
        let Some(Secret(key)) = self.config.key else { return };
        self.last += 1;
        frame.push(LINK);
        frame.extend(&self.last.to_le_bytes()[..6]);
        let sum = Sha256::new().chain_update(key).chain_update(&*frame).finalize();
        frame.extend(&sum[..6]);
    }
}
