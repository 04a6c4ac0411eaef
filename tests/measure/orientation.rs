//! How a board sits, from tilts that are computed by turning axes by hand, another way than the program's.

use super::dice::Dice;
use quadjig::measure::orientation::{Tilts, Wrong, judge};

/// What a board sees that is turned by so many degrees clockwise: a small tilt is a vector in the plane of the frame, right
/// and forwards, whose parts along the board's own right and forward are what it tells.
fn seen(turned: f64, nose: f64, right: f64, clockwise: f64) -> Tilts {
    let (sin, cos) = turned.to_radians().sin_cos();
    // The board's axes in the frame: its right is (cos, -sin), its front is (sin, cos), as (right, forward).
    let tells = |down_right: f64, down_front: f64| {
        let to_its_right = down_right * cos - down_front * sin;
        let to_its_front = down_right * sin + down_front * cos;
        (to_its_right, -to_its_front)
    };
    Tilts { nose_down: tells(0.0, nose), right_down: tells(right, 0.0), clockwise }
}

#[test]
fn every_turn_is_told_and_a_board_that_sits_right_passes() {
    let mut dice = Dice::new(7);
    for step in 0..8 {
        for _ in 0..200 {
            let turned = f64::from(step) * 45.0;
            let mut small = |most: i64| f64::from(i32::try_from(dice.between(-most, most)).unwrap()) / 10.0;
            let by = turned + small(60);
            let tilts = seen(by, 30.0 + small(100), 30.0 + small(100), 80.0 + small(400));
            let expected = if step == 0 { Ok(()) } else { Err(Wrong::Turned(turned)) };
            assert_eq!(judge(&tilts), expected, "{turned} deg, by hand {by}: {tilts:?}");
        }
    }
}

#[test]
fn what_no_turn_puts_right_is_told_as_such() {
    let right = seen(0.0, 30.0, 30.0, 90.0);
    assert_eq!(judge(&Tilts { clockwise: -90.0, ..right }), Err(Wrong::Heading));
    // Upside down, its nose to the front: roll is seen the other way round, pitch as it is.
    let flipped = Tilts { right_down: (-right.right_down.0, right.right_down.1), ..right };
    assert_eq!(judge(&flipped), Err(Wrong::UpsideDown));
    // A tilt over the corner between nose and side says nothing.
    assert_eq!(judge(&Tilts { nose_down: (12.0, -28.0), ..right }), Err(Wrong::Unclear));
    assert_eq!(judge(&Tilts { nose_down: (30.0, 0.0), ..right }), Err(Wrong::Unclear));
}
