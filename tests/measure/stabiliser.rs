//! Even, winding up or answering a tilt; and the attitude that tells.

use quadjig::measure::level::{AttitudeSample, Level, LevelError, level};
use quadjig::measure::stabiliser::{Push, PushError, Side, low_sides, push};
use quadjig::measure::time::Time;

fn at(roll_degrees: f64, pitch_degrees: f64) -> Level {
    Level { roll: roll_degrees.to_radians(), pitch: pitch_degrees.to_radians(), samples: 10 }
}

/// Thirty moments of four motors: idle plus what each is off at a time from 0 to 1.
fn outputs(off: [fn(f64) -> f64; 4]) -> Vec<Vec<f64>> {
    off.iter().map(|f| (0..30).map(|i| 1060.0 + f(f64::from(i) / 29.0)).collect()).collect()
}

#[test]
fn within_ten_microseconds_is_idle() {
    let found = push(&outputs([|_| 3.0, |_| -4.0, |_| 0.0, |_| 9.0]), 1060.0, 1.0, at(0.0, 0.0)).unwrap();
    assert!(matches!(found, Push::Even { farthest } if (farthest - 9.0).abs() < 1e-9), "{found:?}");
    let noisy = push(&outputs([|_| 14.0, |_| 0.0, |_| 0.0, |_| 0.0]), 1060.0, 5.0, at(0.0, 0.0)).unwrap();
    assert!(matches!(noisy, Push::Even { .. }), "3 σ = 15 µs: {noisy:?}");
}

#[test]
fn a_spread_that_grows_on_a_level_bench_is_wind_up() {
    let growing = outputs([|t| 60.0 * t, |t| -20.0 * t, |t| 10.0 * t, |_| 0.0]);
    let found = push(&growing, 1060.0, 1.0, at(0.3, -0.2)).unwrap();
    assert!(matches!(found, Push::WindUp { first, last } if first < last), "{found:?}");
}

#[test]
fn a_steady_spread_is_tilt_and_says_which_side_is_low() {
    let steady = outputs([|_| 25.0, |_| -20.0, |_| -20.0, |_| 25.0]);
    let found = push(&steady, 1060.0, 1.0, at(4.5, 0.0)).unwrap();
    assert!(matches!(&found, Push::Tilt { raise, .. } if raise == &[Side::Right]), "{found:?}");
    // MAVLink common, ATTITUDE: roll right positive, pitch nose up positive.
    assert_eq!(low_sides(at(-3.0, 2.0)), [Side::Left, Side::Rear]);
    assert_eq!(low_sides(at(0.5, -2.0)), [Side::Front]);
    let untold = push(&steady, 1060.0, 1.0, at(0.0, 0.0)).unwrap();
    assert!(matches!(&untold, Push::Tilt { raise, .. } if raise.is_empty()), "{untold:?}");
}

#[test]
fn all_motors_away_together_is_neither() {
    let found = push(&outputs([|_| 80.0; 4]), 1060.0, 1.0, at(0.0, 0.0)).unwrap();
    assert!(matches!(found, Push::Offset { by } if (by - 80.0).abs() < 1e-9), "{found:?}");
}

#[test]
fn too_little_is_said() {
    assert_eq!(push(&[vec![1000.0; 4]], 1000.0, 0.0, at(0.0, 0.0)), Err(PushError::TooFew { heard: 4, needed: 9 }));
    assert_eq!(push(&[], 1000.0, 0.0, at(0.0, 0.0)), Err(PushError::TooFew { heard: 0, needed: 9 }));
}

#[test]
fn a_knock_on_the_bench_is_no_tilt_and_old_samples_do_not_count() {
    let sample = |ms: u64, roll: f64| AttitudeSample { at: Time(ms * 1000), roll, pitch: -0.01 };
    let samples =
        [sample(0, 1.0), sample(600, 0.02), sample(700, 0.02), sample(800, 0.9), sample(900, 0.02), sample(1000, 0.02)];
    let found = level(&samples, Time(1_000_000)).unwrap();
    assert_eq!(found.samples, 5);
    assert!((found.roll - 0.02).abs() < 1e-12 && (found.tilt() - 0.02).abs() < 1e-12);
    assert_eq!(level(&samples, Time(3_000_000)), Err(LevelError::TooFew { heard: 0, needed: 3 }));
}
