//! Figures of a stick against what is asked of it, and of how its messages come.

use quadjig::measure::frame::{CHANNELS, ChannelFrame, pulses_of};
use quadjig::measure::stick_figures::{StickTargets, Travel, figures, frame_rate};
use quadjig::measure::time::Time;

fn frames(pulses: [u16; 4]) -> Vec<ChannelFrame> {
    let mut all = [None; CHANNELS];
    for (slot, pulse) in all.iter_mut().zip(pulses) {
        *slot = Some(pulse);
    }
    (0..10).map(|i| ChannelFrame { at: Time(i * 20_000), pulses: all }).collect()
}

#[test]
fn figures_to_dial_in() {
    // 988–2012 µs is full travel of many radios (common practice); half of it is 512 µs.
    let asked = StickTargets { low: 988.0, centre: 1500.0, high: 2012.0, centre_within: 5.0, ends_within: 15.0 };
    let found = figures(Travel::of(1000.0, 2012.0, Some(1508.0)), asked).unwrap();
    assert!(!found.centre_good && found.low_good && found.high_good);
    assert!((found.sub_trim.0 + 8.0).abs() < 1e-9 && (found.sub_trim.1 + 800.0 / 512.0).abs() < 1e-9);
    assert!((found.end_points.0 - 51200.0 / 508.0).abs() < 1e-9);
    assert!((found.end_points.1 - 51200.0 / 504.0).abs() < 1e-9);
    assert!((found.off.low - 12.0).abs() < 1e-9);
    let true_one = figures(Travel::of(2012.0, 988.0, Some(1500.0)), asked).unwrap();
    assert!(true_one.centre_good && true_one.low_good && (true_one.end_points.0 - 100.0).abs() < 1e-9);
    let short = figures(Travel::of(1003.5, 2030.0, None), asked).unwrap();
    assert!(short.centre_good && !short.low_good && !short.high_good, "a throttle has no centre to judge");
    assert!(figures(Travel::of(1500.0, 2012.0, Some(1500.0)), asked).is_none(), "no travel on one side");
}

#[test]
fn rate_and_missing_messages() {
    let all = frames([1500; 4]);
    let whole = frame_rate(&all).unwrap();
    assert!((whole.hertz - 50.0).abs() < 1e-9 && whole.missing.abs() < 1e-12);
    let torn: Vec<ChannelFrame> = all.iter().copied().enumerate().filter(|(i, _)| *i != 4).map(|f| f.1).collect();
    assert!((frame_rate(&torn).unwrap().missing - 1.0 / 9.0).abs() < 1e-12);
    assert_eq!(frame_rate(&all[..4]), None);
}

#[test]
fn channels_count_from_one() {
    let mut pulses = [None; CHANNELS];
    pulses[0] = Some(988);
    pulses[17] = Some(2012);
    let frame = ChannelFrame { at: Time(5), pulses };
    assert_eq!((frame.pulse(1), frame.pulse(18)), (Some(988), Some(2012)));
    assert_eq!((frame.pulse(0), frame.pulse(2), frame.pulse(19)), (None, None, None));
    assert_eq!(pulses_of(&[frame, frame], 18), [2012.0, 2012.0]);
}
