//! What is heard from a board, the same for every link, which turns bytes into these. Numbers that are not finite never get
//! here.

use super::craft_name::CraftName;
use super::value::{NoValue, Number, SettingName};
use crate::language::canonical::sha256;
use crate::measure::time::Time;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::time::Duration;

/// Who a board is: by its own word, and where that tells it from no other, by the operator's.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Identity {
    /// Unique id as lower-case hex, 16 digits; all zeros where the board gives none.
    pub id: String,
    /// Firmware version, such as `2.4.1`.
    pub firmware: String,
    /// Name that the board gives of its kind, empty where it gives none.
    pub kind: String,
    /// What the operator calls it, where its id tells it from no other.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<CraftName>,
}

impl Identity {
    /// First digits of the id of every virtual board.
    pub const VIRTUAL_PREFIX: &'static str = "76697274";

    /// Whether the id marks a virtual board.
    #[must_use]
    pub fn is_virtual(&self) -> bool {
        self.id.starts_with(Self::VIRTUAL_PREFIX)
    }

    /// A board that says nothing of itself.
    #[must_use]
    pub fn unsaid() -> Self {
        Self { id: "0".repeat(16), firmware: String::new(), kind: String::new(), name: None }
    }

    /// An id as boards give it, in hexadecimal digits, as one of 16: a longer one is shortened by its SHA-256, so that it
    /// stays one board's own. `None`: no such digits.
    #[must_use]
    pub fn id_of(digits: &str) -> Option<String> {
        let digits = digits.to_ascii_lowercase();
        if digits.is_empty() || digits.len() > 64 || !digits.bytes().all(|byte| byte.is_ascii_hexdigit()) {
            return None;
        }
        if digits.len() <= 16 {
            return Some(format!("{digits:0>16}"));
        }
        let hash = &sha256(&digits)[..16];
        // What is marked as virtual stays so.
        let marked = if digits.starts_with(Self::VIRTUAL_PREFIX) { Self::VIRTUAL_PREFIX } else { "" };
        Some(format!("{marked}{}", &hash[marked.len()..]))
    }

    /// Whether the id tells one craft from every other: boards without one give zeros, or the ones of empty memory.
    #[must_use]
    pub fn is_unique(&self) -> bool {
        ![b'0', b'f'].iter().any(|same| self.id.bytes().all(|digit| digit == *same))
    }

    /// Whether it is the same craft, as far as id and name tell.
    #[must_use]
    pub fn is_same_craft(&self, other: &Self) -> bool {
        self.id == other.id && (self.is_unique() || self.name == other.name)
    }

    /// What tells it from others, in words: the name that was typed, else the id.
    #[must_use]
    pub fn told(&self) -> String {
        self.name.as_ref().map_or_else(|| self.id.clone(), ToString::to_string)
    }
}

/// One thing heard. `board_time` is the board's own clock in milliseconds where the message carries one.
#[derive(Debug, Clone, PartialEq)]
#[expect(missing_docs, reason = "the fields are the parts of the sentence above them")]
pub enum LinkEvent {
    /// A sign of life with the armed flag, and the board's system number on the wire.
    Alive { vehicle: u8, armed: bool },
    /// How many receiver channels there are, 0 without a signal, and pulse widths in µs by channel from 0; `None` where unused.
    Channels { count: u8, pulses: [Option<u16>; 18], board_time: Option<u32> },
    /// Commanded motor outputs in µs, from output 1 on; 0: no pulse.
    Outputs { pulses: [u16; 8], board_time: Option<u32> },
    /// Attitude in radians: roll right positive, pitch nose up positive, yaw clockwise positive.
    Attitude { roll: f32, pitch: f32, yaw: f32, board_time: Option<u32> },
    /// Pack in millivolts and hundredths of an ampere, if measured, and whether the board hears its receiver, if said.
    Power { millivolts: Option<u16>, centiamps: Option<i16>, receiver: Option<bool> },
    /// Signed motor speeds in revolutions a minute, four from motor `first` (0, 4, …); `count` of the four exist.
    Speeds { first: u8, rpm: [i32; 4], count: u8 },
    /// A line of text from the board, untrusted, put together from its chunks; 0 worst … 7 least (RFC 5424 numbers).
    Text { severity: u8, text: String },
    /// An answer to a signal that was none: why, in the link's own words.
    Misread { stream: Stream, why: String },
    /// What a board says of itself when it starts.
    Banner,
    /// Who the board is.
    Identity(Identity),
    /// A setting's present value, and its place in the board's list, where it was said.
    Setting { name: SettingName, value: Number, index: Option<u16> },
    /// A setting that the board has, and of which no value is known for it.
    NoValue { name: SettingName, why: NoValue },
    /// All settings were read, and these are their names: the board has no other.
    Listed(BTreeSet<SettingName>),
    /// How far a reading of all settings is: `have` of `of`; `left` is how long the rest will take, `None` at the beginning.
    Listing { have: u16, of: u16, left: Option<Duration> },
    /// A request has ended, of the ticket it was sent with.
    Done { ticket: Ticket, result: Done },
    /// Another station or vehicle talks on this wire, and may give commands.
    Stranger { system: u8, component: u8, commands: bool },
    /// Another vehicle answers besides the bound one, and may be meant as well; told once. System and component.
    Rival { sender: (u8, u8), bound: (u8, u8) },
    /// The board said something that no other event tells.
    Spoke,
    /// A line came that nothing asked for and nobody is known by: noise, or whoever is on the wire now.
    Unplaced,
    /// The number of a frame of the board took a step that no loss and no shuffling explains.
    Leapt,
    /// Two boards speak with the one system and component that is bound; told once an interval.
    TwoSpeakers,
    /// The board signs what it sends, and no key is set here to see whether it is right; told once.
    Signed,
    /// Frames not taken, as a key is set: unsigned, signed with another, or old: heard before, or more than a minute behind.
    /// Told anew as it grows, now and then.
    Untrusted { unsigned: u64, foreign: u64, old: u64 },
    /// A request is still being worked on: how far it is, 0 to 100, where the board says so.
    Progress { ticket: Ticket, percent: Option<u8> },
}

/// Number of a request, given by whoever sends it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub struct Ticket(pub u32);

/// How a request ended.
#[derive(Debug, Clone, PartialEq)]
pub enum Done {
    /// Accepted (a command), read (settings), or answered with the value asked for (a write).
    Ok,
    /// The board said no; its reason in words.
    Refused(String),
    /// No answer in time, after the retries that the link's rules allow.
    Silent,
    /// A write was answered with another value: what the board has now.
    Differs(Number),
}

/// What a link can be asked to send.
#[derive(Debug, Clone, PartialEq)]
#[expect(missing_docs, reason = "the fields are the parts of the sentence above them")]
pub enum Request {
    /// Ask who the board is; answered by [`LinkEvent::Identity`] and [`LinkEvent::Done`].
    Identify,
    /// Read all settings; gaps are asked for again. Ends in [`LinkEvent::Done`].
    ListSettings,
    /// Read one setting.
    ReadSetting(SettingName),
    /// Write one setting. Needs the encoding to be proved first, where the link has several.
    WriteSetting(SettingName, Number),
    /// Write one setting whose place among others of this kind does not matter: they may be on their way together,
    /// while none overtakes a [`Request::WriteSetting`] and none of those overtakes it.
    WriteUnordered(SettingName, Number),
    /// Store settings so that they outlive a restart.
    Store,
    /// Restart the board.
    Restart,
    /// Ask once whether the board is armed, beside what it tells by itself; nothing of it is repeated.
    ArmedFlag,
    /// Ask for a stream at a rate; `None` puts back what the board had before.
    Stream(Stream, Option<u32>),
    /// Disarm by command; `force` only as the second try of a stop.
    Disarm { force: bool },
    /// Run one motor, counted from 1, at a pulse in µs for a bounded time in ms, which is the board's own limit.
    RunMotor { motor: u8, pulse: u16, lease_ms: u32 },
    /// Our own sign of life.
    Heartbeat,
}

/// What one finished frame does, told from its bytes where the link can, as it is about to leave.
#[derive(Debug, Clone, PartialEq)]
#[expect(missing_docs, reason = "the fields are the parts of the sentence above them")]
pub enum Outgoing {
    /// Our sign of life.
    Heartbeat,
    /// Asks who the board is.
    Identify,
    /// Asks whether anybody is there, and armed: the first question on a wire that says nothing by itself.
    Presence,
    /// Asks something else, or changes how often the board tells.
    Ask,
    /// Writes a setting; `None` where its value cannot be told.
    Write { name: SettingName, value: Option<Number> },
    /// Stores settings.
    Store,
    /// Restarts the board.
    Restart,
    /// Runs one motor, counted from 1, at a pulse in µs, up to the board's own time limit.
    Motor { motor: u8, pulse: u16, lease: Duration },
    /// Arms.
    Arm,
    /// Disarms.
    Disarm { force: bool },
    /// Nothing that is known.
    Unknown,
}

impl Outgoing {
    /// Whether it changes what the board holds, or restarts it.
    #[must_use]
    pub fn changes(&self) -> bool {
        match self {
            Self::Write { .. } | Self::Store | Self::Restart => true,
            Self::Heartbeat
            | Self::Identify
            | Self::Presence
            | Self::Ask
            | Self::Motor { .. }
            | Self::Arm
            | Self::Disarm { .. }
            | Self::Unknown => false,
        }
    }
}

/// Streams whose rate can be asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[expect(missing_docs, reason = "named after the signals above")]
pub enum Stream {
    Alive,
    Channels,
    Outputs,
    Attitude,
    Power,
    Speeds,
}

impl Stream {
    /// All of them.
    pub const ALL: [Self; 6] = [Self::Alive, Self::Channels, Self::Outputs, Self::Attitude, Self::Power, Self::Speeds];
}

/// A codec between bytes and signals: no input or output of its own, no clock of its own.
pub trait Link {
    /// Takes bytes from the wire. May want to answer: see [`Link::wake`].
    fn receive(&mut self, now: Time, bytes: &[u8], heard: &mut Vec<LinkEvent>);
    /// Makes the bytes of a request; further bytes of it (retries, gaps) come from [`Link::work`].
    fn send(&mut self, now: Time, ticket: Ticket, request: Request, out: &mut Vec<u8>);
    /// When [`Link::work`] wants to be called next; [`Time::NEVER`] if nothing is open.
    fn wake(&self) -> Time;
    /// Retries, next requests of a pipeline, and timeouts.
    fn work(&mut self, now: Time, out: &mut Vec<u8>, heard: &mut Vec<LinkEvent>);
    /// Splits bytes that [`Link::send`] or [`Link::work`] just made into frames, each with what it does.
    fn frames_made(&mut self, bytes: &[u8]) -> Vec<(Vec<u8>, Outgoing)>;
    /// A frame may not leave: the request that it belongs to ends with this reason.
    fn refuse(&mut self, frame: &Outgoing, why: &str);
    /// Bytes that stop every motor and disarm, once a vehicle is known; no clearance. `force` only as a stop's second try.
    fn stop_bytes(&mut self, force: bool) -> Option<Vec<u8>>;
    /// The very bytes that a write, store or restart would begin with, made without being sent.
    ///
    /// # Errors
    /// Why it could not be sent, as a sentence.
    fn preview(&self, request: &Request) -> Result<Vec<u8>, String>;
    /// The same bytes prepared for a dead man's hold: nothing open is given up by making them.
    fn held_stop_bytes(&mut self) -> Option<Vec<u8>>;
    /// The same for a guardian, which can make none itself: one that may be sent as often as it takes, else `count`.
    fn guardian_stops(&mut self, _count: usize) -> Option<Vec<Vec<u8>>> {
        Some(vec![self.held_stop_bytes()?])
    }
    /// Forgets the open requests and what was half received: after a gap or a lost link.
    fn reset(&mut self);
    /// Frames heard from the board and frames missing between them so far, where the link can tell.
    fn frames(&self) -> Option<(u64, u64)> {
        None
    }
    /// Whether a board that speaks so was heard since the wire was opened.
    fn answered(&self) -> bool;
    /// Whether writes may be sent: the encoding of values is known and was proved by a reading.
    fn encoding_proved(&self) -> bool;
}
