//! How a board sits in its frame, from how it sees the craft tilted and turned by hand.
//!
//! Promises: an angle only where two tilts agree on it. Must not know what a board was told.

use thiserror::Error;

/// Least tilt that counts, degrees; least turn.
pub const TILT: f64 = 15.0;
/// See [`TILT`].
pub const TURN: f64 = 30.0;
/// Boards are turned by steps of this, degrees (*common practice*).
const STEP: f64 = 45.0;
/// How far a hand's tilt may be from a step, degrees.
const NEAR: f64 = 20.0;

/// How a board saw three movements of the craft, degrees: roll right side down, pitch nose up, heading clockwise positive.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tilts {
    /// By how much roll and pitch changed when the nose went down.
    pub nose_down: (f64, f64),
    /// The same when the right side went down.
    pub right_down: (f64, f64),
    /// By how much the heading changed when the craft was turned clockwise, seen from above.
    pub clockwise: f64,
}

/// What the board sees otherwise than it is.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum Wrong {
    /// Turned, clockwise seen from above, by whole steps more than it was told.
    #[error("it sits turned by {0:.0} deg more than it was told")]
    Turned(f64),
    /// One of the tilts is seen the other way round.
    #[error("it sees one tilt the other way round and the other not, as a board does that sits upside down")]
    UpsideDown,
    /// A turn is seen the other way round.
    #[error("it sees the turn the other way round")]
    Heading,
    /// The tilts leave no answer.
    #[error("the tilts do not agree: tilt straight over the nose, then straight over the right side")]
    Unclear,
}

/// Holds the three against what they must look like.
///
/// # Errors
/// What is seen otherwise.
pub fn judge(tilts: &Tilts) -> Result<(), Wrong> {
    let ((roll_by_nose, pitch_by_nose), (roll_by_right, pitch_by_right)) = (tilts.nose_down, tilts.right_down);
    let by_nose = (-roll_by_nose).atan2(-pitch_by_nose).to_degrees();
    let by_right = (-pitch_by_right).atan2(roll_by_right).to_degrees();
    let step = |angle: f64| {
        let whole = (angle / STEP).round() * STEP;
        ((angle - whole).abs() <= NEAR).then_some(whole.rem_euclid(360.0))
    };
    let (Some(nose), Some(right)) = (step(by_nose), step(by_right)) else { return Err(Wrong::Unclear) };
    let apart = (nose - right).rem_euclid(360.0);
    if (apart - 180.0).abs() < 1.0 {
        return Err(Wrong::UpsideDown);
    }
    if apart > 1.0 {
        return Err(Wrong::Unclear);
    }
    if nose > 1.0 {
        return Err(Wrong::Turned(nose));
    }
    if tilts.clockwise < 0.0 { Err(Wrong::Heading) } else { Ok(()) }
}
