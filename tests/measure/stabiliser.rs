//! Even, winding up or answering a tilt; and the attitude that tells.

use super::dice::Dice;
use quadjig::measure::level::{AttitudeSample, Level, LevelError, level};
use quadjig::measure::stabiliser::{Push, Side, low_sides, pushes, why};
use quadjig::measure::time::Time;
use std::time::Duration;

fn at(roll_degrees: f64, pitch_degrees: f64) -> Level {
    Level { roll: roll_degrees.to_radians(), pitch: pitch_degrees.to_radians(), samples: 10 }
}

/// Outputs of four motors as they leave rest, and in the last quarter second, by what each is off so many seconds on.
fn seen(off: [&dyn Fn(f64) -> f64; 4], at: f64) -> (Vec<Vec<f64>>, Vec<Vec<f64>>) {
    let from = |start: f64, count: u32| -> Vec<Vec<f64>> {
        off.iter().map(|f| (0..count).map(|i| 1060.0 + f(start + f64::from(i) * 0.02)).collect()).collect()
    };
    (from(0.0, 3), from(at - 0.25, 12))
}

fn reason(off: [&dyn Fn(f64) -> f64; 4], after: f64, level: Level) -> Option<Push> {
    let (first, last) = seen(off, after);
    why(&first, &last, Duration::from_secs_f64(after), 1060.0, level)
}

#[test]
fn within_ten_microseconds_is_idle_and_a_twitch_is_nothing() {
    assert_eq!(reason([&|_| 3.0, &|_| -4.0, &|_| 0.0, &|_| 9.0], 1.0, at(0.0, 0.0)), None);
    let (_, mut last) = seen([&|_| 0.0; 4], 1.0);
    for moment in [0, 3, 6, 9, 11] {
        last[2][moment] += 25.0;
    }
    assert!(!pushes(&last, 1060.0), "a motor away in 5 of 12 moments");
    last[2][1] += 25.0;
    last[2][2] += 25.0;
    assert!(pushes(&last, 1060.0), "in 7 of 12");
    assert!(!pushes(&[vec![1100.0; 2]], 1060.0) && !pushes(&[], 1060.0), "too little shows nothing");
}

/// Over seeded level craft that wind up by 4 to 200 µs a second, to a bound or not, as soon as it shows: never called a
/// tilt, and no side is named.
#[test]
fn wind_up_on_a_level_bench_is_never_a_tilt() {
    for seed in 0..10_000 {
        let mut dice = Dice::new(seed);
        let mut small = |low, high| f64::from(i32::try_from(dice.between(low, high)).unwrap());
        let (rate, bound) = (small(4, 200), small(20, 80));
        let (steady, roll, pitch, late) = (small(0, 2), small(-9, 9) / 10.0, small(-9, 9) / 10.0, small(0, 20) / 10.0);
        let grows = |t: f64| (steady + rate * t).min(bound);
        // As soon as the median of a quarter of a second is away, and no earlier than the dwell begins.
        let after = (0.5 + 0.25_f64).max((10.2 - steady) / rate + 0.13) + late;
        let found = reason([&grows, &|_| 0.0, &grows, &|_| 0.0], after, at(roll, pitch));
        let Some(Push::WindUp { rate: told, .. }) = found else { panic!("seed {seed}: {found:?} at {rate} µs/s") };
        assert!(grows(after) >= bound || (told - rate).abs() < 0.35 * rate + 3.0, "seed {seed}: {told} of {rate}");
    }
}

#[test]
fn a_tilt_is_named_by_the_attitude_alone() {
    let steady: [&dyn Fn(f64) -> f64; 4] = [&|_| 25.0, &|_| 0.0, &|_| 0.0, &|_| 25.0];
    let found = reason(steady, 1.0, at(4.5, 0.0));
    assert!(matches!(&found, Some(Push::Tilt { raise, .. }) if raise == &[Side::Right]), "{found:?}");
    // MAVLink common, ATTITUDE: roll right positive, pitch nose up positive.
    assert_eq!(low_sides(at(-3.0, 2.0)), [Side::Left, Side::Rear]);
    assert_eq!(low_sides(at(0.5, -2.0)), [Side::Front]);
    let untold = reason(steady, 1.0, at(0.0, 0.0));
    assert!(matches!(untold, Some(Push::Steady { spread }) if (spread - 25.0).abs() < 1e-9), "{untold:?}");
}

#[test]
fn all_motors_away_together_is_neither() {
    let found = reason([&|_| 80.0; 4], 1.0, at(0.0, 0.0));
    assert!(matches!(found, Some(Push::Offset { by }) if (by - 80.0).abs() < 1e-9), "{found:?}");
}

#[test]
fn a_knock_on_the_bench_is_no_tilt_and_old_samples_do_not_count() {
    let sample = |ms: u64, roll: f64| AttitudeSample { at: Time(ms * 1000), roll, pitch: -0.01 };
    let samples =
        [sample(0, 1.0), sample(600, 0.02), sample(700, 0.02), sample(800, 0.9), sample(900, 0.02), sample(1000, 0.02)];
    let found = level(&samples, Time(1_000_000)).unwrap();
    assert_eq!(found.samples, 5);
    assert!((found.roll - 0.02).abs() < 1e-12 && found.pitch.abs() < 0.02);
    assert_eq!(level(&samples, Time(3_000_000)), Err(LevelError::TooFew { heard: 0, needed: 3 }));
}

#[test]
fn a_craft_on_its_back_is_not_level() {
    let sample = |ms: u64, roll: f64| AttitudeSample { at: Time(ms * 1000), roll, pitch: 0.0 };
    let back: Vec<_> = (0..10_u64).map(|n| sample(n * 50, if n % 2 == 0 { 3.13 } else { -3.13 })).collect();
    let found = level(&back, Time(460_000)).unwrap();
    assert!((found.roll.abs() - 3.13).abs() < 0.02, "{}", found.roll);
    assert!(found.roll.abs() > 3.0);
    for count in 0..3 {
        assert_eq!(level(&back[..count], Time(460_000)), Err(LevelError::TooFew { heard: count, needed: 3 }));
    }
    // Over many stands and noises, a knock among them: as far from the middle as the noise, wherever the seam is.
    for seed in 0..10_000 {
        let mut dice = Dice::new(seed);
        let mut small = |low, high| f64::from(i32::try_from(dice.between(low, high)).unwrap()) / 1000.0;
        let stands = small(-3141, 3141);
        let mut samples: Vec<_> = (0..10).map(|n| sample(n * 45, stands + small(-20, 20))).collect();
        samples[4].roll += 0.9;
        for sample in &mut samples {
            let turned = (sample.roll + 3.0 * std::f64::consts::PI).rem_euclid(std::f64::consts::TAU);
            sample.roll = turned - std::f64::consts::PI;
        }
        let off = (level(&samples, Time(460_000)).unwrap().roll - stands).abs();
        assert!(off.min((off - std::f64::consts::TAU).abs()) < 0.021, "seed {seed}");
    }
}
