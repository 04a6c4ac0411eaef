//! One start by the operator's arm switch, with all that was heard in its dwell.

use crate::bench::operations::turn::FLAG_WAIT;
use crate::bench::procedures::again::NoStart;
use crate::bench::procedures::arm_switch::ArmSwitch;
use crate::bench::procedures::ended_early::Early;
use crate::bench::session::context::SessionContext;
use crate::interlock::guards;
use crate::interlock::signals::{Signals, at_rest};
use crate::interlock::{Breaks, INVITATION};
use crate::interlock::{Clearance, Confirmed};
use crate::language::units::Pulse;
use crate::measure::catching;
use crate::measure::intervals::{self, Moment};
use crate::measure::level::Level;
use crate::measure::stabiliser::{self, Push};
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{Gesture, MotorStep, Motors, OVERTIME, Placement, Tone};
use std::time::Duration;

/// From the outputs leaving rest to the beginning of the dwell.
pub const SETTLE: Duration = catching::AT_ONCE;
/// How often a question is put again because something moved.
const TRIES: u32 = 3;
/// What is left to the ordinary disarm before the deadline of a start.
pub(super) const LAST: Duration = Duration::from_millis(150);
/// How long the operator has to switch off before the tool disarms by itself, where the start is not over before: a hand
/// that has to find its switch takes a second and more (*common practice*).
const OFF_BY_HAND: Duration = Duration::from_secs(2);

/// What one start gave.
#[derive(Debug, Clone, Default)]
pub struct StartHeard {
    /// When the outputs left rest, where that was heard.
    pub left: Option<Moment>,
    /// Begin and end of the dwell.
    pub dwell: (Time, Time),
    /// Speeds by motor in rpm, from the last before the outputs left rest to the end of the dwell.
    pub speeds: Vec<(Time, [Option<f64>; 8])>,
    /// The highest pulse that a motor was driven at; `None`: no outputs are told.
    pub driven: Option<Pulse>,
    /// Pack in volts at the end of the dwell.
    pub volts: Option<f64>,
    /// The start was ended early because the stabiliser pushed outputs away from idle.
    pub pushed: Option<Push>,
}

impl StartHeard {
    /// Usual time between two messages with speeds.
    #[must_use]
    pub fn speeds_every(&self) -> Option<Duration> {
        intervals::period(&self.speeds.iter().map(|(at, _)| *at).collect::<Vec<Time>>())
    }
}

impl SessionContext {
    /// Asks for a motor step with everything in place, and again where something moved while the question stood.
    ///
    /// # Errors
    /// Declined, or never in place.
    pub async fn confirm_in_place(&self, step: &MotorStep, arm: &ArmSwitch) -> Result<Confirmed, Fault> {
        for _ in 0..TRIES {
            self.arm_switch_off(arm).await?;
            self.wait_still().await?;
            if step.motors != Motors::None || step.on_usb {
                self.mind_the_heat(step.bound()).await?;
            }
            let ok = self.confirm(step.clone()).await?;
            if self.until(self.now() + FLAG_WAIT, |bench| bench.in_place(arm)).await == Some(true) {
                return Ok(ok);
            }
            self.line(Tone::Warning, "Something moved while the question stood, so nothing was started. Asked again.");
        }
        Err(Fault::StaleAnswer)
    }

    /// Whether the switch is off and everything at rest, once that is seen; what is unheard for a moment has not moved.
    fn in_place(&self, arm: &ArmSwitch) -> Option<bool> {
        let position = self.position_of(&arm.entry);
        let moved = self.look(|live| guards::moves(live, self.now())).is_some();
        if moved || position.is_some_and(|position| position != 0) {
            return Some(false);
        }
        (position == Some(0) && self.interlock().is_sure() && self.interlock().rests()).then_some(true)
    }

    /// The next start of a confirmed series: where its time has run out, as over a pause that the motors needed, it is asked
    /// for anew.
    ///
    /// # Errors
    /// Declined, or never in place.
    async fn still_confirmed(&self, ok: &mut Confirmed, arm: &ArmSwitch) -> Result<(), Fault> {
        if !self.interlock().stands(ok) {
            *ok = self.confirm_in_place(&ok.rest(), arm).await?;
        }
        Ok(())
    }

    /// Before the next start of a confirmed series: the switch off, all at rest, time left for so long a start, and the answer
    /// still good.
    ///
    /// # Errors
    /// A guard, declined, or never in place.
    pub async fn before_next(&self, ok: &mut Confirmed, arm: &ArmSwitch, longest: Duration) -> Result<(), Fault> {
        self.arm_switch_off(arm).await?;
        self.wait_still().await?;
        self.mind_the_heat(longest + OVERTIME).await?;
        self.still_confirmed(ok, arm).await
    }

    /// Has the operator switch on, with these words, and gives when the board armed.
    ///
    /// # Errors
    /// It did not.
    pub async fn switched_on(
        &self,
        clearance: &mut Clearance,
        arm: &ArmSwitch,
        sentence: String,
        told: Placement,
    ) -> Result<Time, Fault> {
        let on = Gesture::SwitchTo { switch: arm.switch.clone(), position: arm.first_on() };
        self.invite_told(on, sentence, INVITATION, told);
        self.armed(clearance, arm).await
    }

    /// One start of a confirmed step: invite, settle, dwell, switch off. One that a hand ended early is none.
    ///
    /// # Errors
    /// A guard, or a board that refuses.
    pub async fn start_by_switch(
        &self,
        ok: &mut Confirmed,
        guards: &[Guard],
        arm: &ArmSwitch,
        dwell: Duration,
        number: (u32, u32),
    ) -> Result<Result<StartHeard, NoStart>, Fault> {
        let (start, of) = number;
        self.turn(ok, guards, Breaks::default(), async |clearance| {
            let sentence = format!("Start {start} of {of}: switch {} to position {}.", arm.switch.0, arm.first_on());
            let entered = self.now();
            let told = Placement::first(start);
            let armed = match self.switched_on(clearance, arm, sentence, told).await {
                Ok(armed) => armed,
                Err(missed) => return Ok(Err(NoStart::Missed(missed))),
            };
            // The flag may be heard long after the outputs left rest, or before.
            let left = self.until(armed + SETTLE, |bench| bench.left_rest(entered)).await;
            let from = left.map_or(armed, |left| left.after) + SETTLE;
            let idle = f64::from(clearance.step().pulse.0);
            let ends = |bench: &Self| {
                let early = bench.ended_early(arm, entered, armed).map(Ends::Early);
                early.or_else(|| bench.pushed(idle, left?, from).map(Ends::Pushed))
            };
            let ended = self.until(from + dwell, ends).await;
            if let Some(Ends::Early(early)) = &ended {
                self.comes_off(clearance, arm).await?;
                return Ok(Err(early.words(arm, from, dwell)));
            }
            let pushed = ended.and_then(|ended| if let Ends::Pushed(push) = ended { Some(push) } else { None });
            let heard = self.heard_since(from, left, pushed);
            if heard.pushed.is_some() {
                self.disarm(clearance).await?;
            }
            self.switch_off(clearance, arm, told).await?;
            // What the switch did in the last moments of the dwell came only now.
            let slipped = self.went_off(arm, entered).filter(|off| heard.pushed.is_none() && *off < heard.dwell.1);
            Ok(slipped.map_or(Ok(heard), |off| Err(Early::Hand(off).words(arm, from, dwell))))
        })
        .await
    }

    /// Whether the stabiliser pushes outputs away from the pulse, and why, once that could be seen within the dwell.
    fn pushed(&self, idle: f64, left: Moment, from: Time) -> Option<Push> {
        let now = self.now();
        let recent = now - stabiliser::WINDOW;
        if recent < from {
            return None;
        }
        let motors = self.interlock().facts().map_or(4, |facts| facts.corners.len());
        // At every message: the way out is short.
        let away =
            |outputs: &[u16; 8]| outputs.iter().take(motors).any(|pulse| stabiliser::is_away(f64::from(*pulse), idle));
        if !self.look(|live| live.outputs.since(recent).any(|s| away(&s.value))) {
            return None;
        }
        let by_motor = |moments: Vec<[u16; 8]>| -> Vec<Vec<f64>> {
            (0..motors).map(|motor| moments.iter().map(|outputs| f64::from(outputs[motor])).collect()).collect()
        };
        let (last, level) = self.look(|live| {
            (by_motor(live.outputs.since(recent).map(|s| s.value).collect()), guards::attitude(live, now))
        });
        // Outputs at rest were switched off.
        let rests = self.look(Signals::last_at_rest) == Some(true);
        if rests || !stabiliser::pushes(&last, idle) {
            return None;
        }
        let first = self.look(|live| {
            let raised = live.outputs.since(left.before);
            by_motor(raised.map(|s| s.value).take(stabiliser::FEWEST_SAMPLES).collect())
        });
        let (roll, pitch) = level.unwrap_or_default();
        let level = Level { roll: roll.to_radians(), pitch: pitch.to_radians(), samples: 0 };
        let between = (now - stabiliser::WINDOW / 2).since(left.after);
        stabiliser::why(&first, &last, between, idle, level)
    }

    /// When the outputs left rest, once they have.
    fn left_rest(&self, entered: Time) -> Option<Moment> {
        let driven: Vec<(Time, bool)> =
            self.look(|live| live.outputs.since(entered).map(|s| (s.at, !at_rest(&s.value))).collect());
        intervals::began(&driven, entered)
    }

    fn heard_since(&self, from: Time, left: Option<Moment>, pushed: Option<Push>) -> StartHeard {
        let to = self.now();
        let start = left.map_or(from, |left| left.before);
        let motors = self.interlock().facts().map_or(4, |facts| facts.corners.len());
        self.look(|live| StartHeard {
            left,
            dwell: (from, to),
            driven: live
                .outputs
                .since(start)
                .filter_map(|outputs| outputs.value.iter().take(motors).copied().max())
                .max()
                .map(|highest| Pulse(highest.into())),
            speeds: self.timings().speeds(start),
            volts: self.volts(),
            pushed,
        })
    }

    /// Has the operator switch off, with all the time that the start leaves; disarms by command where that takes longer.
    ///
    /// # Errors
    /// The board refuses to disarm.
    pub async fn switch_off(&self, clearance: &mut Clearance, arm: &ArmSwitch, told: Placement) -> Result<(), Fault> {
        let off = Gesture::SwitchTo { switch: arm.switch.clone(), position: 0 };
        let by_hand = self.start_ends_at(clearance).since(self.now()).min(OFF_BY_HAND);
        self.invite_told(off, format!("Switch {} back to position 0.", arm.switch.0), by_hand, told);
        self.comes_off(clearance, arm).await
    }

    /// Waits until a switch that goes off has ended the start, by whatever tells it first; disarms by command where its
    /// time is over.
    ///
    /// # Errors
    /// The board refuses to disarm.
    pub(in crate::bench) async fn comes_off(&self, clearance: &mut Clearance, arm: &ArmSwitch) -> Result<(), Fault> {
        let by_hand = (self.now() + OFF_BY_HAND).min(self.start_ends_at(clearance));
        let off = self.until(by_hand, |bench| (bench.is_over() || bench.is_off(arm)).then_some(())).await;
        // A hand that was in time needs no disarm while the board only follows it.
        let over = |bench: &Self| bench.is_over().then_some(());
        if off.is_some() && self.until(self.start_ends_at(clearance), over).await.is_some() {
            return Ok(());
        }
        let what = if off.is_some() { "the board was not seen to follow it" } else { "it was still on" };
        self.line(Tone::Warning, format!("Disarmed by command: switch {}: {what}.", arm.switch.0));
        self.disarm(clearance).await
    }

    /// When the start under way has to be over, less what an ordinary disarm takes.
    pub(in crate::bench) fn start_ends_at(&self, clearance: &Clearance) -> Time {
        let since = self.interlock().start().and_then(|start| start.armed_at).unwrap_or(self.now());
        since + clearance.step().bound().saturating_sub(LAST)
    }

    /// Waits until the arm switch is seen in position 0 again, inviting to it.
    ///
    /// # Errors
    /// [`Fault::TimedOut`].
    pub async fn arm_switch_off(&self, arm: &ArmSwitch) -> Result<(), Fault> {
        // One that is off and not at 0 was stopped half way.
        let began = self.position_of(&arm.entry).filter(|at| arm.on.contains(at));
        self.switch_from(&arm.switch, &arm.entry, 0, began).await
    }
}

/// What ends a dwell before its time.
enum Ends {
    /// The stabiliser.
    Pushed(Push),
    /// The hand, or the board.
    Early(Early),
}
