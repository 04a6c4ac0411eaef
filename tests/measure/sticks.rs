//! Sticks: found by moving one, and the figures to dial in.

use quadjig::measure::frame::{CHANNELS, ChannelFrame};
use quadjig::measure::sticks::{Asked, StickError, figures, find_stick, frame_rate};
use quadjig::measure::time::Time;

fn frames(pulses: [u16; 4]) -> Vec<ChannelFrame> {
    let mut all = [None; CHANNELS];
    all[..4].copy_from_slice(&pulses.map(Some));
    (0..10).map(|i| ChannelFrame { at: Time(i * 20_000), pulses: all }).collect()
}

#[test]
fn the_channel_that_moves_is_the_sticks() {
    let rest = frames([1500, 1500, 1000, 1500]);
    let found = find_stick(&rest, &frames([1500, 1010, 1000, 1500])).unwrap();
    assert_eq!((found.channel, found.reversed, found.crossed), (2, true, vec![]));
    let crossed = find_stick(&rest, &frames([1580, 1990, 1000, 1500])).unwrap();
    assert_eq!((crossed.channel, crossed.reversed, crossed.crossed), (2, false, vec![1]));
    assert_eq!(find_stick(&rest, &frames([1900, 1990, 1000, 1500])), Err(StickError::Several { channels: vec![2, 1] }));
    assert_eq!(find_stick(&rest, &rest), Err(StickError::NothingMoved));
    assert_eq!(find_stick(&rest[..4], &rest), Err(StickError::TooFew { heard: 4, needed: 5 }));
}

#[test]
fn figures_to_dial_in() {
    // 988–2012 µs is full travel of many radios (common practice); half of it is 512 µs.
    let asked = Asked { low: 988.0, centre: 1500.0, high: 2012.0 };
    let found = figures(&[1000.0; 9], &[1508.0; 9], &[2012.0; 9], asked).unwrap();
    assert!(!found.centre_good && found.ends_good);
    assert!((found.sub_trim + 8.0).abs() < 1e-9 && (found.sub_trim_percent + 800.0 / 512.0).abs() < 1e-9);
    assert!((found.low_percent - 51200.0 / 508.0).abs() < 1e-9);
    assert!((found.high_percent - 51200.0 / 504.0).abs() < 1e-9);
    assert!((found.off.low - 12.0).abs() < 1e-9);
    let true_one = figures(&[988.0; 9], &[1500.0; 9], &[2012.0; 9], asked).unwrap();
    assert!(true_one.centre_good && true_one.ends_good && (true_one.low_percent - 100.0).abs() < 1e-9);
    let upside_down = Asked { low: 2012.0, centre: 1500.0, high: 988.0 };
    assert!(matches!(figures(&[988.0; 9], &[1500.0; 9], &[2012.0; 9], upside_down), Err(StickError::Asked { .. })));
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
