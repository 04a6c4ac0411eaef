//! How fast the wire carries and what it loses: both directions by themselves, ten bits a byte, by whole messages.
//!
//! A message reaches the other end when its last byte does; a lost one takes its time all the same. Without a rate
//! everything is there at once. Knows bytes and time, no message.

use super::rng::{hash, uniform};
use crate::measure::time::Time;
use std::collections::VecDeque;
use std::time::Duration;

/// Nanoseconds in a microsecond: at fast rates a byte is no whole number of microseconds.
const NANOS: u64 = 1_000;
/// Bytes that a board keeps for its wire; what does not fit it does not say (*common practice*).
const BUFFER: u64 = 1024;
/// Room that is kept for what reaches the other end at once.
const ROOM: usize = 512;
/// What chances are for, beside others of the same seed.
const OUTWARD: u64 = 0xB0A2D;
const INWARD: u64 = 0x57A71;
const JITTER: u64 = 0x1A7E;

/// The wire, and how much goes over it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct WireConfig {
    /// Bits a second in each direction, ten a byte; `None`: everything is there at once.
    pub baud: Option<u32>,
    /// How much later than at once a message is there at most, by chance; they stay in order.
    pub jitter: Duration,
    /// Share of messages that get lost in each direction, 0 … 1; on a console, of bytes from the board.
    pub loss: f64,
    /// Settings in all; where these are more than the board's own, the rest are made up and do nothing.
    pub settings: usize,
    /// Whether it sends nothing by itself but its sign of life, until asked.
    pub quiet: bool,
}

/// Both directions of a wire.
#[derive(Clone)]
pub struct Pace {
    /// Nanoseconds a byte; 0: at once.
    byte: u64,
    loss: f64,
    jitter: u64,
    seed: u64,
    now: Time,
    outward: Outward,
    inward: Inward,
}

#[derive(Clone, Default)]
struct Outward {
    /// What has reached the other end.
    there: Vec<u8>,
    /// What is on its way, with the moment at which its last byte is there, ns.
    under_way: VecDeque<(u64, Vec<u8>)>,
    /// When the wire is free again, ns.
    free: u64,
    count: u64,
}

#[derive(Clone, Default)]
struct Inward {
    bytes: VecDeque<u8>,
    /// When the first of them is there, ns.
    first: u64,
    count: u64,
}

impl Pace {
    pub fn new(config: WireConfig, seed: u64) -> Self {
        let byte = config.baud.map_or(0, |baud| 10 * 1_000_000_000 / u64::from(baud.max(1)));
        Self {
            byte,
            loss: config.loss,
            jitter: u64::try_from(config.jitter.as_nanos()).unwrap_or(0),
            seed,
            now: Time(0),
            outward: Outward::default(),
            inward: Inward::default(),
        }
    }

    /// Nothing is on its way any more.
    pub fn restart(&mut self) {
        self.outward.under_way.clear();
        self.outward.free = 0;
        self.inward.bytes.clear();
    }

    /// Goes on to a moment.
    pub fn advance(&mut self, now: Time) {
        self.now = self.now.max(now);
        let out = &mut self.outward;
        while out.under_way.front().is_some_and(|(at, _)| moment(*at) <= now) {
            out.there.extend(out.under_way.pop_front().into_iter().flat_map(|(_, message)| message));
        }
    }

    /// Sends a message where the board's own buffer has room for it; whether it had.
    pub fn offer(&mut self, message: &[u8]) -> bool {
        let waits = self.outward.free.saturating_sub(self.now.0 * NANOS);
        let room = self.byte == 0 || waits + self.byte * message.len() as u64 <= self.byte * BUFFER;
        if room {
            self.send(message);
        }
        room
    }

    /// Sends a message, however much waits.
    pub fn send(&mut self, message: &[u8]) {
        let out = &mut self.outward;
        out.count += 1;
        let lost = self.loss > 0.0 && uniform(self.seed, OUTWARD, out.count) < self.loss;
        if self.byte > 0 {
            out.free = out.free.max(self.now.0 * NANOS) + self.byte * message.len() as u64;
        }
        if self.jitter > 0 {
            let late = hash(self.seed, JITTER, out.count) % self.jitter;
            out.free = out.free.max(self.now.0 * NANOS + late);
        }
        match (lost, self.byte + self.jitter) {
            (true, _) => {}
            (false, 0) => out.there.extend_from_slice(message),
            (false, _) => out.under_way.push_back((out.free, message.to_vec())),
        }
    }

    /// When the wire outward has sent all it was given.
    pub fn free(&self) -> Time {
        moment(self.outward.free)
    }

    /// Whether it has a rate.
    pub fn is_paced(&self) -> bool {
        self.byte > 0
    }

    /// Takes what has reached the other end.
    pub fn take(&mut self) -> Vec<u8> {
        let there = &mut self.outward.there;
        if there.is_empty() {
            return Vec::new();
        }
        // As much room again: it will be filled much alike.
        let next = Vec::with_capacity(there.capacity().min(ROOM));
        std::mem::replace(there, next)
    }

    /// Takes bytes that begin their way in at the present moment; see [`Pace::come`].
    pub fn feed(&mut self, bytes: &[u8]) {
        if self.inward.bytes.is_empty() {
            self.inward.first = self.inward.first.max(self.now.0 * NANOS + self.byte);
        }
        self.inward.bytes.extend(bytes);
    }

    /// The bytes that have come in by now.
    pub fn come(&mut self) -> Vec<u8> {
        let inward = &mut self.inward;
        let mut come = Vec::new();
        while !inward.bytes.is_empty()
            && moment(inward.first) <= self.now
            && let Some(byte) = inward.bytes.pop_front()
        {
            come.push(byte);
            inward.first += self.byte;
        }
        come
    }

    /// Whether a message that came in is lost.
    pub fn loses(&mut self) -> bool {
        self.inward.count += 1;
        self.loss > 0.0 && uniform(self.seed, INWARD, self.inward.count) < self.loss
    }

    /// When the next message or byte is there.
    pub fn wake(&self) -> Time {
        let outward = self.outward.under_way.front().map_or(Time::NEVER, |(at, _)| moment(*at));
        if self.inward.bytes.is_empty() { outward } else { outward.min(moment(self.inward.first)) }
    }
}

/// The first moment that is not before it.
fn moment(nanos: u64) -> Time {
    Time(nanos.div_ceil(NANOS))
}
