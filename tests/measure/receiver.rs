//! Receiver values against the published channel formula.

use quadjig::measure::frame::{CHANNELS, ChannelFrame, pulses_of};
use quadjig::measure::receiver::{crsf_to_micros, micros_to_crsf, share_of_travel};
use quadjig::measure::time::Time;

#[test]
fn crsf_values_of_the_specification() {
    // tbs-fpv/tbs-crsf-spec, crsf.md, channel frame.
    for (value, micros) in [(992, 1500.0), (192, 1000.0), (1792, 2000.0), (172, 987.5), (1811, 2011.875)] {
        assert!((crsf_to_micros(value) - micros).abs() < 1e-12);
        assert!((micros_to_crsf(micros) - f64::from(value)).abs() < 1e-9);
    }
}

#[test]
fn shares_of_the_open_standard() {
    // MAVLink common, RC_CHANNELS: 1000 µs is 0 %, 2000 µs is 100 %.
    assert!(share_of_travel(1000.0).abs() < 1e-12);
    assert!((share_of_travel(2000.0) - 1.0).abs() < 1e-12);
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
