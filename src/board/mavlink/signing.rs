//! Signed frames: made and verified where a key is given.
//!
//! Promises: under a key nothing leaves unsigned, and nothing that came unsigned, with another key or a second time
//! is taken. The key is never shown. Source: MAVLink developer guide, `guide/message_signing`. Must not be here:
//! where the key came from.

use crate::measure::checksum;
use crate::measure::time::Time;
use sha2::{Digest, Sha256};
use std::collections::BTreeMap;
use std::fmt;
use std::time::Duration;

/// Seconds from the Unix epoch to that of the timestamps, 2015-01-01 (developer guide).
const EPOCH: Duration = Duration::from_secs(1_420_070_400);
/// Microseconds of one unit of a timestamp.
const UNIT: u64 = 10;
/// How far behind our own a sender's first timestamp may be: one minute.
pub const BEHIND: u64 = 6_000_000;
/// Timestamps have 48 bits.
const TIMESTAMP: u64 = 0xFFFF_FFFF_FFFF;
/// Digits of a key as text.
const DIGITS: usize = 64;
/// The bit of the incompatibility flags that says: a signature follows.
const SIGNED: u8 = 1;
/// Our link numbers: what we send, what is only held ready, and what a guardian holds. Timestamps must rise on each by itself, so that bytes
/// that were held for a while are still taken after later ones went out.
pub const LINK: u8 = 0;
/// See [`LINK`].
pub const HELD_LINK: u8 = 1;
/// See [`LINK`].
pub const GUARDIAN_LINK: u8 = 2;

/// A secret of 32 bytes that both ends hold.
#[derive(Clone, PartialEq, Eq)]
pub struct Key([u8; 32]);

impl fmt::Debug for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Key(not shown)")
    }
}

/// Why a text is no key. None of it is repeated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum KeyError {
    /// Too short or too long.
    #[error("a signing key is {DIGITS} hexadecimal digits, and this has {0} characters")]
    Length(usize),
    /// Something that is no hexadecimal digit.
    #[error("a signing key is {DIGITS} hexadecimal digits, and character {0} is none")]
    Digit(usize),
}

impl Key {
    /// A key from its bytes.
    #[must_use]
    pub fn new(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// The bytes, for whoever holds the other end. Never to be shown.
    #[must_use]
    pub fn bytes(&self) -> [u8; 32] {
        self.0
    }

    /// A key from 64 hexadecimal digits; white space around them is left out of account.
    ///
    /// # Errors
    /// Anything else, without repeating it.
    pub fn read(text: &str) -> Result<Self, KeyError> {
        let text = text.trim();
        let count = text.chars().count();
        if count != DIGITS {
            return Err(KeyError::Length(count));
        }
        let mut bytes = [0; 32];
        for (at, digit) in text.chars().enumerate() {
            let value = digit.to_digit(16).and_then(|value| u8::try_from(value).ok()).ok_or(KeyError::Digit(at + 1))?;
            bytes[at / 2] = bytes[at / 2] << 4 | value;
        }
        Ok(Self(bytes))
    }

    fn sum(&self, signed: &[u8]) -> [u8; 6] {
        let digest = Sha256::new().chain_update(self.0).chain_update(signed).finalize();
        std::array::from_fn(|i| digest[i])
    }
}

/// The timestamp of a moment, in units of 10 µs since 2015; `since` is the time since the Unix epoch.
#[must_use]
pub fn timestamp(since: Duration) -> u64 {
    u64::try_from(since.saturating_sub(EPOCH).as_micros()).unwrap_or(0) / UNIT
}

/// The signature under a frame, and all that it covers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seal<'a> {
    /// The frame from its marker to the timestamp.
    covered: &'a [u8],
    told: [u8; 6],
}

impl<'a> Seal<'a> {
    /// The seal of a whole signed frame.
    pub(super) fn of(frame: &'a [u8]) -> Self {
        let (covered, told) = frame.split_at(frame.len().saturating_sub(6));
        Self { covered, told: std::array::from_fn(|i| told.get(i).copied().unwrap_or(0)) }
    }

    fn link(&self) -> u8 {
        self.covered.iter().rev().nth(6).copied().unwrap_or(0)
    }

    fn timestamp(&self) -> u64 {
        self.covered.iter().rev().take(6).fold(0, |sum, byte| sum << 8 | u64::from(*byte))
    }
}

/// What was not taken, by reason.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Untrusted {
    /// Not signed.
    pub unsigned: u64,
    /// Signed, but not with our key.
    pub foreign: u64,
    /// Signed with our key, but heard before, or more than a minute behind.
    pub old: u64,
}

/// The key at work: our own timestamps, and those of the senders.
#[derive(Debug)]
pub(super) struct Signing {
    key: Key,
    /// Timestamp at moment 0.
    began: u64,
    /// The last timestamp that we gave, or the newest that was heard.
    last: u64,
    /// By link, system and component.
    streams: BTreeMap<(u8, u8, u8), u64>,
    untrusted: Untrusted,
}

impl Signing {
    pub(super) fn new(key: Key, began: u64) -> Self {
        Self { key, began, last: 0, streams: BTreeMap::new(), untrusted: Untrusted::default() }
    }

    fn clock(&self, now: Time) -> u64 {
        self.last.max(self.began.saturating_add(now.0 / UNIT))
    }

    /// Signs a whole frame of version 2; `seed` is what its message adds to the checksum.
    pub(super) fn sign(&mut self, now: Time, link: u8, seed: u8, frame: &mut Vec<u8>) {
        self.last = self.clock(now).max(self.last + 1) & TIMESTAMP;
        frame.truncate(frame.len().saturating_sub(2));
        frame[2] |= SIGNED;
        let sum = checksum::add(checksum::add(checksum::START, &frame[1..]), &[seed]);
        frame.extend(sum.to_le_bytes());
        frame.push(link);
        frame.extend(&self.last.to_le_bytes()[..6]);
        let sum = self.key.sum(frame);
        frame.extend(sum);
    }

    /// Whether a frame is taken; what is not is counted.
    pub(super) fn takes(&mut self, now: Time, system: u8, component: u8, seal: Option<Seal>) -> bool {
        let Some(seal) = seal else {
            self.untrusted.unsigned += 1;
            return false;
        };
        // Our own key alone moves a clock.
        if self.key.sum(seal.covered) != seal.told {
            self.untrusted.foreign += 1;
            return false;
        }
        let stream = (seal.link(), system, component);
        let timestamp = seal.timestamp();
        let old = match self.streams.get(&stream) {
            Some(last) => timestamp <= *last,
            None => timestamp + BEHIND < self.clock(now),
        };
        if old {
            self.untrusted.old += 1;
            return false;
        }
        self.streams.insert(stream, timestamp);
        self.last = self.last.max(timestamp);
        true
    }

    pub(super) fn untrusted(&self) -> Untrusted {
        self.untrusted
    }
}
