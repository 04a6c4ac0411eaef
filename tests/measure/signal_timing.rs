//! Frame times of motor signals against published figures.

use quadjig::measure::signal_timing::MotorSignal;

#[track_caller]
fn close(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "{found} is not {wanted}");
}

#[test]
fn bare_frames_as_published() {
    // docs.rs dshot-frame 0.4.0: 16 bits, 150 kbit/s; twice and four times that rate are common practice.
    close(MotorSignal::Dshot150.bare(), 106.7, 0.05);
    close(MotorSignal::Dshot300.bare(), 53.3, 0.05);
    close(MotorSignal::Dshot600.bare(), 26.7, 0.05);
    // librobotcontrol: the oneshot pulse is an eighth, 125–250 µs, so 1500 is 187.5 µs.
    assert_eq!(MotorSignal::Oneshot125.wire_pulse(1500.0), Some(187.5));
    close(MotorSignal::Oneshot125.bare(), 250.0, 1e-9);
}

#[test]
fn a_reply_counts() {
    // 53.3 + 30 + 21 bits at 375 kbit/s: about 139 µs, 7.2 kHz at most (common practice).
    close(MotorSignal::Dshot300.frame_time(true), 139.3, 0.05);
    close(MotorSignal::Dshot300.highest_rate(true), 7177.0, 2.0);
    assert!(!MotorSignal::Dshot300.carries(8000.0, true) && MotorSignal::Dshot300.carries(4000.0, true));
    assert!(MotorSignal::Dshot300.carries(8000.0, false));
    assert!(MotorSignal::Dshot600.carries(8000.0, true));
}

/// Those that a loop of this rate in Hz can send in every turn.
fn fitting(loop_hz: f64, reply: bool) -> Vec<MotorSignal> {
    MotorSignal::ALL.into_iter().filter(|signal| signal.carries(loop_hz, reply)).collect()
}

#[test]
fn pulses_repeat_at_the_usual_rate_at_most() {
    // 490 Hz is the usual highest rate of a 1000–2000 µs pulse (common practice).
    close(MotorSignal::Pwm.highest_rate(false), 490.0, 1.0);
    assert_eq!(fitting(1000.0, false), MotorSignal::ALL[1..]);
    // dshot150 with a reply: 106.7 + 30 + 21 bits at 187.5 kbit/s = 248.7 µs, just inside 250 µs.
    assert_eq!(fitting(4000.0, true), MotorSignal::ALL[2..]);
    assert_eq!(fitting(8000.0, true), [MotorSignal::Dshot600]);
    assert_eq!(fitting(0.0, false), []);
}

#[test]
fn words_go_both_ways() {
    for signal in MotorSignal::ALL {
        assert_eq!(MotorSignal::from_word(signal.word()), Some(signal));
        assert_eq!(signal.is_pulse(), signal.wire_pulse(1000.0).is_some());
    }
    assert_eq!(MotorSignal::from_word("smoke"), None);
}
