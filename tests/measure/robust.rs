//! Median, deviation and robust σ against values of scipy and NIST.

use proptest::prelude::*;
use quadjig::measure::robust::{NORMAL_SCALE, mad, mean_and_deviation, median, sigma};

#[test]
fn one_outlier_does_not_move_the_noise() {
    // scipy `median_abs_deviation`, scale 1 and 'normal'.
    let pulses = [1500.0, 1501.0, 1499.0, 1500.0, 1502.0, 1500.0, 1498.0, 1700.0];
    assert_eq!(median(&pulses), Some(1500.0));
    assert_eq!(mad(&pulses), Some(1.0));
    assert_eq!(sigma(&pulses), Some(NORMAL_SCALE));
}

#[test]
fn the_scale_is_that_of_the_normal_distribution() {
    use statrs::distribution::{ContinuousCDF, Normal};
    let quartile = Normal::standard().inverse_cdf(0.75);
    assert!((NORMAL_SCALE * quartile - 1.0).abs() < 1e-9);
}

#[test]
fn nothing_gives_nothing_and_what_is_not_finite_is_left_out() {
    assert_eq!(median(&[]), None);
    assert_eq!(sigma(&[f64::NAN]), None);
    assert_eq!(median(&[3.0, f64::NAN, 1.0, f64::INFINITY]), Some(2.0));
    assert_eq!(mean_and_deviation(&[5.0]), Some((5.0, 0.0)));
}

#[test]
fn mean_and_deviation_of_a_worked_example() {
    // NIST/SEMATECH e-Handbook 1.3.5.6, measures of scale: the divisor of the standard deviation is n − 1.
    let (mean, deviation) = mean_and_deviation(&[2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0]).unwrap();
    assert!((mean - 5.0).abs() < 1e-12);
    assert!((deviation - (32.0_f64 / 7.0).sqrt()).abs() < 1e-12);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn moving_all_values_moves_the_median_and_keeps_the_noise(
        values in prop::collection::vec(-2000_i32..2000, 1..60), shift in -1000_i32..1000,
    ) {
        let plain: Vec<f64> = values.iter().map(|v| f64::from(*v)).collect();
        let moved: Vec<f64> = values.iter().map(|v| f64::from(*v + shift)).collect();
        let (a, b) = (median(&plain).unwrap(), median(&moved).unwrap());
        prop_assert!((b - a - f64::from(shift)).abs() < 1e-9);
        prop_assert!((sigma(&plain).unwrap() - sigma(&moved).unwrap()).abs() < 1e-9);
    }

    #[test]
    fn half_of_the_values_lie_on_either_side(values in prop::collection::vec(-2000_i32..2000, 1..60)) {
        let plain: Vec<f64> = values.iter().map(|v| f64::from(*v)).collect();
        let middle = median(&plain).unwrap();
        let below = plain.iter().filter(|v| **v < middle).count();
        let above = plain.iter().filter(|v| **v > middle).count();
        prop_assert!(below * 2 <= plain.len() && above * 2 <= plain.len());
    }
}
