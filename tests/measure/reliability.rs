//! What n of n starts prove, against scipy 1.17.1 and the binomial equation; ten thousand cases more in
//! `tests/peers/statistics.rs`.

use quadjig::measure::reliability::{at_least, covers, lower_bound};

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
        let found = lower_bound(n, 0.05);
        assert!((found - wanted).abs() <= 1e-9, "{found} is not {wanted}");
    }
    assert!(lower_bound(0, 0.05).abs() < f64::EPSILON, "no start proves nothing");
}

#[test]
fn first_counts_that_prove_nine_tenths_and_more() {
    for (n, share) in [(29, 0.90), (59, 0.95), (299, 0.99)] {
        assert!(lower_bound(n, 0.05) > share);
        assert!(lower_bound(n - 1, 0.05) <= share);
    }
}

#[test]
fn what_is_shown_is_never_more_than_the_bound() {
    for n in 1..=1000 {
        for among in 1..=40 {
            // At the bound all starts are well with just the doubt that is left to each value.
            let left = 0.05 / f64::from(among);
            let shown = at_least(n, among) / 100.0;
            let exponent = f64::from(n);
            assert!(shown.powf(exponent) <= left + 1e-9, "{n} among {among}: {shown}");
            assert!((shown + 0.01).powf(exponent) > left - 1e-9, "{n} among {among}: {shown}");
        }
    }
    // Rounded to the nearest, 3 of 3 would be 37 %, and 5 of 5 would be 55 %.
    assert_eq!((at_least(3, 1), at_least(5, 1)), (36.0, 54.0));
}

/// By the logistic distribution function itself, written out: 95 of 100 of its starts lie within what is covered, the proof
/// just holds at the value, and with the margin 999 of 1,000 start; with a little more of a spread they do not.
#[test]
fn a_margin_covers_what_is_said_of_it_and_no_more() {
    for (margin, starts, among) in [(25.0, 3, 1), (25.0, 3, 7), (25.0, 3, 36), (25.0, 5, 8), (50.0, 3, 7), (10.0, 4, 7)]
    {
        let start = |pulse: f64, spread: f64| 1.0 / (1.0 + (39.0_f64).powf(-pulse / spread));
        let said = covers(margin, starts, among);
        let proved = lower_bound(starts, 0.05 / f64::from(among));
        for (spread, enough) in [(said, true), (said + 1.0, false)] {
            assert!((start(spread, spread) - start(-spread, spread) - 0.95).abs() < 1e-9);
            // Where it starts as surely as is just proved.
            let value = spread * (proved / (1.0 - proved)).ln() / 39.0_f64.ln();
            assert_eq!(start(value + margin, spread) >= 0.999, enough, "{margin} us, {starts} among {among}: {spread}");
        }
    }
    assert_eq!((covers(25.0, 3, 7), covers(0.0, 3, 7), covers(-1.0, 3, 7)), (10.0, 0.0, 0.0));
}
