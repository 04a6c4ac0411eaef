//! Which radio is live and which craft is on the link, shown by two small gestures before a battery goes in.
//!
//! Must not be here: when a stick or a craft counts as moved (see `measure::moved`).

use crate::bench::procedures::gesture::BY_HAND;
use crate::bench::session::context::SessionContext;
use crate::bench::session::spans::Spans;
use crate::measure::moved::{self, Stick, Tilt};
use crate::measure::time::Time;
use crate::seam::fault::Fault;
use crate::seam::ui::{Gesture, Tone};
use std::cell::RefCell;
use std::time::Duration;

/// Left and right belong together within this time; what came long before is not looked through again.
const WITHIN: Duration = Duration::from_secs(10);
/// A stick on its way from one side to the other is not told of for so long.
const ON_ITS_WAY: Duration = Duration::from_millis(700);

impl SessionContext {
    /// Has the roll stick moved and the craft tilted.
    ///
    /// # Errors
    /// Not seen.
    pub(in crate::bench) async fn right_radio_and_craft(&self) -> Result<(), Fault> {
        let spans = RefCell::new(Spans::since(self.now()));
        let sentence = "Move the roll stick left and right: is this the right radio?";
        let began = self.now();
        let moved = |bench: &Self| bench.stick_since(began, &mut spans.borrow_mut()).0 == Stick::Both;
        let half = |bench: &Self| match bench.stick_since(began, &mut spans.borrow_mut()) {
            (Stick::Higher, _) => Some("The stick was seen to one side, the right: now to the left.".to_owned()),
            (Stick::Lower, _) => Some("The stick was seen to one side, the left: now to the right.".to_owned()),
            (Stick::Still, Some((other, roll))) => Some(format!(
                "Channel {other} moved, and the board takes roll from channel {roll}: move the roll stick. If that was it, \
                 write `channels …` in the order of this radio first."
            )),
            (Stick::Still | Stick::Both, _) => None,
        };
        self.gesture_told(Gesture::WiggleRoll, sentence, BY_HAND, moved, half).await?;
        let began = self.now();
        let sentence = "Tilt the craft by hand and put it back: is this the right craft?";
        let back = |bench: &Self| bench.tilt_since(began) == Tilt::Back;
        let half = |bench: &Self| {
            let tilted =
                bench.tilt_since(began) == Tilt::Tilted && bench.tilt_since(bench.now() - ON_ITS_WAY) == Tilt::Still;
            tilted.then(|| "The tilt was seen: now put the craft back as it stood, and let go.".to_owned())
        };
        self.gesture_told(Gesture::TiltCraft, sentence, BY_HAND, back, half).await?;
        self.line(Tone::Measured, "The radio is live, and this is the craft on the link.");
        Ok(())
    }

    /// How far the roll stick has been moved since then, any but the throttle where the board does not say which channel
    /// roll is; and which other was moved to both sides, beside which it should have been. `spans` are of the same time.
    fn stick_since(&self, began: Time, spans: &mut Spans) -> (Stick, Option<(u32, u32)>) {
        let interlock = self.interlock();
        let Ok(facts) = interlock.facts() else { return (Stick::Still, None) };
        let live = interlock.signals();
        let lately = began.max(self.now() - WITHIN);
        spans.take(live);
        let (mut half, mut other) = (Stick::Still, None);
        // One that went no further than this altogether went to no side.
        let sticks = spans.further_than(moved::TO_A_SIDE).filter(|channel| (1..=16).contains(channel));
        for channel in sticks.filter(|channel| Some(*channel) != facts.throttle_channel) {
            let pulses = live.channels.since(lately).filter_map(|s| Some((s.at, s.value.of(channel)?.0)));
            match (moved::stick(&pulses.collect::<Vec<(Time, i32)>>()), facts.roll_channel) {
                (Stick::Both, Some(roll)) if channel != roll => other = Some((channel, roll)),
                (_, Some(roll)) if channel != roll => {}
                (Stick::Both, _) => return (Stick::Both, None),
                (Stick::Still, _) => {}
                (one, _) => half = one,
            }
        }
        (half, other)
    }

    /// How far the craft has been tilted and put back since then.
    pub(in crate::bench) fn tilt_since(&self, began: Time) -> Tilt {
        moved::tilt(&self.look(|live| live.attitude.since(began).map(|s| s.value).collect::<Vec<(f64, f64)>>()))
    }
}
