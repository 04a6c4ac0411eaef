//! The signals of the board as they stand now, each with its own age, and a short past of each.
//!
//! An age is counted on the board's clock where the message carries one, so that what lay in a buffer never passes for
//! fresh, and half the round trip is added to each. Only the interlock feeds it. Must not be here: judgement.

use super::clock::{BoardClock, ClockSays};
use super::craft::MissingCapabilities;
use super::rhythm::Rhythm;
use super::stream::Unheard;
pub use super::stream::{Sample, Stream};
use crate::board::binding::BoundNow;
use crate::board::sheet::Settings;
use crate::board::signals::{Identity, LinkEvent};
use crate::board::value::{NoValue, SettingName};
use crate::language::units::Pulse;
use crate::measure::time::Time;
use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

/// Channels, outputs and attitude must be at least this young.
pub const STREAM_AGE: Duration = Duration::from_millis(500);
/// Pack voltage must be at least this young.
pub const POWER_AGE: Duration = Duration::from_secs(2);
/// A pack reading above this shows that the sensor works and the battery is in; below 1 V is out.
const PACK_IN: u16 = 2500;
const PACK_OUT: u16 = 1000;
/// Outputs up to this command no turning.
pub const REST_MOST: u16 = 1005;
/// A motor turns from this speed on, rpm; below, it is noise.
pub const TURNS: f64 = 300.0;

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

    /// The pulse with which they turn a band on, if they do.
    pub(super) fn inside(&self, band: &BoundNow) -> Option<Pulse> {
        self.of(band.channel).filter(|pulse| band.is_on(band.channel, *pulse))
    }

    /// Whether they turn one of these bands on.
    #[must_use]
    pub fn turn_on(&self, bands: &[BoundNow]) -> bool {
        bands.iter().any(|band| self.inside(band).is_some())
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

/// See the module.
#[derive(Debug, Clone, Default)]
pub struct Signals {
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
    /// Those whose name stands twice in the board's list: which value is whose is not known.
    twice: BTreeSet<SettingName>,
    /// When each was asked for by itself, or told, last.
    mentioned: BTreeMap<SettingName, Time>,
    /// Who the board is, as answered last on this opening.
    pub identity: Option<Identity>,
    /// Another station that gives commands, and is not forgotten for one that does not; or another vehicle on the wire.
    pub stranger: Option<(u8, u8, bool)>,
    /// Vehicles that answer although none of them was chosen, the bound one with them: system and component.
    pub rivals: BTreeSet<(u8, u8)>,
    /// Two boards speak with one id, as far as is known of this opening.
    pub two_speak: bool,
    /// Whether the board signs, without a key of ours.
    pub signs: bool,
    /// Frames that are not taken under a key: not signed, of another key, too old.
    pub untrusted: Option<(u64, u64, u64)>,
    /// What the board's sheet gives no line for, so that it is never heard.
    pub lacks: MissingCapabilities,
    /// Seen a pack voltage of this craft: the sensor works.
    pub(super) pack_sensor: bool,
    /// Since when the pack reads as out, on a sensor seen working.
    out_since: Option<Time>,
    pub(super) flag_rhythm: Rhythm,
    /// What each motor told last of its speed: a message tells four of them.
    speeds_told: [Option<Sample<f64>>; 8],
    clocks: [BoardClock; 3],
    /// Half of the measured round trip, by which everything heard is older than it seems.
    pub(super) lag: Duration,
    /// After a gap of our own: what carries no clock of the board's is not believed until a fresh answer came.
    pub(super) deaf: bool,
    /// An answer has to show yet whose this is: of pack and speeds, nothing that outlasts it is taken up.
    pub(super) doubted: bool,
}

/// Whether the battery is in, as measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Pack {
    /// A pack voltage is measured.
    In,
    /// Under 1 V for 1 s on a sensor that was seen working.
    Out,
    /// No sensor was seen working, or the reading is too old.
    #[default]
    Unknown,
}

impl Signals {
    /// Takes one thing heard; tells what the clock in it says, where it carries one.
    pub(super) fn hear(&mut self, now: Time, heard: &LinkEvent) -> Option<ClockSays> {
        let mut says = None;
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
                self.armed.push(now - self.lag, *armed);
                self.flag_rhythm.hears(now, self.lag * 2);
            }
            LinkEvent::Channels { count, pulses, board_time } => {
                let Some(at) = self.moment(0, now, *board_time, &mut says) else { return says };
                let channels = Channels { count: *count, pulses: *pulses };
                self.channels.push(at, channels);
                if *count > 0 {
                    self.last_heard = Some(channels);
                }
            }
            LinkEvent::Outputs { pulses, board_time } => {
                let Some(at) = self.moment(1, now, *board_time, &mut says) else { return says };
                self.outputs.push(at, *pulses);
            }
            LinkEvent::Attitude { roll, pitch, board_time, .. } => {
                let Some(at) = self.moment(2, now, *board_time, &mut says) else { return says };
                self.attitude.push(at, (f64::from(*roll).to_degrees(), f64::from(*pitch).to_degrees()));
            }
            LinkEvent::Power { millivolts, centiamps, receiver } => {
                let (millivolts, centiamps, receiver) = (*millivolts, *centiamps, *receiver);
                self.power.push(now - self.lag, Power { millivolts, centiamps, receiver });
                self.note_pack(now, millivolts);
            }
            LinkEvent::Speeds { .. } if self.doubted => {}
            LinkEvent::Speeds { first, rpm, count } => {
                for (index, speed) in rpm.iter().enumerate().take(usize::from(*count).min(4)) {
                    if let Some(slot) = self.speeds_told.get_mut(usize::from(*first) + index) {
                        let value = f64::from(speed.saturating_abs());
                        *slot = Some(Sample { at: now - self.lag, value });
                    }
                }
                let young = |told: Sample<f64>| (now <= told.at + STREAM_AGE).then_some(told.value);
                self.speeds.push(now - self.lag, self.speeds_told.map(|told| told.and_then(young)));
            }
            LinkEvent::Identity(identity) => self.identity = Some(identity.clone()),
            LinkEvent::NoValue { name, why } => {
                self.settings.remove(name);
                if *why == NoValue::Twice {
                    self.twice.insert(name.clone());
                }
            }
            LinkEvent::Listed(names) => {
                self.settings.retain(|name, _| names.contains(name));
                self.mentioned.retain(|name, _| names.contains(name));
            }
            LinkEvent::Setting { name, .. } if self.twice.contains(name) => {}
            LinkEvent::Setting { name, value, .. } => {
                self.settings.insert(name.clone(), *value);
                self.mentioned.insert(name.clone(), now);
            }
            LinkEvent::Stranger { system, component, commands: gives } => {
                self.stranger = self.stranger.filter(|old| old.2 && !gives).or(Some((*system, *component, *gives)));
            }
            LinkEvent::Rival { sender, bound } => self.rivals.extend([*bound, *sender]),
            LinkEvent::Signed => self.signs = true,
            LinkEvent::Untrusted { unsigned, foreign, old } => self.untrusted = Some((*unsigned, *foreign, *old)),
            LinkEvent::Banner
            | LinkEvent::Misread { .. }
            | LinkEvent::Text { .. }
            | LinkEvent::TwoSpeakers
            | LinkEvent::Listing { .. }
            | LinkEvent::Leapt
            | LinkEvent::Spoke
            | LinkEvent::Unplaced
            | LinkEvent::Progress { .. }
            | LinkEvent::Done { .. } => {}
        }
        says
    }

    /// When it was true; `None`: another clock runs, which may be another's.
    fn moment(&mut self, clock: usize, now: Time, board: Option<u32>, says: &mut Option<ClockSays>) -> Option<Time> {
        let Some(board) = board else { return Some(now - self.lag) };
        let (at, said) = self.clocks[clock].moment(now, board);
        *says = Some(said);
        (!matches!(said, ClockSays::Unlikely | ClockSays::Two)).then(|| at - self.lag)
    }

    fn note_pack(&mut self, now: Time, millivolts: Option<u16>) {
        match millivolts {
            _ if self.doubted => {}
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
        let reading = self.power.fresh(now, POWER_AGE).and_then(|p| p.millivolts);
        match reading {
            Some(mv) if mv > PACK_IN => Pack::In,
            Some(_) if self.pack_sensor && self.out_since.is_some_and(|at| now.since(at) >= Duration::from_secs(1)) => {
                Pack::Out
            }
            _ => Pack::Unknown,
        }
    }

    /// Whether the outputs were at rest as last heard, however old that is.
    #[must_use]
    pub fn last_at_rest(&self) -> Option<bool> {
        self.outputs.last().map(|outputs| at_rest(&outputs.value))
    }

    /// Whether a pack voltage is told at all, whatever it is.
    pub fn tells_volts(&self, now: Time) -> bool {
        self.power.fresh(now, POWER_AGE).is_some_and(|power| power.millivolts.is_some())
    }

    /// Whether the pack has to be told again: it was last by nobody knows whom.
    pub(super) fn pack_is_awaited(&self, now: Time) -> bool {
        self.power.is_awaited(now, POWER_AGE)
    }

    /// The interval of the armed flag, once it is known.
    pub fn flag_interval(&self) -> Option<Duration> {
        self.flag_rhythm.interval()
    }

    /// Whether the board is known to tell its flag often enough for motors to turn.
    pub fn tells_often(&self) -> bool {
        self.flag_rhythm.is_often()
    }

    /// How old the armed flag may be to be fresh.
    pub fn flag_limit(&self) -> Duration {
        self.flag_rhythm.limit()
    }

    /// Whether the flag is due for longer than a link takes, or was marked stale: the board is to be asked for it.
    pub(super) fn flag_is_late(&self, now: Time) -> bool {
        let after = self.flag_rhythm.asked_after();
        let late = |flag: Sample<bool>| self.armed.is_stale(flag.at) || now.since(flag.at + self.lag) > after;
        !self.deaf && self.armed.last().is_some_and(late)
    }

    /// The board is asked for its flag.
    pub(super) fn flag_is_asked(&mut self, now: Time) {
        self.flag_rhythm.asks(now);
    }

    /// The armed flag, while it is fresh.
    #[must_use]
    pub fn flag(&self, now: Time) -> Option<bool> {
        self.armed.fresh(now, self.flag_limit())
    }

    /// After a gap of our own: nothing heard so far counts as fresh any more.
    pub(super) fn mark_stale(&mut self, now: Time) {
        self.flag_rhythm.breaks();
        self.mark(Unheard::Until(now));
    }

    /// All that was heard before an answer showed who is there may be another's.
    pub(super) fn mark_heard_stale(&mut self) {
        self.mark(Unheard::SoFar);
    }

    fn mark(&mut self, unheard: Unheard) {
        self.armed.mark(unheard);
        self.channels.mark(unheard);
        self.outputs.mark(unheard);
        self.attitude.mark(unheard);
        self.power.mark(unheard);
        self.speeds.mark(unheard);
        self.speeds_told.iter_mut().flatten().for_each(|told| told.at = Time(0));
    }

    /// Whether each of the first `motors` motors that ever told its speed has gone on telling it.
    pub(super) fn tells_each_speed(&self, now: Time, motors: usize, age: Duration) -> bool {
        self.speeds_told.iter().take(motors).flatten().all(|told| now <= told.at + age)
    }

    /// The contact is over: nothing is known of whoever is on the wire now. What was read of settings is kept to be
    /// compared; `sensor` keeps that the voltage sensor was seen working, for the same craft after a restart.
    pub(super) fn forget(&mut self, sensor: bool) {
        let kept = std::mem::take(self);
        *self = Self {
            settings: kept.settings,
            twice: kept.twice,
            mentioned: kept.mentioned,
            lacks: kept.lacks,
            last_heard: kept.last_heard,
            vehicle: kept.vehicle,
            pack_sensor: sensor && kept.pack_sensor,
            ..Self::default()
        };
    }

    /// As [`Signals::forget`], on a wire that stays: there a clock that starts anew is what shows a restart.
    pub(super) fn forget_but_clocks(&mut self) {
        let clocks = std::mem::take(&mut self.clocks);
        self.forget(true);
        self.clocks = clocks;
    }

    /// Whether the board dates anything by a clock of its own.
    pub(super) fn has_clock(&self) -> bool {
        self.clocks.iter().any(BoardClock::is_heard)
    }

    /// Another clock runs from now on.
    pub(super) fn new_clocks(&mut self) {
        self.clocks = <[BoardClock; 3]>::default();
    }

    /// All settings are to be read anew.
    pub(super) fn forget_twice(&mut self) {
        self.twice.clear();
    }

    /// A setting is to be read anew: what was heard of it before is no answer.
    pub(super) fn forget_setting(&mut self, now: Time, name: &SettingName) {
        self.settings.remove(name);
        self.mentioned.insert(name.clone(), now);
    }

    /// A setting that was not mentioned for so long, and is now.
    pub(super) fn quiet_setting(&mut self, now: Time, quiet: Duration) -> Option<SettingName> {
        let oldest = self.mentioned.iter_mut().min_by_key(|(_, at)| **at);
        let (name, at) = oldest.filter(|(_, at)| now.since(**at) > quiet)?;
        *at = now;
        Some(name.clone())
    }
}

/// Whether outputs command no turning; the highest number is no pulse.
#[must_use]
pub fn at_rest(outputs: &[u16; 8]) -> bool {
    outputs.iter().fold(true, |rest, pulse| rest & (pulse.wrapping_add(1) <= REST_MOST + 1))
}
