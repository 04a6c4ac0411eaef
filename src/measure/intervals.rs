//! How long something took, when it is only seen in samples.
//!
//! Promises: a time is an interval that holds the true one; a limit finer than the samples is refused with the figure
//! that they allow. Must not round in favour of passing.

use super::rounding::millis_up;
use super::time::Time;
use std::fmt;
use std::time::Duration;
use thiserror::Error;

/// A limit has to span so many sample periods.
pub const PERIODS: u32 = 3;

/// When something changed: after `before`, at the latest at `after`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moment {
    /// Last sample that showed it as it was.
    pub before: Time,
    /// First sample that showed it changed.
    pub after: Time,
}

/// A duration known to lie within two ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Took {
    /// Not shorter.
    pub least: Duration,
    /// Not longer.
    pub most: Duration,
}

/// How a measured time stands to a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Against {
    /// Surely within.
    Within,
    /// Surely over.
    Over,
    /// The samples can't tell: counts as not proved.
    Unclear,
}

/// No moment or limit can be had from samples.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum IntervalError {
    /// It never changed for good.
    #[error("it was not seen to change and stay so; the last sample still shows it as before")]
    NotSeen,
    /// The first sample already shows it changed.
    #[error("it had already changed in the first sample; begin to watch earlier")]
    Before,
    /// The link is too slow for the limit.
    #[error("a limit of {} ms can't be shown with a message every {} ms; the least that can is {} ms", .limit.as_millis(), millis_up(*.period), millis_up(*.least))]
    LimitTooShort {
        /// The limit asked for.
        limit: Duration,
        /// The sample period.
        period: Duration,
        /// The shortest limit that the link allows.
        least: Duration,
    },
}

/// When a state changed for good: from the last sample with `true` to the first of the `false` ones that end the series.
///
/// For a motor, `true` is turning; the samples are in rising time.
///
/// # Errors
/// It did not change, or had done so before the first sample.
pub fn ended(samples: &[(Time, bool)]) -> Result<Moment, IntervalError> {
    let Some(last) = samples.iter().rposition(|(_, on)| *on) else { return Err(IntervalError::Before) };
    let after = samples.get(last + 1).ok_or(IntervalError::NotSeen)?;
    Ok(Moment { before: samples[last].0, after: after.0 })
}

/// When a state first began: from the last sample without it, no earlier than `from`, to the first with it.
#[must_use]
pub fn began(samples: &[(Time, bool)], from: Time) -> Option<Moment> {
    let first = samples.iter().position(|(_, on)| *on)?;
    let before = first.checked_sub(1).map_or(from, |before| samples[before].0);
    Some(Moment { before, after: samples[first].0 })
}

/// How long from one change to another: at least from the cause's first sample to the effect's last, at most from the
/// cause's last sample before to the effect's first after.
#[must_use]
pub fn between(cause: Moment, effect: Moment) -> Took {
    Took { least: effect.before.since(cause.after), most: effect.after.since(cause.before) }
}

/// The worst of several times: none was longer. `None` for none.
#[must_use]
pub fn worst(times: &[Took]) -> Option<Took> {
    let least = times.iter().map(|t| t.least).max()?;
    let most = times.iter().map(|t| t.most).max()?;
    Some(Took { least, most })
}

/// Rounded so that it still holds the truth.
impl fmt::Display for Took {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} to {} ms", self.least.as_millis(), millis_up(self.most))
    }
}

impl Took {
    /// As far to either side again.
    #[must_use]
    pub fn widened(self, by: Duration) -> Self {
        Self { least: self.least.saturating_sub(by), most: self.most + by }
    }

    /// Holds the time against a limit.
    #[must_use]
    pub fn against(self, limit: Duration) -> Against {
        if self.most <= limit {
            Against::Within
        } else if self.least > limit {
            Against::Over
        } else {
            Against::Unclear
        }
    }
}

/// Median time between samples; `None` for fewer than two.
#[must_use]
pub fn period(times: &[Time]) -> Option<Duration> {
    let mut steps: Vec<Duration> = times.windows(2).map(|pair| pair[1].since(pair[0])).collect();
    steps.sort_unstable();
    steps.get(steps.len() / 2).copied()
}

/// Whether a limit can be shown with samples of this period, whose moments are in so much doubt.
///
/// # Errors
/// The limit is under [`PERIODS`] periods and the doubt at either end; the error says which limit can be.
pub fn check_limit(limit: Duration, period: Duration, doubt: Duration) -> Result<(), IntervalError> {
    let least = period.saturating_mul(PERIODS) + 2 * doubt;
    if limit < least { Err(IntervalError::LimitTooShort { limit, period, least }) } else { Ok(()) }
}
