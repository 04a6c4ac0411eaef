//! What a hand moved, judged from what was there when it was asked: a stick to both sides, a craft tilted and put back.
//!
//! Promises: a stick that was held over, or a craft that was tilted already, blinds nothing; and half of it is told as half.
//! Must not be here: which channel it is, what is said.

use super::time::Time;
use std::time::Duration;

/// A stick has to move this much to a side, µs.
pub const TO_A_SIDE: i32 = 150;
/// Swings of this much both ways pass the middle wherever they began: half the throw of a stick is 500 µs.
const WHOLE_SWING: i32 = 600;
/// Pulses that stay this close together are of a stick that rests, µs, for so long.
pub const RESTS_WITHIN: i32 = 25;
const RESTS: Duration = Duration::from_millis(300);
/// A craft has to be tilted by this much, degrees, and is back this close to where it stood.
pub const TILTED: f64 = 10.0;
const BACK: f64 = 5.0;

/// How far a stick has come on its way to both sides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stick {
    /// It was moved to neither.
    Still,
    /// To lower pulses alone.
    Lower,
    /// To higher pulses alone.
    Higher,
    /// To both.
    Both,
}

/// How far a craft has come on its way to being tilted and put back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tilt {
    /// It was not tilted.
    Still,
    /// It is not back yet.
    Tilted,
    /// It was tilted and is back.
    Back,
}

/// Where a stick was moved to, in pulses of µs in rising time. Sides are sides of a place where it rested; without any, of
/// a swing that can't but pass the middle.
#[must_use]
pub fn stick(pulses: &[(Time, i32)]) -> Stick {
    let (least, most) = pulses.iter().fold((i32::MAX, i32::MIN), |(l, m), (_, pulse)| (l.min(*pulse), m.max(*pulse)));
    let (rise, fall) = swings(pulses);
    let (lower, higher) = (|rest: i32| least < rest - TO_A_SIDE, |rest: i32| most > rest + TO_A_SIDE);
    let rests = rests(pulses);
    // Let go of in steps, it passes a place of rest one way only.
    let two_ways = rise > TO_A_SIDE && fall > TO_A_SIDE;
    if rise.min(fall) >= WHOLE_SWING || two_ways && rests.iter().any(|rest| lower(*rest) && higher(*rest)) {
        return Stick::Both;
    }
    match rests.last() {
        Some(rest) if higher(*rest) && two_ways => Stick::Higher,
        Some(rest) if lower(*rest) && two_ways => Stick::Lower,
        _ => Stick::Still,
    }
}

/// Whether a craft was tilted and put back, by its roll and pitch in degrees since it was asked. One that was tilted then is
/// back once it stands level.
#[must_use]
pub fn tilt(angles: &[(f64, f64)]) -> Tilt {
    let (Some(first), Some(last)) = (angles.first(), angles.last()) else { return Tilt::Still };
    let apart = |one: &(f64, f64), other: &(f64, f64)| turn(one.0, other.0).max(turn(one.1, other.1));
    if !angles.iter().any(|angle| apart(angle, first) > TILTED) {
        return Tilt::Still;
    }
    let level = (0.0, 0.0);
    let was_tilted = apart(first, &level) > TILTED;
    let back = apart(last, first) < BACK || was_tilted && apart(last, &level) < TILTED;
    if back { Tilt::Back } else { Tilt::Tilted }
}

/// The largest rise and the largest fall from any earlier pulse to a later one.
fn swings(pulses: &[(Time, i32)]) -> (i32, i32) {
    let Some((_, first)) = pulses.first() else { return (0, 0) };
    let (mut least, mut most, mut rise, mut fall) = (*first, *first, 0, 0);
    for (_, pulse) in pulses {
        (least, most) = (least.min(*pulse), most.max(*pulse));
        (rise, fall) = (rise.max(pulse - least), fall.max(most - pulse));
    }
    (rise, fall)
}

/// Where it rested, in rising time.
fn rests(pulses: &[(Time, i32)]) -> Vec<i32> {
    let mut rests = Vec::new();
    let mut rest = pulses;
    while let Some(((from, first), _)) = rest.split_first() {
        let length = rest.iter().take_while(|(_, pulse)| (pulse - first).abs() <= RESTS_WITHIN).count();
        if rest[length - 1].0.since(*from) >= RESTS {
            rests.push(*first);
        }
        rest = &rest[length..];
    }
    rests
}

/// How far two angles are apart, degrees, the short way round.
fn turn(one: f64, other: f64) -> f64 {
    let apart = (one - other).rem_euclid(360.0);
    apart.min(360.0 - apart)
}
