//! Starts that the stabiliser voided: why, and what is changed before the next; how short one may be.
//!
//! Must not be here: whether it pushes (see `measure::stabiliser`), and how often a start is made again.

use crate::bench::session::context::SessionContext;
use crate::interlock::guards;
use crate::language::units::Angle;
use crate::measure::catching;
use crate::measure::stabiliser::{self, Push};
use crate::measure::turning;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Gesture, Reply, Tone};
use std::time::Duration;

/// How long a craft is left alone before a start is made again.
const LEFT_ALONE: Duration = Duration::from_secs(3);

/// No start is shorter: an eye that looks at a motor needs this long to see it run (*common practice*).
const SHORTEST: Duration = Duration::from_millis(300);
const TENTH: Duration = Duration::from_millis(100);

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

    /// Has the starts made shorter, so that they end before a stabiliser that winds up shows: the motors have caught by
    /// then, at the outputs that were heard, and none of them is driven below the idle later. `false`: that is not what
    /// ails them, it winds up too fast, or the operator wants no shorter ones.
    ///
    /// # Errors
    /// Declined.
    pub(in crate::bench) async fn shorter(&self, push: &Push, dwell: &mut Duration) -> Result<bool, Fault> {
        let Some(most) = before_it_shows(push) else { return Ok(false) };
        // One that this was said of before, and that was pushed again, needs still less.
        let most = if most < *dwell { most } else { dwell.saturating_sub(TENTH) };
        if most < self.shortest() {
            return Ok(false);
        }
        let (now, then) = (dwell.as_secs_f64(), most.as_secs_f64());
        let lines = vec![
            format!("A start of {now} s shows what the stabiliser winds up, and so nothing of the idle."),
            format!("One of {then} s shows whether every motor catches at once and runs; not what it does later."),
        ];
        let choices = vec![
            ('s', format!("shorter: every start from here on is {then} s, and the record says so")),
            ('e', "end: nothing more is started".to_owned()),
        ];
        let question =
            self.question(About::Choice, "It winds up. Make the starts shorter?", lines, Reply::Choice(choices));
        let shorter = self.ask_choice(question, "whether starts are made shorter").await? == 's';
        if shorter {
            *dwell = most;
            let sentence = format!(
                "Starts are {then} s long from here on. Write `for {then} s` at the search to have it so the next time."
            );
            self.line(Tone::Attested, sentence);
        }
        Ok(shorter)
    }

    /// The shortest start that shows something of a motor, by how often speeds come.
    pub(in crate::bench) fn shortest(&self) -> Duration {
        let samples = u32::try_from(turning::FEWEST_SAMPLES + 1).unwrap_or(u32::MAX);
        self.speeds_every().map_or(SHORTEST, |every| SHORTEST.max(every.saturating_mul(samples)))
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

/// How long a start may be before a stabiliser that winds up so shows in it, in whole tenths of a second.
fn before_it_shows(push: &Push) -> Option<Duration> {
    let Push::WindUp { first, rate, .. } = push else { return None };
    let seconds = (stabiliser::AT_IDLE - first) / rate - catching::AT_ONCE.as_secs_f64();
    Some(Duration::from_secs_f64((seconds * 10.0).floor().max(0.0) / 10.0))
}

/// What a search that ended over a stabiliser leaves to do; nothing where the words above have said it. `shortest`: less
/// shows nothing of a motor.
pub(in crate::bench) fn advice(push: &Push, shortest: Duration) -> String {
    match before_it_shows(push) {
        None => String::new(),
        Some(most) if most >= shortest => {
            format!(" A start `for {} s` would end before that shows.", most.as_secs_f64())
        }
        Some(_) => {
            " That is too fast for any start that shows something. Plug the battery in anew and touch nothing until \
                    the board is up: a gyro that was moved while it found its zero drifts, and that is wound up. If it \
                    stays so, set the integral gain of the board's rate control to zero for the search, with the tool \
                    that sets its gains, and put it back before the propellers go on."
                .to_owned()
        }
    }
}

#[expect(clippy::cast_possible_truncation, reason = "an angle in degrees times a thousand fits")]
fn thousandths(degrees: f64) -> i32 {
    (degrees * 1000.0) as i32
}
