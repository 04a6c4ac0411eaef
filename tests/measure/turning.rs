//! Whether motors turn: each rule of the idle search by itself.

use quadjig::measure::turning::{Fault, MotorDwell, Verdict, fastest, judge};

fn steady(rpm: f64) -> Vec<f64> {
    (0..20).map(|i| rpm + if i % 2 == 0 { 20.0 } else { -20.0 }).collect()
}

fn verdicts(motors: &[Vec<f64>]) -> Vec<Verdict> {
    let dwells: Vec<MotorDwell<'_>> = motors.iter().map(|rpm| MotorDwell { rpm, fastest: None }).collect();
    judge(&dwells).iter().map(|j| j.verdict).collect()
}

#[test]
fn four_even_motors_turn_and_say_their_figures() {
    let rpm = steady(3000.0);
    let judged = judge(&[MotorDwell { rpm: &rpm, fastest: Some(4000.0) }; 4]);
    for motor in judged {
        assert_eq!((motor.verdict, motor.faults.len()), (Verdict::Turns, 0));
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
    assert_eq!(verdicts(&[steady(3000.0), backwards]), [Verdict::Turns, Verdict::Turns]);
}

#[test]
fn a_motor_without_a_signal_never_turns() {
    assert_eq!(verdicts(&[vec![], vec![3000.0; 4], vec![f64::NAN; 20]]), [Verdict::NoSignal; 3]);
}

#[test]
fn still_and_hesitating() {
    let mut stumbling = steady(3000.0);
    stumbling[7] = 800.0;
    let kicked: Vec<f64> = (0..20).map(|i| if i < 3 { 900.0 } else { 0.0 }).collect();
    let uneven: Vec<f64> = (0..20).map(|i| if i % 2 == 0 { 2700.0 } else { 3300.0 }).collect();
    let found = verdicts(&[vec![0.0; 20], kicked, stumbling, uneven]);
    assert_eq!(found, [Verdict::Still, Verdict::Hesitates, Verdict::Hesitates, Verdict::Hesitates]);
}

#[test]
fn faster_than_can_be_is_not_turning() {
    let rpm = steady(9000.0);
    let judged = judge(&[MotorDwell { rpm: &rpm, fastest: Some(5000.0) }]);
    assert_eq!(judged[0].verdict, Verdict::Hesitates);
    assert!(matches!(judged[0].faults[..], [Fault::TooFast { most, .. }] if (most - 5000.0).abs() < 1e-9));
}

#[test]
fn fellows_agree_within_a_factor_of_two() {
    let found = verdicts(&[steady(3000.0), steady(3100.0), steady(2900.0), steady(6500.0)]);
    assert_eq!(found, [Verdict::Turns, Verdict::Turns, Verdict::Turns, Verdict::Hesitates]);
    // A motor at rest is no fellow to be like.
    assert_eq!(verdicts(&[steady(3000.0), vec![0.0; 20]]), [Verdict::Turns, Verdict::Still]);
}

#[test]
fn the_fastest_speed_follows_kv_and_volts() {
    // No-load speed ≈ Kv × volts: 920 × 16.8 = 15456, plus the tenth allowed.
    assert!((fastest(920.0, 16.8, 2000.0) - 15456.0 * 1.1).abs() < 1e-6);
    assert!(fastest(920.0, 16.8, 1050.0) < fastest(920.0, 16.8, 1100.0));
    assert!((fastest(1000.0, 10.0, 1050.0) - 2000.0).abs() < 1e-9);
}
