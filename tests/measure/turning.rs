//! Whether motors turn: each rule of the idle search by itself.

use super::dice::Dice;
use quadjig::measure::turning::{MotorDwell, MotorVerdict, TurningFault, fastest, judge};
use std::time::Duration;

const EVERY: Duration = Duration::from_millis(50);

fn steady(rpm: f64) -> Vec<f64> {
    (0..20).map(|i| rpm + if i % 2 == 0 { 20.0 } else { -20.0 }).collect()
}

fn verdicts(motors: &[Vec<f64>]) -> Vec<MotorVerdict> {
    let dwells: Vec<MotorDwell<'_>> =
        motors.iter().map(|rpm| MotorDwell { rpm, every: EVERY, fastest: None }).collect();
    judge(&dwells).iter().map(|j| j.verdict).collect()
}

#[test]
fn four_even_motors_turn_and_say_their_figures() {
    let rpm = steady(3000.0);
    let judged = judge(&[MotorDwell { rpm: &rpm, every: EVERY, fastest: Some(4000.0) }; 4]);
    for motor in judged {
        assert_eq!((motor.verdict, motor.faults.len()), (MotorVerdict::Turns, 0));
        let figures = motor.figures.unwrap();
        assert!((figures.median_rpm - 3000.0).abs() < 1e-9);
        // 20 samples 20 off the mean: variance 20 · 400 / 19.
        assert!((figures.variation - (20.0 * 400.0 / 19.0_f64).sqrt() / 3000.0).abs() < 1e-12);
        assert!((figures.lowest_share - 2980.0 / 3000.0).abs() < 1e-12);
    }
}

#[test]
fn direction_of_turning_is_no_matter() {
    let backwards: Vec<f64> = steady(3000.0).iter().map(|rpm| -rpm).collect();
    assert_eq!(verdicts(&[steady(3000.0), backwards]), [MotorVerdict::Turns, MotorVerdict::Turns]);
}

#[test]
fn a_motor_without_a_signal_never_turns() {
    assert_eq!(verdicts(&[vec![], steady(3000.0)[..4].to_vec(), vec![f64::NAN; 20]]), [MotorVerdict::NoSignal; 3]);
}

#[test]
fn still_and_hesitating() {
    let mut stumbling = steady(3000.0);
    // Two in a row: one alone no motor could follow.
    stumbling[7..9].fill(800.0);
    let kicked: Vec<f64> = (0..20).map(|i| if i < 3 { 900.0 } else { 0.0 }).collect();
    let uneven: Vec<f64> = (0..20).map(|i| if i % 2 == 0 { 2700.0 } else { 3300.0 }).collect();
    let found = verdicts(&[vec![0.0; 20], kicked, stumbling, uneven]);
    assert_eq!(found, [MotorVerdict::Still, MotorVerdict::Hesitates, MotorVerdict::Hesitates, MotorVerdict::Hesitates]);
}

#[test]
fn faster_than_can_be_is_not_turning() {
    let rpm = steady(9000.0);
    let judged = judge(&[MotorDwell { rpm: &rpm, every: EVERY, fastest: Some(5000.0) }]);
    assert_eq!(judged[0].verdict, MotorVerdict::Hesitates);
    assert!(matches!(judged[0].faults[..], [TurningFault::TooFast { most, .. }] if (most - 5000.0).abs() < 1e-9));
}

#[test]
fn fellows_agree_within_a_factor_of_two() {
    let found = verdicts(&[steady(3000.0), steady(3100.0), steady(2900.0), steady(6500.0)]);
    assert_eq!(found, [MotorVerdict::Turns, MotorVerdict::Turns, MotorVerdict::Turns, MotorVerdict::Hesitates]);
    // A motor at rest is no fellow to be like.
    assert_eq!(verdicts(&[steady(3000.0), vec![0.0; 20]]), [MotorVerdict::Turns, MotorVerdict::Still]);
}

#[test]
fn the_fastest_speed_follows_kv_and_volts() {
    // No-load speed ≈ Kv × volts: 920 × 16.8 = 15456, plus the tenth allowed.
    assert!((fastest(920.0, 16.8, 2000.0) - 15456.0 * 1.1).abs() < 1e-6);
    assert!(fastest(920.0, 16.8, 1050.0) < fastest(920.0, 16.8, 1100.0));
    assert!((fastest(1000.0, 10.0, 1050.0) - 2000.0).abs() < 1e-9);
}

/// What no motor can follow goes by the time between two samples: one that coasts with 0.1 s keeps exp(-0.45) = 0.64 of its
/// speed over 45 ms, and exp(-0.2) = 0.82 over 20 ms.
#[test]
fn a_reading_is_false_where_no_motor_could_have_come_to_it() {
    let judged = |every: u64, share: f64| {
        let mut rpm = steady(18_000.0);
        rpm[8] *= share;
        judge(&[MotorDwell { rpm: &rpm, every: Duration::from_millis(every), fastest: None }]).remove(0)
    };
    for (every, share) in [(45, 0.53), (45, 0.62), (45, 1.4), (20, 0.75), (20, 1.25)] {
        let motor = judged(every, share);
        assert_eq!((motor.verdict, motor.figures.unwrap().samples), (MotorVerdict::Turns, 19), "{share} at {every} ms");
    }
    // What it could have come to is its own: each of these is in its variation.
    for (every, share) in [(45, 0.66), (45, 1.34), (20, 0.84), (59, 0.58), (61, 0.4)] {
        assert_eq!(judged(every, share).figures.unwrap().samples, 20, "{share} at {every} ms");
    }
    assert_eq!(judged(61, 0.4).verdict, MotorVerdict::Hesitates, "neighbours further off say nothing of it");
}

/// Speeds of a good motor over two seconds: noise of 0.7 %, and false readings of some thousandths.
fn good(dice: &mut Dice, thousandths: i64) -> Vec<f64> {
    (0..40)
        .map(|_| {
            let noise = f64::from(i32::try_from((0..4).map(|_| dice.between(-35, 35)).sum::<i64>()).unwrap());
            let is_false = dice.between(0, 9999) < 10 * thousandths;
            if !is_false {
                8000.0 + noise
            } else if dice.once_in(2) {
                0.0
            } else {
                16_000.0
            }
        })
        .collect()
}

/// A value is four motors in three starts: false readings of 0.1 % fail next to none that is good.
#[test]
fn a_false_reading_fails_no_good_value() {
    let values = 10_000;
    let mut failed = 0;
    for seed in 0..values {
        let mut dice = Dice::new(seed);
        let starts = (0..3).map(|_| verdicts(&(0..4).map(|_| good(&mut dice, 1)).collect::<Vec<_>>()));
        failed += u64::from(starts.flatten().any(|verdict| verdict != MotorVerdict::Turns));
    }
    assert!(failed * 500 <= values, "{failed} of {values} good values fail");
}

#[test]
fn what_falls_for_a_tenth_of_a_second_or_hunts_is_told() {
    for seed in 0..10_000 {
        let mut dice = Dice::new(seed);
        let mut stumbles = good(&mut dice, 0);
        let at = usize::try_from(dice.between(0, 38)).unwrap();
        stumbles[at..at + 2].fill(1500.0);
        // Up to 9 Hz, at a rate of 20 Hz; an amplitude of 15 %.
        let (hertz, phase) = (
            f64::from(i32::try_from(dice.between(10, 90)).unwrap()) / 10.0,
            f64::from(i32::try_from(dice.between(0, 62)).unwrap()) / 10.0,
        );
        let hunts: Vec<f64> = good(&mut dice, 0)
            .iter()
            .zip(0_i32..)
            .map(|(rpm, n)| rpm * (1.0 + 0.15 * (std::f64::consts::TAU * hertz * f64::from(n) * 0.05 + phase).sin()))
            .collect();
        let fine = good(&mut dice, 0);
        let found = verdicts(&[fine, stumbles, hunts]);
        assert_eq!(
            found,
            [MotorVerdict::Turns, MotorVerdict::Hesitates, MotorVerdict::Hesitates],
            "seed {seed}, {hertz} Hz"
        );
    }
}

#[test]
fn a_reading_that_stands_still_or_changes_its_sign_is_no_turning() {
    let mut dice = Dice::new(5);
    let mut frozen = good(&mut dice, 0);
    frozen[12..].fill(8012.0);
    let mut turned = good(&mut dice, 0);
    turned[20..].iter_mut().for_each(|rpm| *rpm = -*rpm);
    let mut once = good(&mut dice, 0);
    once[20] = -once[20];
    let motors = [vec![8000.0; 40], frozen, turned, once];
    let dwells = motors.each_ref().map(|rpm| MotorDwell { rpm, every: EVERY, fastest: None });
    let judged = judge(&dwells);
    assert!(matches!(judged[0].faults[..], [TurningFault::Frozen(rpm)] if (rpm - 8000.0).abs() < 1e-9));
    assert!(matches!(judged[1].faults[..], [TurningFault::Frozen(_)]));
    assert!(matches!(judged[2].faults[..], [TurningFault::Reversed]));
    assert_eq!(judged[3].verdict, MotorVerdict::Turns, "one false sign");
}

#[test]
fn a_lone_reading_counts_where_a_motor_could_follow_it() {
    let mut rpm = steady(3000.0);
    rpm[7] = 800.0;
    let at = |every| judge(&[MotorDwell { rpm: &rpm, every: Duration::from_millis(every), fastest: None }])[0].verdict;
    assert_eq!((at(50), at(200)), (MotorVerdict::Turns, MotorVerdict::Hesitates));
    // Too many of them are no signal to go by.
    let many: Vec<f64> = (0..40).map(|n| if n % 8 == 3 { 0.0 } else { 3000.0 + f64::from(n) }).collect();
    let judged = judge(&[MotorDwell { rpm: &many, every: EVERY, fastest: None }]);
    assert!(matches!(judged[0].faults[..], [TurningFault::False(share)] if (share - 0.125).abs() < 1e-9), "{judged:?}");
}
