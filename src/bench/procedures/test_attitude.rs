//! Proof of how the board sits: the craft is tilted and turned by hand, and the board must see it so.
//!
//! The computation stands in `measure::orientation`; here are the hands.

use crate::bench::procedures::gesture::BY_HAND;
use crate::bench::session::context::SessionContext;
use crate::board::console::Capability;
use crate::interlock::guards;
use crate::measure::orientation::{self, TILT, TURN, Tilts, Wrong};
use crate::measure::time::Time;
use crate::seam::fault::Fault;
use crate::seam::ui::{Gesture, Stands, Tone};
use std::time::Duration;

/// For so long the craft is held so before it counts.
const HELD: Duration = Duration::from_millis(800);
/// How far it may wander meanwhile, degrees.
const WANDERS: f64 = 6.0;
/// How often it is looked at.
const LOOKS: Duration = Duration::from_millis(50);

/// Roll, pitch and heading, degrees.
type Seen = (f64, f64, f64);

impl SessionContext {
    /// Has the craft tilted and turned. `told`: how far the board was told that it is turned, degrees.
    ///
    /// # Errors
    /// [`Fault::Unproved`] with how the board sits, or not held in time.
    pub async fn test_attitude(&self, told: Option<f64>) -> Result<(), Fault> {
        self.look(|live| guards::given(live, Capability::Attitude))?;
        let level = self.held_so(Stands::Level, "Put the craft level, its nose away from you.", None).await?;
        let sentence = "Tilt the nose straight down by about 30 degrees, and hold it there.";
        let nose = self.held_so(Stands::NoseDown, sentence, Some(level)).await?;
        let again = self.held_so(Stands::Level, "Put the craft level again.", None).await?;
        let sentence = "Tilt the right side straight down by about 30 degrees, and hold it there.";
        let right = self.held_so(Stands::RightDown, sentence, Some(again)).await?;
        let last = self.held_so(Stands::Level, "Put the craft level once more.", None).await?;
        let sentence = "Turn the craft clockwise, seen from above, by about a quarter turn; keep it level.";
        let turned = self.held_so(Stands::TurnedClockwise, sentence, Some(last)).await?;
        let tilts = Tilts {
            nose_down: (wrapped(nose.0 - level.0), wrapped(nose.1 - level.1)),
            right_down: (wrapped(right.0 - again.0), wrapped(right.1 - again.1)),
            clockwise: wrapped(turned.2 - last.2),
        };
        self.line(
            Tone::Measured,
            format!(
                "Nose down: roll {:+.0}, pitch {:+.0}. Right side down: roll {:+.0}, pitch {:+.0}. Turned: {:+.0} deg.",
                tilts.nose_down.0, tilts.nose_down.1, tilts.right_down.0, tilts.right_down.1, tilts.clockwise
            ),
        );
        orientation::judge(&tilts).map_err(|wrong| Fault::Unproved(why(wrong, told)))?;
        self.line(Tone::Good, "The board sees the craft tilted and turned as it is.");
        Ok(())
    }

    /// Invites to hold the craft so, and waits until it is held still; away from `from` as far as counts.
    async fn held_so(&self, stands: Stands, sentence: &str, from: Option<Seen>) -> Result<Seen, Fault> {
        self.invite(Gesture::HoldCraft(stands), sentence, BY_HAND);
        let seen = |now| self.seen_now(now).filter(|seen| from.is_none_or(|from| far(stands, from, *seen)));
        let stays = |first: Seen, seen: Seen| {
            let apart = [first.0 - seen.0, first.1 - seen.1, first.2 - seen.2];
            apart.into_iter().all(|by| wrapped(by).abs() <= WANDERS)
        };
        self.held_still((LOOKS, HELD), seen, stays, sentence).await
    }

    fn seen_now(&self, now: Time) -> Option<Seen> {
        let (roll, pitch) = self.look(|live| guards::attitude(live, now))?;
        Some((roll, pitch, *self.timings().headings(now - HELD).last()?))
    }
}

/// Whether the craft is as far from where it was as counts.
fn far(stands: Stands, from: Seen, seen: Seen) -> bool {
    match stands {
        Stands::TurnedClockwise => wrapped(seen.2 - from.2).abs() >= TURN,
        _ => wrapped(seen.0 - from.0).hypot(wrapped(seen.1 - from.1)) >= TILT,
    }
}

/// Within half a turn either way, degrees.
fn wrapped(degrees: f64) -> f64 {
    (degrees + 180.0).rem_euclid(360.0) - 180.0
}

fn why(wrong: Wrong, told: Option<f64>) -> String {
    match (wrong, told) {
        (Wrong::Turned(more), Some(told)) => {
            let turned = (told + more).rem_euclid(360.0);
            format!("attitude: the board sits turned: write `board turned {turned:.0} deg`, `keep`, and test it again")
        }
        (wrong, _) => format!("attitude: {wrong}"),
    }
}
