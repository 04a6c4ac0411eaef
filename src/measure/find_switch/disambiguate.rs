//! Which of several moving channels is the switch's, and which are only dragged along or touched.
//!
//! Promises: names a channel only where moments of change and travel leave one. Must not judge a channel by itself.

use super::trace::{Levels, Sample, Trace};
use crate::measure::robust;
use crate::measure::time::Time;

/// The first channels carry the sticks (the language: `channels` is the order of the first four). A mix on one of them
/// is no switch, and a hand on one is no second switch.
const STICKS: u32 = 4;
/// A switch's own channel rests near the ends (*common practice*): its travel in µs at least.
const FULL_TRAVEL: f64 = 700.0;
/// A mix drags a channel over at most this share of the switch's own travel, else the two can't be told apart.
const DRAGGED_SHARE: f64 = 0.6;
/// A dragged channel that moves less than this between levels is not worth a word, µs.
const DRAGGED_LEAST: f64 = 30.0;

/// A channel that moves less than this beside a switch of full travel is no second switch, µs.
const SLIGHT: f64 = 200.0;

/// What another moving channel is to the switch's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Beside {
    /// A mix drags it along.
    Dragged,
    /// Moves by itself.
    Apart,
    /// Follows the switch so far that it may itself be the switch's channel.
    Twin,
}

/// Compares `other` with the switch found on another channel.
pub(super) fn beside(levels: &Levels, other: &Trace, slack_us: u64) -> Beside {
    let changes: Vec<(u64, u64)> = levels
        .visits
        .windows(2)
        .filter_map(|pair| Some((pair.first()?.to, pair.get(1)?.from)))
        .map(|(from, to): (Time, Time)| (from.0.saturating_sub(slack_us), to.0.saturating_add(slack_us)))
        .collect();
    let jumps: Vec<(u64, u64)> = other
        .runs
        .windows(2)
        .filter_map(|pair| {
            Some((other.samples.get(pair.first()?.last)?.at.0, other.samples.get(pair.get(1)?.first)?.at.0))
        })
        .collect();
    let followed = changes.iter().filter(|change| jumps.iter().any(|jump| meets(**change, *jump))).count();
    if followed < 2 || followed * 2 < changes.len() {
        // A channel of fewer levels follows only some changes; it counts if it does nothing else.
        let alone = jumps.iter().any(|jump| !changes.iter().any(|change| meets(*change, *jump)));
        if alone || followed < 2 {
            return Beside::Apart;
        }
    }
    let dragged = dragged_by(levels, &other.samples);
    if dragged < DRAGGED_LEAST {
        return Beside::Apart;
    }
    // Between two channels that may both be a switch's, no travel tells which drags the other.
    if other.channel <= STICKS && levels.span() >= FULL_TRAVEL && dragged <= DRAGGED_SHARE * levels.span() {
        return Beside::Dragged;
    }
    Beside::Twin
}

/// Whether another channel that moves by itself may be the switch's, by whether it jumps. Beyond the sticks anything
/// may: what moves little may be what the found channel is mixed from. A touched stick can look like two rests.
pub(super) fn may_be_a_switch(levels: &Levels, other: &Trace, jumps: bool) -> bool {
    other.channel > STICKS || jumps && (levels.span() < FULL_TRAVEL || other.span() >= SLIGHT)
}

/// How far the other channel moves between the switch's levels, µs.
///
/// Only levels count at which most of the visits agree: a stick touched once is not the same twice, a mix is.
fn dragged_by(levels: &Levels, samples: &[Sample]) -> f64 {
    let mut at_level: Vec<Vec<f64>> = vec![Vec::new(); levels.rests.len()];
    for visit in &levels.visits {
        let inside = samples.iter().filter(|s| s.at >= visit.from && s.at <= visit.to);
        let pulses: Vec<f64> = inside.map(|s| s.pulse).collect();
        at_level[visit.level].extend(robust::median(&pulses));
    }
    let agreed = |visits: &Vec<f64>| {
        let middle = robust::median(visits)?;
        let near = visits.iter().filter(|v| (*v - middle).abs() <= DRAGGED_LEAST / 2.0).count();
        (2 * near > visits.len()).then_some(middle)
    };
    let medians: Vec<f64> = at_level.iter().filter_map(agreed).collect();
    robust::range(&medians)
}

fn meets(a: (u64, u64), b: (u64, u64)) -> bool {
    a.0 <= b.1 && b.0 <= a.1
}
