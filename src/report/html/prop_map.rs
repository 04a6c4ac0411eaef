//! The motors from above as they were found: where each sits, the board's number of it, and which way it turns.

use super::svg::Svg;
use crate::language::layout::Place;
use crate::language::recipe::Frame;

/// Middle, and how far from it the motors are drawn.
const MIDDLE: (f64, f64) = (160.0, 150.0);
const REACH: f64 = 92.0;

/// A motor: its corner, its number, its way.
pub(super) type Motor = (String, usize, bool);

/// In words, one a motor.
pub(super) fn words(motors: &[Motor]) -> Vec<Vec<String>> {
    let way = |clockwise| if clockwise { "clockwise" } else { "anticlockwise" };
    motors
        .iter()
        .map(|(corner, number, clockwise)| vec![corner.clone(), number.to_string(), way(*clockwise).to_owned()])
        .collect()
}

/// The picture; nothing where the corners are of no frame that is known.
pub(super) fn drawn(motors: &[Motor]) -> Option<Svg> {
    let corners: Vec<&str> = motors.iter().map(|(corner, ..)| corner.as_str()).collect();
    let frame = Frame::of(&corners)?;
    let told: Vec<String> =
        words(motors).iter().map(|row| format!("{}: motor {}, {}", row[0], row[1], row[2])).collect();
    let mut svg = Svg::new("The motors from above, the nose at the top", &told.join("; "), (320.0, 310.0));
    let tip = (MIDDLE.0, 14.0);
    svg.path("", &[(tip.0 - 8.0, tip.1 + 12.0), tip, (tip.0 + 8.0, tip.1 + 12.0)]);
    svg.text("quiet", "start", (tip.0 + 12.0, tip.1 + 12.0), "nose");
    for (corner, number, clockwise) in motors {
        let place = frame.places()[frame.place(corner)?];
        let at = place_of(place);
        svg.line("axis", MIDDLE, at);
        svg.circle("open", at, 27.0);
        svg.turn(at, 20.0, *clockwise);
        svg.text("", "middle", (at.0, at.1 + 5.0), &number.to_string());
        svg.text("quiet", "middle", (at.0, at.1 + 42.0), corner);
    }
    Some(svg)
}

fn place_of(place: Place) -> (f64, f64) {
    let bearing = (f64::from(place.bearing) / 10.0).to_radians();
    (MIDDLE.0 + REACH * bearing.sin(), MIDDLE.1 - REACH * bearing.cos())
}
