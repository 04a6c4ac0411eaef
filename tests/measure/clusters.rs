//! One-dimensional clusters against jenkspy 0.4.1 and against trying every division.

use proptest::prelude::*;
use quadjig::measure::clusters::divide;

const RESTS: [f64; 12] =
    [1000.0, 1001.0, 999.0, 1000.0, 1498.0, 1500.0, 1502.0, 1500.0, 1999.0, 2000.0, 2001.0, 2000.0];

#[test]
fn three_rests_as_jenkspy_divides_them() {
    let three = divide(&RESTS, 3).unwrap();
    // Its breaks: the least value, then the greatest of each.
    let ends: Vec<_> = three.members.iter().map(|members| (members[0], *members.last().unwrap())).collect();
    assert_eq!(ends, [(999.0, 1001.0), (1498.0, 1502.0), (1999.0, 2001.0)]);
    assert!((three.fit - 0.999_994).abs() < 5e-7, "{}", three.fit);
    let two = divide(&RESTS, 2).unwrap();
    assert!((two.fit - 0.749_996).abs() < 5e-7, "{}", two.fit);
    assert_eq!(three.closest(), Some(497.0));
    assert!((three.widest() - 4.0).abs() < 1e-12);
}

#[test]
fn what_cannot_be_divided_is_not() {
    assert_eq!(divide(&[], 1), None);
    assert_eq!(divide(&[1.0], 0), None);
    assert_eq!(divide(&[1.0], 2), None);
    assert_eq!(divide(&[1.0, f64::NAN], 1), None);
    let flat = divide(&[5.0, 5.0], 1).unwrap();
    assert!((flat.fit - 1.0).abs() < 1e-12 && flat.closest().is_none());
}

/// Squared distances from the means of `sorted` cut at the places in `cuts`.
fn cost(sorted: &[f64], cuts: &[usize]) -> f64 {
    let mut total = 0.0;
    for pair in cuts.windows(2) {
        let part = &sorted[pair[0]..pair[1]];
        let mean = part.iter().sum::<f64>() / f64::from(u32::try_from(part.len()).unwrap());
        total += part.iter().map(|v| (v - mean).powi(2)).sum::<f64>();
    }
    total
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 128, ..ProptestConfig::default() })]

    #[test]
    fn no_other_division_into_three_is_better(values in prop::collection::vec(900_i32..2100, 3..14)) {
        let plain: Vec<f64> = values.iter().map(|v| f64::from(*v)).collect();
        let found = divide(&plain, 3).unwrap();
        let mut sorted = plain.clone();
        sorted.sort_by(f64::total_cmp);
        let n = sorted.len();
        let mut best = f64::INFINITY;
        for a in 1..n - 1 {
            for b in a + 1..n {
                best = best.min(cost(&sorted, &[0, a, b, n]));
            }
        }
        let sizes: Vec<usize> = found.members.iter().map(Vec::len).collect();
        let ours = cost(&sorted, &[0, sizes[0], sizes[0] + sizes[1], n]);
        prop_assert!(ours <= best + 1e-6, "{ours} against {best}");
        prop_assert_eq!(found.members.concat(), sorted);
    }
}
