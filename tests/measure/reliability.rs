//! Bounds of a success probability against scipy 1.17.1 and the NIST/SEMATECH e-Handbook.

use proptest::prelude::*;
use quadjig::measure::reliability::{ReliabilityError, all_of, at_least, lower_bound, two_sided, upper_bound, wilson};
use std::num::NonZeroU32;

#[track_caller]
fn close(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "{found} is not {wanted}");
}

#[test]
fn n_of_n() {
    // scipy 1.17.1, `binomtest(n, n, alternative='greater').proportion_ci()`.
    for (n, wanted) in [
        (5, 0.549_280_271_7),
        (10, 0.741_134_449_1),
        (20, 0.860_891_659_3),
        (29, 0.901_855_372_3),
        (59, 0.950_492_390_1),
    ] {
        close(all_of(NonZeroU32::new(n).unwrap()), wanted, 1e-9);
        close(lower_bound(n, n, 0.95).unwrap(), wanted, 1e-9);
    }
}

#[test]
fn first_counts_that_prove_nine_tenths_and_more() {
    for (n, share) in [(29, 0.90), (59, 0.95), (299, 0.99)] {
        assert!(all_of(NonZeroU32::new(n).unwrap()) > share);
        assert!(all_of(NonZeroU32::new(n - 1).unwrap()) <= share);
    }
}

#[test]
fn with_failures() {
    // scipy 1.17.1, one-sided 95 %.
    for (k, n, wanted) in [(9, 10, 0.605_836_697_6), (19, 20, 0.783_893_835_8), (58, 59, 0.922_102_078_5)] {
        close(lower_bound(k, n, 0.95).unwrap(), wanted, 1e-9);
    }
}

#[test]
fn two_sided_intervals() {
    // scipy's published example of `proportion_ci`: 7 of 50.
    let both = two_sided(7, 50, 0.95).unwrap();
    close(both.low, 0.058_191_70, 5e-9);
    close(both.high, 0.267_396_00, 5e-9);
    // NIST/SEMATECH e-Handbook 7.2.4.2, exact intervals for small numbers of failures: 4 of 20 at 90 % gives 0.071354 and
    // 0.401029; the further digits are scipy's.
    let nist = two_sided(4, 20, 0.90).unwrap();
    close(nist.low, 0.071_353_884_3, 1e-9);
    close(nist.high, 0.401_028_117_3, 1e-9);
    // Wilson's interval of the same (the method of e-Handbook 7.2.4.1): computed with scipy 1.17.1.
    let shown = wilson(4, 20, 0.90).unwrap();
    close(shown.low, 0.093_118_0, 5e-7);
    close(shown.high, 0.378_376_7, 5e-7);
}

#[test]
fn none_and_all_are_told_exactly() {
    assert_eq!(lower_bound(0, 8, 0.95), Ok(0.0));
    assert_eq!(upper_bound(8, 8, 0.95), Ok(1.0));
    close(upper_bound(0, 8, 0.95).unwrap(), 1.0 - 0.05_f64.powf(0.125), 1e-12);
}

#[test]
fn impossible_counts_are_refused() {
    assert_eq!(lower_bound(0, 0, 0.95), Err(ReliabilityError::NoTries));
    assert_eq!(two_sided(3, 2, 0.95), Err(ReliabilityError::TooManySuccesses { successes: 3, tries: 2 }));
    assert_eq!(wilson(1, 2, 1.0), Err(ReliabilityError::Confidence(1.0)));
    assert!(matches!(upper_bound(1, 2, f64::NAN), Err(ReliabilityError::Confidence(_))));
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 64, ..ProptestConfig::default() })]

    /// The definition: at the lower bound, so many successes or more have exactly the probability left to doubt.
    #[test]
    fn the_bound_solves_the_binomial_equation(n in 1_u32..60, share in 0.0_f64..1.0) {
        let k = (0..=n).find(|k| f64::from(*k) >= share * f64::from(n)).unwrap().max(1);
        let p = lower_bound(k, n, 0.95).unwrap();
        let mut tail = 0.0;
        for hits in k..=n {
            let ways: f64 = (0..hits).map(|i| f64::from(n - i) / f64::from(i + 1)).product();
            tail += ways * p.powf(f64::from(hits)) * (1.0 - p).powf(f64::from(n - hits));
        }
        prop_assert!((tail - 0.05).abs() < 1e-7, "{k} of {n}: {tail}");
    }
}

#[test]
fn what_is_shown_is_never_more_than_the_bound() {
    for n in 1..=1000 {
        let (bound, shown) = (all_of(NonZeroU32::new(n).unwrap()) * 100.0, at_least(n, 1));
        assert!(shown <= bound && shown > bound - 1.0, "{n}: {shown} of {bound}");
        for among in 2..=40 {
            let shared = 100.0 * (0.05 / f64::from(among)).powf(1.0 / f64::from(n));
            let shown = at_least(n, among);
            assert!(shown <= shared + 1e-9 && shown > shared - 1.0 - 1e-9, "{n} among {among}: {shown} of {shared}");
        }
    }
    // Rounded to the nearest, 3 of 3 would be 37 %, and 5 of 5 would be 55 %.
    assert_eq!((at_least(3, 1), at_least(5, 1)), (36.0, 54.0));
}
