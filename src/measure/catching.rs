//! When each motor of a start caught, counted from the outputs leaving rest.
//!
//! Promises: late is only said where the samples show it, at once only where they show that; what they can't tell is
//! unseen. Must not know what made the outputs leave rest.

use super::intervals::{self, Moment};
use super::robust;
use super::time::Time;
use super::turning::MOVED_RPM;
use std::time::Duration;

/// A motor that needs longer than this from the outputs leaving rest has not started at once: open-loop start-ups of
/// small motors take 0.1 to 0.3 s (*common practice*).
pub const AT_ONCE: Duration = Duration::from_millis(500);
/// Motors of one craft catch within this of each other.
pub const AFTER_FELLOWS: Duration = Duration::from_millis(200);
/// A motor has caught at this share of the speed that it came to: twitches stay below.
const CAUGHT_SHARE: f64 = 0.5;

/// How a motor started.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Caught {
    /// At once, and with its fellows.
    AtOnce,
    /// Not before so long after the outputs left rest.
    Late(Duration),
    /// The samples can't tell.
    Unseen,
}

/// Judges all motors of one start together. `left`: when the outputs left rest. Each motor's speeds in revolutions a
/// minute, in rising time, from the last before that on to the end of the dwell. `apart`: how far the streams of
/// outputs and speeds may be apart.
#[must_use]
pub fn caught(left: Option<Moment>, motors: &[Vec<(Time, f64)>], apart: Duration) -> Vec<Caught> {
    let Some(left) = left else { return vec![Caught::Unseen; motors.len()] };
    let took: Vec<Option<intervals::Took>> =
        motors.iter().map(|speeds| Some(intervals::between(left, moment(left, speeds)?).widened(apart))).collect();
    let late = |took: &intervals::Took| took.least > AT_ONCE;
    (0..took.len())
        .map(|index| {
            let Some(own) = took[index] else { return Caught::Unseen };
            let others = took.iter().enumerate().filter(|(other, _)| *other != index);
            let fellows: Vec<intervals::Took> = others.filter_map(|(_, took)| *took).filter(|t| !late(t)).collect();
            // One stream tells all speeds: between motors its own delay falls away.
            let most = middle(fellows.iter().map(|took| took.most.saturating_sub(apart)));
            let least = middle(fellows.iter().map(|took| took.least));
            let (own_least, own_most) = (own.least + apart, own.most.saturating_sub(apart));
            if late(&own) || most.is_some_and(|most| own_least > most + AFTER_FELLOWS) {
                return Caught::Late(own.least);
            }
            let with_fellows = least.is_none_or(|least| own_most <= least + apart + AFTER_FELLOWS);
            if own.most <= AT_ONCE && with_fellows { Caught::AtOnce } else { Caught::Unseen }
        })
        .collect()
}

/// When a motor came to half of the speed that it ended with; two samples in a row, since one may be false.
fn moment(left: Moment, speeds: &[(Time, f64)]) -> Option<Moment> {
    let ended: Vec<f64> = speeds[speeds.len() / 2..].iter().map(|(_, rpm)| rpm.abs()).collect();
    let enough = robust::median(&ended).filter(|rpm| *rpm >= MOVED_RPM)? * CAUGHT_SHARE;
    let place = speeds.windows(2).position(|pair| pair.iter().all(|(_, rpm)| rpm.abs() >= enough))?;
    let before = place.checked_sub(1).map_or(left.before, |before| speeds[before].0);
    Some(Moment { before, after: speeds[place].0 })
}

fn middle(times: impl Iterator<Item = Duration>) -> Option<Duration> {
    let mut times: Vec<Duration> = times.collect();
    times.sort_unstable();
    times.get(times.len() / 2).copied()
}
