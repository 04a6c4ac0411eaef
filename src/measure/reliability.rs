//! How much a number of successful tries proves.
//!
//! Promises: exact (Clopper–Pearson) bounds where a bound is claimed; Wilson's interval for showing only.
//! Must not decide how many tries are enough: that is the recipe's.

use super::rounding;
use statrs::distribution::{Beta, ContinuousCDF, Normal};
use std::num::NonZeroU32;
use thiserror::Error;

/// A share of successes can't be bounded.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum ReliabilityError {
    /// Nothing was tried.
    #[error("no tries were made; a bound needs at least one")]
    NoTries,
    /// More successes than tries.
    #[error("{successes} successes in {tries} tries can't be; count the tries again")]
    TooManySuccesses {
        /// Successes given.
        successes: u32,
        /// Tries given.
        tries: u32,
    },
    /// Not a confidence.
    #[error("a confidence of {0} can't be; give one between 0 and 1, such as 0.95")]
    Confidence(f64),
}

/// A range of probabilities, both ends within 0…1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Probabilities {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// One-sided lower bound of the probability of success (Clopper and Pearson 1934).
///
/// The `1 − confidence` quantile of Beta(k, n − k + 1); 0 for no success; for n of n it is (1 − confidence)^(1/n).
///
/// # Errors
/// No tries, more successes than tries, or a confidence not between 0 and 1.
pub fn lower_bound(successes: u32, tries: u32, confidence: f64) -> Result<f64, ReliabilityError> {
    check(successes, tries, confidence)?;
    Ok(quantile_low(successes, tries, 1.0 - confidence))
}

/// One-sided upper bound of the probability of success (Clopper and Pearson 1934).
///
/// # Errors
/// As [`lower_bound`].
pub fn upper_bound(successes: u32, tries: u32, confidence: f64) -> Result<f64, ReliabilityError> {
    check(successes, tries, confidence)?;
    Ok(1.0 - quantile_low(tries - successes, tries, 1.0 - confidence))
}

/// Two-sided exact interval (Clopper and Pearson 1934): half the doubt on each side.
///
/// # Errors
/// As [`lower_bound`].
pub fn two_sided(successes: u32, tries: u32, confidence: f64) -> Result<Probabilities, ReliabilityError> {
    check(successes, tries, confidence)?;
    let tail = (1.0 - confidence) / 2.0;
    Ok(Probabilities {
        low: quantile_low(successes, tries, tail),
        high: 1.0 - quantile_low(tries - successes, tries, tail),
    })
}

/// Whole per cent of start probability that n starts of n prove at 95 % confidence, rounded down, where they were the
/// first to pass of up to `among` values: the doubt is shared out among these (Bonferroni), as each could have passed
/// by chance.
#[must_use]
pub fn at_least(starts: u32, among: u32) -> f64 {
    let confidence = 1.0 - 0.05 / f64::from(among.max(1));
    rounding::down(lower_bound(starts, starts, confidence).unwrap_or(0.0) * 100.0, 0)
}

/// What n successes of n prove at 95 % confidence: 0.05^(1/n).
#[must_use]
pub fn all_of(tries: NonZeroU32) -> f64 {
    0.05_f64.powf(1.0 / f64::from(tries.get()))
}

/// Wilson's two-sided interval (NIST/SEMATECH e-Handbook 7.2.4.1): for showing, not for proving.
///
/// # Errors
/// As [`lower_bound`].
pub fn wilson(successes: u32, tries: u32, confidence: f64) -> Result<Probabilities, ReliabilityError> {
    check(successes, tries, confidence)?;
    let z = Normal::standard().inverse_cdf(1.0 - (1.0 - confidence) / 2.0);
    let n = f64::from(tries);
    let p = f64::from(successes) / n;
    let scale = 1.0 + z * z / n;
    let centre = (p + z * z / (2.0 * n)) / scale;
    let half = z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt() / scale;
    Ok(Probabilities { low: (centre - half).max(0.0), high: (centre + half).min(1.0) })
}

fn check(successes: u32, tries: u32, confidence: f64) -> Result<(), ReliabilityError> {
    if tries == 0 {
        return Err(ReliabilityError::NoTries);
    }
    if successes > tries {
        return Err(ReliabilityError::TooManySuccesses { successes, tries });
    }
    if !(confidence > 0.0 && confidence < 1.0) {
        return Err(ReliabilityError::Confidence(confidence));
    }
    Ok(())
}

/// Probability of success under which so many successes or more have probability `tail`.
fn quantile_low(successes: u32, tries: u32, tail: f64) -> f64 {
    if successes == 0 {
        return 0.0;
    }
    if successes == tries {
        return tail.powf(1.0 / f64::from(tries));
    }
    // Both shape parameters are at least 1 here; 0 proves nothing, and is what is said if that ever failed.
    Beta::new(f64::from(successes), f64::from(tries - successes) + 1.0).map_or(0.0, |beta| beta.inverse_cdf(tail))
}
