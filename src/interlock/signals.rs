//! The signals of the board as they stand now, each with its own age, and a short past of each.
//!
//! An age is counted on the board's clock where the message carries one, so that what lay in a
//! buffer never passes for fresh. Must not be here: judgement (see `guards` and `watch`).

use crate::board::console::Capability;
use crate::board::sheet::{Settings, Sheet};
use crate::board::signals::{Identity, LinkEvent, Ticket};
use crate::language::units::Pulse;
use crate::measure::time::Time;
use crate::seam::page::Listing;
use std::collections::{BTreeSet, VecDeque};
use std::time::Duration;

/// How much of each stream is kept.
const KEPT: usize = 4096;
/// A pack reading above this shows that the sensor works and the battery is in; below 1 V is out.
const PACK_IN: u16 = 2500;
const PACK_OUT: u16 = 1000;
/// Outputs up to this command no turning.
pub const REST_MOST: u16 = 1005;

/// One sample and the moment it was true, as far as can be known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample<T> {
    /// When.
    pub at: Time,
    /// What.
    pub value: T,
}

/// A stream of samples, the newest last.
#[derive(Debug, Clone)]
pub struct Stream<T> {
    samples: VecDeque<Sample<T>>,
    fresh_after: Time,
}

impl<T> Default for Stream<T> {
    fn default() -> Self {
        Self { samples: VecDeque::new(), fresh_after: Time(0) }
    }
}

impl<T: Copy> Stream<T> {
    fn push(&mut self, at: Time, value: T) {
        if self.samples.len() == KEPT {
            self.samples.pop_front();
        }
        self.samples.push_back(Sample { at, value });
    }

    /// The newest sample, however old.
    #[must_use]
    pub fn last(&self) -> Option<Sample<T>> {
        self.samples.back().copied()
    }

    /// The newest value if it is no older than `age` and was not disowned.
    #[must_use]
    pub fn fresh(&self, now: Time, age: Duration) -> Option<T> {
        self.last().filter(|s| s.at > self.fresh_after && now.since(s.at) <= age).map(|s| s.value)
    }

    /// All samples later than `after`.
    pub fn since(&self, after: Time) -> impl Iterator<Item = Sample<T>> + '_ {
        let start = self.samples.partition_point(|s| s.at <= after);
        self.samples.range(start..).copied()
    }

    fn disown(&mut self, now: Time) {
        self.fresh_after = now;
    }
}

/// Receiver channels: how many the receiver gives, and the pulse of each.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Channels {
    /// 0: no receiver signal.
    pub count: u8,
    /// By channel from 0.
    pub pulses: [Option<u16>; 18],
}

impl Channels {
    /// The pulse of a channel counted from 1.
    #[must_use]
    pub fn of(&self, channel: u32) -> Option<Pulse> {
        let index = usize::try_from(channel).ok()?.checked_sub(1)?;
        self.pulses.get(index).copied().flatten().map(|p| Pulse(i32::from(p)))
    }
}

/// Pack and receiver health.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Power {
    /// Pack in millivolts.
    pub millivolts: Option<u16>,
    /// Pack current in hundredths of an ampere.
    pub centiamps: Option<i16>,
    /// Whether the board hears its receiver, where it says so.
    pub receiver: Option<bool>,
}

/// What a board's sheet does not give; empty where the link asks the board itself.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct MissingCapabilities {
    /// The sheet.
    pub sheet: String,
    /// Its needs without a line.
    pub needs: Vec<Capability>,
}

impl MissingCapabilities {
    /// What a sheet lacks.
    #[must_use]
    pub fn of(sheet: &Sheet) -> Self {
        let needs = Capability::ALL.into_iter().filter(|need| !sheet.meets(*need)).collect();
        Self { sheet: sheet.origin.clone(), needs }
    }
}

/// All signals.
#[derive(Debug, Default)]
pub struct Live {
    /// Vehicle number on the wire, once one has answered.
    pub vehicle: Option<u8>,
    /// Armed flag.
    pub armed: Stream<bool>,
    /// Receiver channels.
    pub channels: Stream<Channels>,
    /// The newest channels that came from the radio, however old.
    pub last_heard: Option<Channels>,
    /// Commanded outputs in µs.
    pub outputs: Stream<[u16; 8]>,
    /// Roll and pitch in degrees.
    pub attitude: Stream<(f64, f64)>,
    /// Pack and receiver.
    pub power: Stream<Power>,
    /// Speeds of the first eight motors in rpm; `None` where no signal.
    pub speeds: Stream<[Option<f64>; 8]>,
    /// All settings read so far.
    pub settings: Settings,
    /// How far a reading of all settings is.
    pub listing: Option<Listing>,
    /// Who the board is, as last said.
    pub identity: Option<Identity>,
    /// What the board said in words, not yet shown.
    pub texts: VecDeque<(u8, String)>,
    /// Another station gives commands, or another vehicle is on the wire.
    pub stranger: Option<(u8, u8, bool)>,
    /// Vehicles that answer although none of them was chosen, the bound one with them: system and component.
    pub rivals: BTreeSet<(u8, u8)>,
    /// A request that the board says it is still at, and how far in per cent, where it says so; not yet shown.
    pub progress: Option<(Ticket, Option<u8>)>,
    /// Whether the board signs, without a key of ours.
    pub signs: bool,
    /// Frames that are not taken under a key: not signed, of another key, too old.
    pub untrusted: Option<(u64, u64, u64)>,
    /// Seen disarmed and with outputs at rest in this session.
    pub seen_still: bool,
    /// Seen a pack voltage in this session: the sensor works.
    pub pack_sensor: bool,
    /// Since when the pack reads as out, on a sensor seen working.
    out_since: Option<Time>,
    speeds_now: [Option<f64>; 8],
    clocks: [Clock; 3],
    /// What the board's sheet gives no line for, so that it is never heard.
    pub lacks: MissingCapabilities,
    /// After a gap of our own: what carries no clock of the board's is not believed until a fresh answer came.
    pub deaf: bool,
}

/// The board's clock as one stream shows it, against ours.
#[derive(Debug, Clone, Copy, Default)]
struct Clock {
    /// Newest moment on the board's clock, and the smallest offset seen, both in µs.
    seen: Option<(i64, i64)>,
}

/// A board clock that falls back by more than this was started anew.
const RESTARTED: i64 = 1_000_000;

impl Clock {
    /// The moment a message was true, by our clock: the smallest offset seen is the one with the least delay.
    fn moment(&mut self, now: Time, board_time: Option<u32>) -> Time {
        let Some(board) = board_time else { return now };
        let board = i64::from(board) * 1000;
        let offset = i64::try_from(now.0).unwrap_or(i64::MAX) - board;
        let least = match self.seen {
            Some((newest, least)) if board + RESTARTED >= newest => least.min(offset),
            _ => offset,
        };
        self.seen = Some((board, least));
        Time(u64::try_from(board + least).unwrap_or(0))
    }
}

/// Whether the battery is in, as measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pack {
    /// A pack voltage is measured.
    In,
    /// Under 1 V for 1 s on a sensor that was seen working.
    Out,
    /// No sensor was seen working, or the reading is too old.
    Unknown,
}

impl Live {
    /// Takes one thing heard.
    pub fn hear(&mut self, now: Time, heard: &LinkEvent) {
        match heard {
            LinkEvent::Alive { .. }
            | LinkEvent::Power { .. }
            | LinkEvent::Speeds { .. }
            | LinkEvent::Channels { board_time: None, .. }
            | LinkEvent::Outputs { board_time: None, .. }
            | LinkEvent::Attitude { board_time: None, .. }
                if self.deaf => {}
            LinkEvent::Alive { vehicle, armed } => {
                self.vehicle = Some(*vehicle);
                // Before the board itself was heard, another component of the same craft was a stranger.
                self.stranger = self.stranger.filter(|(system, _, commands)| *commands || system != vehicle);
                self.armed.push(now, *armed);
                self.note_still();
            }
            LinkEvent::Channels { count, pulses, board_time } => {
                let at = self.clocks[0].moment(now, *board_time);
                let channels = Channels { count: *count, pulses: *pulses };
                self.channels.push(at, channels);
                if *count > 0 {
                    self.last_heard = Some(channels);
                }
            }
            LinkEvent::Outputs { pulses, board_time } => {
                let at = self.clocks[1].moment(now, *board_time);
                self.outputs.push(at, *pulses);
                self.note_still();
            }
            LinkEvent::Attitude { roll, pitch, board_time, .. } => {
                let at = self.clocks[2].moment(now, *board_time);
                self.attitude.push(at, (f64::from(*roll).to_degrees(), f64::from(*pitch).to_degrees()));
            }
            LinkEvent::Power { millivolts, centiamps, receiver } => {
                self.power.push(now, Power { millivolts: *millivolts, centiamps: *centiamps, receiver: *receiver });
                self.note_pack(now, *millivolts);
            }
            LinkEvent::Speeds { first, rpm, count } => {
                for (index, speed) in rpm.iter().enumerate().take(usize::from(*count).min(4)) {
                    if let Some(slot) = self.speeds_now.get_mut(usize::from(*first) + index) {
                        *slot = Some(f64::from(speed.abs()));
                    }
                }
                let all = self.speeds_now;
                self.speeds.push(now, all);
            }
            LinkEvent::Text { severity, text } => {
                if self.texts.len() == KEPT {
                    self.texts.pop_front();
                }
                self.texts.push_back((*severity, text.clone()));
            }
            LinkEvent::Identity(identity) => self.identity = Some(identity.clone()),
            LinkEvent::Setting { name, value, .. } => {
                self.settings.insert(name.clone(), *value);
            }
            LinkEvent::Listing { have, of, left } => self.listing = Some(Listing { have: *have, of: *of, left: *left }),
            LinkEvent::Stranger { system, component, commands } => {
                self.stranger = Some((*system, *component, *commands));
            }
            LinkEvent::Rival { sender, bound } => self.rivals.extend([*bound, *sender]),
            LinkEvent::Signed => self.signs = true,
            LinkEvent::Untrusted { unsigned, foreign, old } => self.untrusted = Some((*unsigned, *foreign, *old)),
            LinkEvent::Progress { ticket, percent } => self.progress = Some((*ticket, *percent)),
            LinkEvent::Done { .. } => {}
        }
    }

    fn note_still(&mut self) {
        if self.armed.last().is_some_and(|s| !s.value) && self.outputs.last().is_some_and(|s| at_rest(&s.value)) {
            self.seen_still = true;
        }
    }

    fn note_pack(&mut self, now: Time, millivolts: Option<u16>) {
        match millivolts {
            Some(mv) if mv > PACK_IN => {
                self.pack_sensor = true;
                self.out_since = None;
            }
            Some(mv) if mv < PACK_OUT => {
                self.out_since.get_or_insert(now);
            }
            _ => self.out_since = None,
        }
    }

    /// Whether the battery is in, as measured.
    #[must_use]
    pub fn pack(&self, now: Time) -> Pack {
        let reading = self.power.fresh(now, Duration::from_secs(2)).and_then(|p| p.millivolts);
        match reading {
            Some(mv) if mv > PACK_IN => Pack::In,
            Some(_) if self.pack_sensor && self.out_since.is_some_and(|at| now.since(at) >= Duration::from_secs(1)) => {
                Pack::Out
            }
            _ => Pack::Unknown,
        }
    }

    /// After a gap of our own: nothing heard so far counts as fresh any more.
    pub fn disown(&mut self, now: Time) {
        self.armed.disown(now);
        self.channels.disown(now);
        self.outputs.disown(now);
        self.attitude.disown(now);
        self.power.disown(now);
        self.speeds.disown(now);
    }

    /// After a lost link: nothing is known any more but what the session has learned of the craft.
    pub fn forget(&mut self, now: Time) {
        self.disown(now);
        self.clocks = [Clock::default(); 3];
        self.deaf = false;
        self.speeds_now = [None; 8];
        self.identity = None;
        self.listing = None;
        self.out_since = None;
    }
}

/// Whether outputs command no turning.
#[must_use]
pub fn at_rest(outputs: &[u16; 8]) -> bool {
    outputs.iter().all(|pulse| *pulse <= REST_MOST || *pulse == u16::MAX)
}
