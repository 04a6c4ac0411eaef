//! Sticks: which channel each moves and which way, from four times being held over and let go.
//!
//! Promises: an answer only where the frames leave one; else a reason. Never a guess. Must not know what a stick commands,
//! nor how true it is (see `stick_figures`).

use super::frame::{CHANNELS, ChannelFrame, pulses_of};
use super::number;
use super::robust;
use std::collections::BTreeSet;
use std::ops::RangeInclusive;
use thiserror::Error;

/// A stick held over moves its channel at least so far, µs.
pub const HELD: f64 = 200.0;
/// Another channel that moves more than this with a stick is crossed with it, µs.
pub const CROSSED: f64 = 50.0;
/// Fewest frames of a hold.
pub const FEWEST_FRAMES: usize = 5;
/// The first channels carry the sticks (the language: `channels` is the order of the first four).
pub const FIRST: u32 = 4;
/// A channel that moves so far, µs, carries a stick, whatever is made from it elsewhere: more than half of the usual half
/// travel, of 512 µs (*common practice*).
const ENOUGH: f64 = 300.0;
/// A channel that moves this share of the furthest may be the stick's own.
const RIVAL: f64 = 0.5;
/// A stick that is let go comes back to within this, µs, or noise, or this share of its travel.
const BACK: f64 = 30.0;
const BACK_SIGMAS: f64 = 4.0;
const BACK_SHARE: f64 = 0.15;
/// This share of the frames of a hold agree: fewer are a passage, or a touch.
const AGREE: f64 = 0.8;

/// A stick's channel, found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StickFound {
    /// Channel from 1.
    pub channel: u32,
    /// Whether the pulse fell when the stick went right or up.
    pub reversed: bool,
    /// Other channels from 1 that moved with it: mixed, derived or touched.
    pub crossed: Vec<u32>,
}

/// No stick can be told.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum StickError {
    /// Too few frames.
    #[error("only {heard} receiver messages came and {needed} are needed; check that the radio is on")]
    TooFew {
        /// Messages heard.
        heard: usize,
        /// Messages needed.
        needed: usize,
    },
    /// Nothing moved far enough, and came back.
    #[error("no channel moved by {HELD:.0} us and came back; hold the stick fully over until told to let go")]
    NothingMoved,
    /// Several channels may be the stick's.
    #[error(
        "channels {} moved and can't be told apart; move one stick alone, straight along its way, or take the mix off in \
         the radio",
        listed(.channels)
    )]
    Several {
        /// The channels, from 1.
        channels: Vec<u32>,
    },
}

fn listed(channels: &[u32]) -> String {
    channels.iter().map(u32::to_string).collect::<Vec<_>>().join(", ")
}

/// Channels at rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Rest {
    /// Median and noise of each channel that carries something, µs, by channel from 0.
    at: [Option<(f64, f64)>; CHANNELS],
}

impl Rest {
    /// Of the frames of a time in which nobody touched a stick.
    ///
    /// # Errors
    /// Too few frames.
    pub fn of(frames: &[ChannelFrame]) -> Result<Self, StickError> {
        enough(frames)?;
        let mut at = [None; CHANNELS];
        for (channel, slot) in (1..).zip(&mut at) {
            let pulses = pulses_of(frames, channel);
            *slot = robust::median(&pulses).zip(robust::sigma(&pulses));
        }
        Ok(Self { at })
    }

    /// Pulse at which a channel from 1 rests, µs.
    #[must_use]
    pub fn pulse(&self, channel: u32) -> Option<f64> {
        self.known(channel).map(|(rest, _)| rest)
    }

    fn known(&self, channel: u32) -> Option<(f64, f64)> {
        let index = usize::try_from(channel).ok()?.checked_sub(1)?;
        self.at.get(index).copied().flatten()
    }

    /// Whether a stick was held over in all these frames: one of the first channels stood far from its rest.
    #[must_use]
    pub fn is_held(&self, lately: &[ChannelFrame]) -> bool {
        (1..=FIRST).any(|channel| {
            let Some((rest, _)) = self.known(channel) else { return false };
            let pulses = pulses_of(lately, channel);
            let Some(by) = robust::median(&pulses).map(|held| held - rest).filter(|by| by.abs() >= HELD) else {
                return false;
            };
            // A passage is behind the middle of its way in few of them.
            mostly(&pulses, |pulse| (pulse - rest) / by >= 0.75)
        })
    }

    /// Whether all of the first channels stood at their rest in these frames.
    #[must_use]
    pub fn is_back(&self, lately: &[ChannelFrame]) -> bool {
        (1..=FIRST).all(|channel| {
            let Some((rest, noise)) = self.known(channel) else { return true };
            let near = back(noise);
            mostly(&pulses_of(lately, channel), |pulse| (pulse - rest).abs() <= near)
        })
    }
}

fn mostly(pulses: &[f64], is: impl Fn(f64) -> bool) -> bool {
    let so = pulses.iter().filter(|pulse| is(**pulse)).count();
    pulses.len() >= FEWEST_FRAMES && number::count(so) >= AGREE * number::count(pulses.len())
}

fn back(noise: f64) -> f64 {
    f64::max(BACK, BACK_SIGMAS * noise)
}

fn enough(frames: &[ChannelFrame]) -> Result<(), StickError> {
    let heard = frames.len();
    if heard < FEWEST_FRAMES { Err(StickError::TooFew { heard, needed: FEWEST_FRAMES }) } else { Ok(()) }
}

/// How far each channel moved while one stick was held over, where it came back: a switch that was touched does not.
#[derive(Debug, Clone, PartialEq)]
pub struct Moved {
    /// By channel from 0, µs.
    by: [Option<f64>; CHANNELS],
}

impl Moved {
    /// From frames of the hold, and of the time after it.
    ///
    /// # Errors
    /// Too few frames, or nothing moved far enough.
    pub fn of(rest: &Rest, held: &[ChannelFrame], back: &[ChannelFrame]) -> Result<Self, StickError> {
        enough(held)?;
        let after = Rest::of(back)?;
        let mut by = [None; CHANNELS];
        for (channel, slot) in (1..).zip(&mut by) {
            let Some((from, noise)) = rest.known(channel) else { continue };
            let (Some(held), Some(to)) = (robust::median(&pulses_of(held, channel)), after.pulse(channel)) else {
                continue;
            };
            let moved = held - from;
            let near = self::back(noise).max(BACK_SHARE * moved.abs());
            *slot = ((to - from).abs() <= near).then_some(moved);
        }
        let moved = Self { by };
        if (1..).take(CHANNELS).any(|channel| moved.far(channel) >= HELD) {
            Ok(moved)
        } else {
            Err(StickError::NothingMoved)
        }
    }

    /// How far a channel from 1 moved, µs, with its sign; 0 for one that did not come back.
    #[must_use]
    pub fn by(&self, channel: u32) -> f64 {
        let index = usize::try_from(channel).unwrap_or_default().wrapping_sub(1);
        self.by.get(index).copied().flatten().unwrap_or(0.0)
    }

    /// Whether a channel from 1 may be the one of the stick that was held over.
    #[must_use]
    pub fn may_be(&self, channel: u32) -> bool {
        self.own().is_ok_and(|own| own.contains(&channel))
    }

    fn far(&self, channel: u32) -> f64 {
        self.by(channel).abs()
    }

    /// Channels that may be this stick's own.
    fn own(&self) -> Result<Vec<u32>, StickError> {
        let last = u32::try_from(CHANNELS).unwrap_or(FIRST);
        let furthest = |among: RangeInclusive<u32>| among.map(|channel| self.far(channel)).fold(0.0, f64::max);
        let (first, beyond) = (furthest(1..=FIRST), furthest(FIRST + 1..=last));
        let rivals = |among: RangeInclusive<u32>, most: f64| -> Vec<u32> {
            among.filter(|channel| self.far(*channel) >= HELD.max(RIVAL * most)).collect()
        };
        if first >= ENOUGH || first >= HELD && beyond <= first {
            return Ok(rivals(1..=FIRST, first));
        }
        let elsewhere = rivals(FIRST + 1..=last, beyond);
        if first < CROSSED && elsewhere.len() == 1 {
            return Ok(elsewhere);
        }
        // One of the first may be mixed from a stick that is elsewhere, or the other way round.
        Err(StickError::Several { channels: (1..=last).filter(|channel| self.far(*channel) > CROSSED).collect() })
    }
}

/// The channels of four sticks, each from the time in which it alone was held over. A channel that one stick alone may
/// have is that stick's: what another drags along is told by the hold of its own stick.
///
/// # Errors
/// The four leave none or several answers.
pub fn assign(moved: &[Moved; 4]) -> Result<[StickFound; 4], StickError> {
    let mut own: [Vec<u32>; 4] = [const { Vec::new() }; 4];
    for (slot, moved) in own.iter_mut().zip(moved) {
        *slot = moved.own()?;
    }
    let mut answers = choices(&own);
    let (Some(answer), true) = (answers.pop(), answers.is_empty()) else {
        let shared = |channel: &u32| own.iter().filter(|own| own.contains(channel)).count() > 1;
        let channels: BTreeSet<u32> = own.iter().flatten().copied().filter(shared).collect();
        return Err(StickError::Several { channels: channels.into_iter().collect() });
    };
    let found = |(moved, channel): (&Moved, u32)| {
        let others = (1..).take(CHANNELS).filter(|other| *other != channel && moved.far(*other) > CROSSED);
        StickFound { channel, reversed: moved.by(channel) < 0.0, crossed: others.collect() }
    };
    let [roll, pitch, throttle, yaw] = answer;
    let [m_roll, m_pitch, m_throttle, m_yaw] = moved;
    Ok([(m_roll, roll), (m_pitch, pitch), (m_throttle, throttle), (m_yaw, yaw)].map(found))
}

/// Every way to give each stick a channel of its own.
fn choices(own: &[Vec<u32>; 4]) -> Vec<[u32; 4]> {
    let mut all = Vec::new();
    for a in &own[0] {
        for b in &own[1] {
            for c in &own[2] {
                for d in &own[3] {
                    let distinct = BTreeSet::from([a, b, c, d]).len() == 4;
                    all.extend(distinct.then_some([*a, *b, *c, *d]));
                }
            }
        }
    }
    all
}
