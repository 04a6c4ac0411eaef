//! Median, median absolute deviation and the robust standard deviation.
//!
//! Promises: one outlier in a window changes nothing much; values that are not finite are left out.
//! Must not know what is measured.

use super::number;

/// 1/Φ⁻¹(0.75): what makes the median absolute deviation of normal noise its standard deviation.
///
/// Source: `scipy.stats.median_abs_deviation(scale='normal')`; NIST Dataplot Reference Manual, volume 2, MEDIAN ABSOLUTE DEVIATION.
pub const NORMAL_SCALE: f64 = 1.482_602_218_505_602;

/// Middle value; the mean of the two middle ones for an even number. `None` without a finite value.
#[must_use]
pub fn median(values: &[f64]) -> Option<f64> {
    let mut finite: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    median_in_place(&mut finite)
}

/// Median absolute deviation from the median, in the unit of the values.
#[must_use]
pub fn mad(values: &[f64]) -> Option<f64> {
    let centre = median(values)?;
    let mut off: Vec<f64> = values.iter().filter(|v| v.is_finite()).map(|v| (v - centre).abs()).collect();
    median_in_place(&mut off)
}

/// Robust standard deviation: [`NORMAL_SCALE`] × the median absolute deviation, in the unit of the values.
#[must_use]
pub fn sigma(values: &[f64]) -> Option<f64> {
    mad(values).map(|m| m * NORMAL_SCALE)
}

/// From the least to the greatest value.
pub(super) fn range(values: &[f64]) -> f64 {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    values.iter().copied().fold(f64::NEG_INFINITY, f64::max) - low
}

/// Arithmetic mean and standard deviation (divisor n − 1; 0 for a single value) of the finite values.
#[must_use]
pub fn mean_and_deviation(values: &[f64]) -> Option<(f64, f64)> {
    let finite: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    if finite.is_empty() {
        return None;
    }
    let n = number::count(finite.len());
    let mean = finite.iter().sum::<f64>() / n;
    if finite.len() == 1 {
        return Some((mean, 0.0));
    }
    let squares: f64 = finite.iter().map(|v| (v - mean).powi(2)).sum();
    Some((mean, (squares / (n - 1.0)).sqrt()))
}

fn median_in_place(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let half = values.len() / 2;
    let even = values.len().is_multiple_of(2);
    let (below, middle, _) = values.select_nth_unstable_by(half, f64::total_cmp);
    let middle = *middle;
    if even {
        let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        return Some(f64::midpoint(lower, middle));
    }
    Some(middle)
}
