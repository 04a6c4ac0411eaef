//! Times as intervals: they hold the truth whatever the sampling, and limits finer than the samples are refused.

use proptest::prelude::*;
use quadjig::measure::intervals::{Against, IntervalError, Moment, Took, between, check_limit, ended, period, worst};
use quadjig::measure::time::Time;
use std::time::Duration;

const fn ms(ms: u64) -> Duration {
    Duration::from_millis(ms)
}

fn samples(until: u64, every: u64, offset: u64) -> Vec<(Time, bool)> {
    (0..60).map(|i| offset + i * every).map(|at| (Time(at), at < until)).collect()
}

#[test]
fn the_last_ending_counts_and_a_dip_does_not() {
    let on = [(Time(0), true), (Time(10), false), (Time(20), true), (Time(30), false), (Time(40), false)];
    assert_eq!(ended(&on), Ok(Moment { before: Time(20), after: Time(30) }));
    assert_eq!(ended(&on[..3]), Err(IntervalError::NotSeen));
    assert_eq!(ended(&on[3..]), Err(IntervalError::Before));
    assert_eq!(ended(&[]), Err(IntervalError::Before));
}

#[test]
fn limits_are_held_against_both_ends() {
    let took = between(
        Moment { before: Time(0), after: Time(20_000) },
        Moment { before: Time(100_000), after: Time(120_000) },
    );
    assert_eq!((took.least, took.most), (ms(80), ms(120)));
    assert_eq!(took.against(ms(120)), Against::Within);
    assert_eq!(took.against(ms(100)), Against::Unclear);
    assert_eq!(took.against(ms(79)), Against::Over);
    assert_eq!(worst(&[took, took]), Some(took));
    assert_eq!(worst(&[]), None);
}

#[test]
fn what_is_shown_holds_the_truth() {
    let took = |least, most| Took { least: Duration::from_micros(least), most: Duration::from_micros(most) };
    assert_eq!(took(99_999, 139_001).to_string(), "99 to 140 ms");
    assert_eq!(took(100_000, 140_000).to_string(), "100 to 140 ms");
}

#[test]
fn a_limit_under_three_periods_is_refused_with_the_figure() {
    assert_eq!(check_limit(ms(60), ms(20), ms(0)), Ok(()));
    let refused = check_limit(ms(59), ms(20), ms(0)).unwrap_err();
    assert_eq!(refused, IntervalError::LimitTooShort { limit: ms(59), period: ms(20), least: ms(60) });
    assert_eq!(
        refused.to_string(),
        "a limit of 59 ms can't be shown with a message every 20 ms; the least that can is 60 ms"
    );
    assert_eq!(period(&[Time(0), Time(20_000), Time(40_000), Time(100_000)]), Some(ms(20)));
    assert_eq!(period(&[Time(0)]), None);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn the_interval_holds_the_true_time(
        cause in 50_000_u64..200_000, lasts in 0_u64..300_000,
        every in 5_000_u64..40_000, other in 20_000_u64..40_000, offset in 0_u64..5_000,
    ) {
        let effect = cause + lasts;
        let took = between(ended(&samples(cause, every, 0)).unwrap_or(Moment { before: Time(cause - 1), after: Time(cause) }),
            ended(&samples(effect, other, offset)).unwrap());
        prop_assert!(took.least <= Duration::from_micros(lasts) && Duration::from_micros(lasts) <= took.most);
        prop_assert!(took.most.saturating_sub(took.least) <= Duration::from_micros(2 * (every + other)));
    }
}
