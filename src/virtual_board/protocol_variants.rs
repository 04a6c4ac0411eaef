//! How the board speaks MAVLink where boards differ: version, signatures, errors, long work, who else is on the wire.
//!
//! Promises: what is not asked for here is as it would be without this file. The key is never shown. Sources: MAVLink
//! developer guide, `guide/message_signing`, `guide/mavlink_version`, `services/command`. Must not be here: what any
//! message means.

use super::wire::Sender;
use super::world::World;
use crate::measure::time::Time;
use mavlink::dialects::common::{COMMAND_ACK_DATA, MavCmd, MavResult};
use mavlink::{MAVLinkMessageRaw, MavlinkVersion};
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt;
use std::time::Duration;

/// How far behind a sender's first timestamp may be: one minute in units of 10 µs.
const BEHIND: u64 = 6_000_000;
/// The board's own link number.
const LINK: u8 = 0;
/// From one word on long work to the next.
const WORKS: Duration = Duration::from_millis(800);
/// From one sign of life of the others to the next.
const BEAT: Duration = Duration::from_secs(1);

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
    /// Whether it says that it stored, and does not.
    pub store_is_empty: bool,
    /// Whether it says that it restarts, and goes on.
    pub restart_is_empty: bool,
    /// How it tells intervals.
    pub intervals: Intervals,
    /// Other vehicles on the wire, by system and component: they only show signs of life.
    pub others: Vec<(u8, u8)>,
}

/// The speech of one board.
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

/// What takes a while.
#[derive(Debug, Default)]
pub struct Longer {
    /// Storing: for whom, how many words have been said of it, when the next is due.
    storing: Option<(Sender, u8, Time)>,
    /// Signs of life of the others so far, and when the next is due.
    beats: (u8, Time),
}

impl Longer {
    pub fn wake(&self) -> Time {
        self.storing.map_or(Time::NEVER, |(_, _, at)| at).min(self.beats.1)
    }

    /// The board restarts: what it was at is lost.
    pub fn restart(&mut self) {
        self.storing = None;
    }
}

impl World {
    /// What long work and others on the wire have to say by now.
    pub(super) fn work_longer(&mut self, now: Time) {
        if self.longer.beats.1 <= now {
            let sequence = self.longer.beats.0;
            let others = !self.config.speech.others.is_empty();
            self.longer.beats = (sequence.wrapping_add(1), if others { now + BEAT } else { Time::NEVER });
            if self.link_present() {
                for (system, component) in self.config.speech.others.clone() {
                    let beat = super::telemetry::heartbeat(false);
                    self.wire.send_from(Sender { system, component }, sequence, &beat);
                }
            }
        }
        let Some((to, said, at)) = self.longer.storing.filter(|(_, _, at)| *at <= now) else { return };
        let of = self.config.speech.store_takes;
        if said < of {
            self.longer.storing = Some((to, said + 1, at + WORKS));
            self.say_progress(to, said, of);
        } else {
            self.longer.storing = None;
            self.store_now();
            self.acknowledge(to, MavCmd::MAV_CMD_PREFLIGHT_STORAGE, MavResult::MAV_RESULT_ACCEPTED);
        }
    }

    fn store_now(&mut self) {
        if !self.config.speech.store_is_empty {
            self.board.memory.store();
        }
    }

    /// Begins to store, at once or bit by bit; a second time meanwhile it is busy (developer guide).
    pub(super) fn begin_storing(&mut self, now: Time, from: Sender) -> MavResult {
        let of = self.config.speech.store_takes;
        if self.longer.storing.is_some() {
            return MavResult::MAV_RESULT_TEMPORARILY_REJECTED;
        }
        if of == 0 {
            self.store_now();
            return MavResult::MAV_RESULT_ACCEPTED;
        }
        self.longer.storing = Some((from, 1, now + WORKS));
        MavResult::MAV_RESULT_IN_PROGRESS
    }

    fn say_progress(&mut self, to: Sender, said: u8, of: u8) {
        let percent = u16::from(said) * 100 / u16::from(of.max(1));
        self.wire.send(&COMMAND_ACK_DATA {
            command: MavCmd::MAV_CMD_PREFLIGHT_STORAGE,
            result: MavResult::MAV_RESULT_IN_PROGRESS,
            progress: u8::try_from(percent).unwrap_or(u8::MAX),
            result_param2: 0,
            target_system: to.system,
            target_component: to.component,
        });
    }
}
