//! How long motors have turned: the built-in bounds against heat, counted from what is seen.
//!
//! Must not be here: single starts' bounds (see `watch`), and the waiting.

use super::signals::{STREAM_AGE, Signals, at_rest};
use crate::language::ceilings::{HEAT_WINDOW, TURNING_IN_WINDOW, TURNING_WITHOUT_PAUSE};
use crate::measure::time::Time;
use std::time::Duration;

/// A rest this long is a pause.
pub const PAUSE: Duration = Duration::from_secs(2);

/// What one more turning would need first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HeatNeeds {
    /// Nothing.
    Nothing,
    /// A pause.
    Pause,
    /// To be felt by hand, or a minute.
    Cooling,
}

/// Turnings of the motors: from when, to when.
#[derive(Debug, Clone, Default)]
pub(super) struct Heat {
    turned: Vec<(Time, Time)>,
    since: Option<Time>,
}

impl Heat {
    /// Takes up whether anything heats now: outputs raised or speeds above rest, or armed where neither is told.
    pub fn note(&mut self, signals: &Signals, unpowered: bool, now: Time) {
        let hot = !unpowered && heats(signals, now);
        match (hot, self.since) {
            (true, None) => self.since = Some(now),
            (false, Some(since)) => {
                self.turned.push((since, now));
                self.turned.retain(|(_, to)| now.since(*to) < HEAT_WINDOW);
                self.since = None;
            }
            _ => {}
        }
    }

    /// Forgets what was before: the motors were found cool.
    pub fn cooled(&mut self) {
        self.turned.clear();
    }

    /// What has to be before one more turning of `longest`.
    pub fn needs(&self, longest: Duration, now: Time) -> HeatNeeds {
        if self.in_window(now) + longest > TURNING_IN_WINDOW {
            HeatNeeds::Cooling
        } else if self.without_pause(now) + longest > TURNING_WITHOUT_PAUSE {
            HeatNeeds::Pause
        } else {
            HeatNeeds::Nothing
        }
    }

    /// Whether they have turned for too long in one go, by now.
    pub fn too_long(&self, now: Time) -> bool {
        let since = self.since.map_or(Duration::ZERO, |since| now.since(since));
        !since.is_zero() && since + self.without_pause(now - since) > TURNING_WITHOUT_PAUSE
    }

    fn in_window(&self, now: Time) -> Duration {
        self.turned.iter().filter(|(_, to)| now.since(*to) < HEAT_WINDOW).map(|(from, to)| to.since(*from)).sum()
    }

    fn without_pause(&self, now: Time) -> Duration {
        let mut next = now;
        let mut sum = Duration::ZERO;
        for (from, to) in self.turned.iter().rev() {
            if next.since(*to) >= PAUSE {
                break;
            }
            sum += to.since(*from);
            next = *from;
        }
        sum
    }
}

fn heats(signals: &Signals, now: Time) -> bool {
    let outputs = signals.outputs.fresh(now, STREAM_AGE);
    let speeds = signals.speeds.fresh(now, STREAM_AGE);
    let told = outputs.is_some() || speeds.is_some();
    outputs.is_some_and(|outputs| !at_rest(&outputs))
        || speeds.is_some_and(|all| all.iter().flatten().any(|rpm| *rpm >= super::contact::SPEED_REST))
        || (!told && signals.flag(now) == Some(true))
}
