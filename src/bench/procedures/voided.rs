//! Starts that the stabiliser voided: why, and what is changed before the next.
//!
//! Must not be here: whether it pushes (see `measure::stabiliser`), and how often a start is made again.

use crate::bench::session::context::SessionContext;
use crate::interlock::guards;
use crate::language::units::Angle;
use crate::measure::catching;
use crate::measure::stabiliser::{self, Push};
use crate::seam::fault::Fault;
use crate::seam::ui::Gesture;
use std::time::Duration;

/// How long a craft is left alone before a start is made again.
const LEFT_ALONE: Duration = Duration::from_secs(3);

/// Half of what was there, but never less than this is asked of a craft that is levelled better, in
/// thousandths of a degree.
const TILT_LEFT: i32 = 400;

impl SessionContext {
    /// Changes, disarmed, what can be changed before a start that did not count is made again: a craft that stands more
    /// level than the recipe asks, as what the guard lets through can still be enough for a stabiliser to push the motors
    /// apart; else, once, one that nobody touches. `false`: there is nothing left to change.
    pub(in crate::bench) async fn changed_something(&self, left_alone: &mut bool) -> Result<bool, Fault> {
        let now = self.now();
        let (roll, pitch) = self.look(|live| guards::attitude(live, now)).unwrap_or_default();
        let tilt = thousandths(roll.abs().max(pitch.abs()));
        if tilt > TILT_LEFT {
            self.require_level(Angle(TILT_LEFT.max(tilt / 2))).await?;
            return Ok(true);
        }
        if std::mem::replace(left_alone, true) {
            return Ok(false);
        }
        let sentence = "Hands off the craft and the table: the start is made again.".to_owned();
        self.invite(Gesture::HandsOff, sentence, LEFT_ALONE);
        self.sleep(LEFT_ALONE).await;
        Ok(true)
    }

    /// Why a start did not count; a side is named only where the attitude shows one.
    pub(in crate::bench) fn why_pushed(&self, push: &Push) -> String {
        let now = self.now();
        let (roll, pitch) = self.look(|live| guards::attitude(live, now)).unwrap_or_default();
        match push {
            Push::WindUp { rate, .. } => format!(
                "the stabiliser winds up without propellers, by {rate:.0} us a second, though the craft is level."
            ),
            Push::Tilt { .. } => format!("the stabiliser works against a tilt. {}", guards::raise(roll, pitch)),
            Push::Steady { spread } => format!(
                "the stabiliser drives the motors {spread:.0} us apart from the start, though the attitude says roll \
                 {roll:.1} deg, pitch {pitch:.1} deg: if the table is level, the board's level calibration is not."
            ),
            Push::Offset { by } => {
                format!("all outputs are {by:.0} us away from the idle: is the throttle right down?")
            }
        }
    }
}

/// Where a dwell is longer than a stabiliser that winds up allows: how long one may be.
pub(in crate::bench) fn too_long(push: &Push, dwell: Duration) -> String {
    let Push::WindUp { first, rate, .. } = push else { return String::new() };
    let tenths = ((stabiliser::AT_IDLE - first) / rate - catching::AT_ONCE.as_secs_f64()) * 10.0;
    let most = tenths.floor() / 10.0;
    if most >= dwell.as_secs_f64() {
        String::new()
    } else if most < 0.3 {
        " That is too fast for a search: bind self-level to a switch that stays off, or lower what winds up at zero \
         throttle."
            .to_owned()
    } else {
        format!(" A start `for {most} s` would end before that shows.")
    }
}

#[expect(clippy::cast_possible_truncation, reason = "an angle in degrees times a thousand fits")]
fn thousandths(degrees: f64) -> i32 {
    (degrees * 1000.0) as i32
}
