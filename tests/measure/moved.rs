//! What a hand moved: sticks to both sides, a craft tilted and put back, from wherever they stood.

use quadjig::measure::moved::{Stick, Tilt, stick, tilt};
use quadjig::measure::time::Time;

/// Pulses 50 times a second along a course of places, each reached in so many milliseconds.
fn course(from: i32, places: &[(i32, u64)]) -> Vec<(Time, i32)> {
    let (mut now, mut at) = (Time(0), from);
    let mut pulses = vec![(now, at)];
    for (to, ms) in places {
        let steps = i32::try_from(ms / 20).unwrap().max(1);
        for step in 1..=steps {
            now = Time(now.0 + 20_000);
            pulses.push((now, at + (to - at) * step / steps));
        }
        at = *to;
    }
    pulses
}

#[test]
fn both_sides_are_sides_of_where_the_stick_rested() {
    let rested = (1500, 500);
    for (both, places) in [
        (Stick::Both, vec![rested, (1900, 200), (1100, 300), (1500, 200)]),
        (Stick::Both, vec![rested, (1100, 200), (1500, 200), (1500, 400), (1700, 200), (1500, 200)]),
        // Without a rest before, but to and fro over more than one side can be.
        (Stick::Both, vec![(1900, 100), (1100, 300), (1900, 300)]),
        (Stick::Higher, vec![rested, (1900, 200), (1500, 200), (1500, 400)]),
        (Stick::Lower, vec![rested, (1100, 200), (1500, 200), (1500, 400)]),
        (Stick::Still, vec![rested, (1500, 1000)]),
        // As far as the limit, and no farther.
        (Stick::Still, vec![rested, (1650, 200), (1350, 200), (1500, 400)]),
        (Stick::Both, vec![rested, (1651, 200), (1349, 200), (1500, 400)]),
    ] {
        assert_eq!(stick(&course(1500, &places)), both, "{places:?}");
    }
}

/// A stick that was held over when it was asked for: what is there then is no middle.
#[test]
fn a_stick_that_was_held_over_blinds_nothing() {
    let held = (2000, 1000);
    let let_go = course(2000, &[held, (1500, 150), (1500, 600)]);
    assert_ne!(stick(&let_go), Stick::Both, "it was only let go of");
    let in_steps = course(2000, &[held, (1750, 150), (1750, 500), (1500, 150), (1500, 600)]);
    assert_ne!(stick(&in_steps), Stick::Both, "and in steps no more");
    let then_moved = [held, (1500, 150), (1500, 600), (1900, 200), (1100, 300), (1500, 200)];
    assert_eq!(stick(&course(2000, &then_moved)), Stick::Both);
    assert_eq!(stick(&course(2000, &[held, (1000, 300), (2000, 300)])), Stick::Both, "over the whole throw and back");
}

#[test]
fn a_craft_is_back_where_it_stood_or_level() {
    let stood = (1.0, -2.0);
    assert_eq!(tilt(&[stood, (9.0, -2.0), stood]), Tilt::Still);
    assert_eq!(tilt(&[stood, (25.0, 5.0)]), Tilt::Tilted);
    assert_eq!(tilt(&[stood, (25.0, 5.0), (8.0, -2.0)]), Tilt::Tilted, "nearly back is not back");
    assert_eq!(tilt(&[stood, (25.0, 5.0), (3.0, -1.0)]), Tilt::Back);
    // In the hand already when it was asked for.
    assert_eq!(tilt(&[(30.0, 0.0), (2.0, 1.0)]), Tilt::Back);
    assert_eq!(tilt(&[(30.0, 0.0), (18.0, 0.0)]), Tilt::Tilted);
    // Over the seam of the angle.
    assert_eq!(tilt(&[(179.0, 0.0), (-179.0, 0.0)]), Tilt::Still);
    assert_eq!(tilt(&[]), Tilt::Still);
}
