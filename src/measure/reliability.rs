//! How much a number of successful starts proves.
//!
//! Promises: exact bounds (Clopper and Pearson 1934), rounded away from the claim. Must not decide how many starts are enough:
//! that is the recipe's.

use super::rounding;

/// Share of starts that counts as every one, where tails have no end.
const EVERY: f64 = 0.999;
/// Share of starts that a spread is given for.
const USUAL: f64 = 0.95;

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
    rounding::down(proved(starts, among) * 100.0, 0)
}

/// The same in words, for all starts of which each was well: the figure, and what it is.
#[must_use]
pub fn shows(starts: u32, among: u32, there: &str) -> String {
    let share = at_least(starts, among);
    format!("all started, which shows no more than {share} % of starts (95 %; more starts show more){there}")
}

/// How far either way the pulse that a motor starts at may differ, in 95 of 100 of its starts, for a margin above the
/// value that these starts proved to be enough for 999 of 1,000: whole µs, rounded down. That the tails are those of the
/// logistic distribution is an assumption (*chosen*: nobody here has measured real ones, and those of the normal
/// distribution end sooner).
#[must_use]
pub fn covers(margin: f64, starts: u32, among: u32) -> f64 {
    let logit = |share: f64| (share / (1.0 - share)).ln();
    // As badly as the proof leaves room for: no start proves nothing, and many are not held to prove more than most.
    let worst = proved(starts, among).clamp(1e-9, 0.5);
    let spreads = (logit(EVERY) - logit(worst)) / logit(f64::midpoint(1.0, USUAL));
    rounding::down((margin / spreads).max(0.0), 0)
}

fn proved(starts: u32, among: u32) -> f64 {
    lower_bound(starts, 0.05 / f64::from(among.max(1)))
}
