//! How much a number of successful starts proves.
//!
//! Promises: exact bounds (Clopper and Pearson 1934), rounded away from the claim. Must not decide how many starts are enough:
//! that is the recipe's.

use super::rounding;

/// The start probability that is proved at least where every one of so many starts was well, with this much doubt left:
/// the exact one-sided bound (Clopper and Pearson 1934, doi 10.1093/biomet/26.4.404), which for n of n is the nth root of
/// the doubt. No start proves nothing.
#[must_use]
pub fn lower_bound(starts: u32, doubt: f64) -> f64 {
    if starts == 0 { 0.0 } else { doubt.powf(1.0 / f64::from(starts)) }
}

/// Whole per cent of start probability that n starts of n prove at 95 % confidence, rounded down, where they were the
/// first to pass of up to `among` values: the doubt is shared out among these (Bonferroni), as each could have passed
/// by chance.
#[must_use]
pub fn at_least(starts: u32, among: u32) -> f64 {
    rounding::down(lower_bound(starts, 0.05 / f64::from(among.max(1))) * 100.0, 0)
}
