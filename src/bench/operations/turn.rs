//! Starts: the question of a motor step, the clearance lent for one start, and the way back to rest.
//!
//! The interlock gives the clearance; here is the waiting around it. Must not be here: guards, and what a procedure does
//! with a start.

use crate::bench::procedures::arm_switch::ArmSwitch;
use crate::bench::session::context::SessionContext;
use crate::bench::session::{Drive, Inquiry};
use crate::interlock::signals::{Signals, at_rest};
use crate::interlock::{Breaks, Clearance, Confirmed, INVITATION, PROPS_OFF, TypedWord};
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, MotorStep, Motors, Reply, StartedBy, Tone};
use std::time::Duration;

/// How long outputs may take to come to rest after a start, before it counts as a fault.
const COME_TO_REST: Duration = Duration::from_secs(12);
/// How long after an invitation that nobody took the board is still watched: a hand at the switch in the
/// last moment is seen, and stopped.
const LATE_HAND: Duration = Duration::from_secs(2);
/// How long a door waits for a fresh flag, and for what else is unheard for a moment.
pub(in crate::bench) const FLAG_WAIT: Duration = Duration::from_secs(3);
/// How long a door waits for how slow the link is.
const MEASURED_WITHIN: Duration = Duration::from_secs(5);
/// How long a setting of which nothing was heard of late is waited for.
const QUIET_SETTING: Duration = Duration::from_secs(3);
/// How long a question of a motor step waits until it is known how often the flag comes.
const FLAG_TOLD: Duration = Duration::from_secs(5);

impl SessionContext {
    /// Makes sure that propellers off and a single radio are attested for this craft in this contact.
    ///
    /// # Errors
    /// Declined.
    pub async fn ensure_props_off(&self) -> Result<(), Fault> {
        if self.interlock().props_off() {
            return Ok(());
        }
        if self.interlock().is_dark() {
            // And anew of the craft that is there then.
            self.line(Tone::Plain, "The board is dark: this is asked with its plug-in.");
            return Ok(());
        }
        let typed = self.ask_props_off().await?;
        self.interlock_mut().attest(typed);
        self.noted(Tone::Attested, "Propellers off; no other craft on this radio.");
        Ok(())
    }

    /// Asks for it.
    ///
    /// # Errors
    /// Declined.
    pub async fn ask_props_off(&self) -> Result<TypedWord, Fault> {
        let lines = vec![
            "All propellers are off this craft.".to_owned(),
            "No other powered craft listens to this radio.".to_owned(),
            "The craft is strapped or weighted down; nothing loose lies near the motors.".to_owned(),
        ];
        let question = self.question(About::Props, "Are the propellers off?", lines, Reply::Word(PROPS_OFF.to_owned()));
        self.ask_word(question).await
    }

    /// Asks the operator to type the word of a motor step.
    ///
    /// # Errors
    /// Declined.
    pub async fn confirm(&self, step: MotorStep) -> Result<Confirmed, Fault> {
        // What is not known of the craft counts as if it could.
        let on_usb = step.on_usb || self.facts().map_or(true, |facts| facts.usb_feeds_motors);
        let step = MotorStep { on_usb, ..step };
        self.ensure_props_off().await?;
        // After a restart a flag that comes rarely has to come a few times first, and a few times more where some were
        // lost; the door judges what came of it.
        let told = |bench: &Self| bench.look(Signals::tells_often).then_some(());
        self.until(self.now() + FLAG_TOLD, told).await;
        self.fit_streams().await?;
        let title = match (&step.by, &step.motors) {
            (StartedBy::Change { .. } | StartedBy::WorkedSwitch, _) => "Motors could turn",
            (StartedBy::Sound { .. }, _) => "Motors will sound",
            (_, Motors::None) if step.on_usb => "The craft will be armed on USB, and motors could turn",
            (_, Motors::None) => "The craft will be armed, battery out",
            (StartedBy::Switch { .. } | StartedBy::Command, _) => "Motors will turn",
        };
        let word = Reply::Word(step.word());
        let question = self.question(About::Motor(step), title, Vec::new(), word);
        Confirmed::of(self.ask_word(question).await?).ok_or(Fault::StaleAnswer)
    }

    /// Lends a clearance for one start: asks once more who is there, passes the door, lets `body` run under the watch,
    /// and waits until everything is at rest again.
    ///
    /// # Errors
    /// A guard that does not hold, the confirmation used up or too old, or the body's own fault.
    pub async fn turn<R>(
        &self,
        ok: &mut Confirmed,
        guards: &[Guard],
        breaks: Breaks,
        body: impl AsyncFnOnce(&mut Clearance) -> Result<R, Fault>,
    ) -> Result<R, Fault> {
        self.wait_sure().await;
        self.prove_link().await?;
        // What a frame that was lost left unheard is heard again soon; whatever else is in the way, the door says.
        let ready = |bench: &Self| bench.interlock().may_drive(ok, guards, breaks).ok();
        self.until(self.now() + FLAG_WAIT, ready).await;
        let mut clearance = self.interlock_mut().enter_drive(ok, guards, breaks)?;
        let result = body(&mut clearance).await;
        // Whatever went wrong, nothing stays armed for it: the hand may still be far from the switch.
        if result.is_err() && self.may_still_turn() {
            // A refusal leaves the stop by its deadline.
            let _refused = self.disarm(&mut clearance).await;
        }
        self.come_to_rest().await;
        result
    }

    /// Waits a little for a fresh flag, and for it to be sure who is there; the door judges what came of it.
    pub async fn wait_sure(&self) {
        self.until(self.now() + FLAG_WAIT, |bench| bench.interlock().is_sure().then_some(())).await;
    }

    /// Asks once more who is there, and measures how slow the link is by it.
    ///
    /// # Errors
    /// No answer, or another board's.
    pub async fn prove_link(&self) -> Result<(), Fault> {
        let named = self.interlock().who().is_some_and(|who| !who.is_unique());
        if named {
            let quiet = |bench: &Self| bench.interlock_mut().asks_setting();
            let Some(name) = self.until(self.now() + QUIET_SETTING, quiet).await else {
                return Err(Fault::refused("This board tells no setting by itself.", "Start the step again."));
            };
            let asked = self.now();
            self.request(Inquiry::Read(name), "asking the board something").await?;
            self.interlock_mut().answered_after(asked);
            return Ok(());
        }
        let asked = self.now();
        self.request(Inquiry::Identify, "asking who the board is").await?;
        // Where a question or its answer was lost, the interlock asks again for the measurement alone.
        let measured = |bench: &Self| bench.interlock().is_measured_since(asked).then_some(());
        self.until(self.now() + MEASURED_WITHIN, measured).await;
        Ok(())
    }

    /// Waits for the operator's switch to arm, until the invitation ends.
    ///
    /// # Errors
    /// The invitation ended.
    pub async fn armed(&self, _clearance: &mut Clearance, arm: &ArmSwitch) -> Result<Time, Fault> {
        let armed = |bench: &Self| bench.interlock().start().and_then(|start| start.armed_at);
        self.until(self.now() + INVITATION, armed).await.ok_or_else(|| self.not_armed(arm))
    }

    /// Invites anew within one start, as when all positions are walked.
    pub fn invite_again(&self, clearance: &mut Clearance) {
        self.interlock_mut().invites_again(clearance);
    }

    /// Runs the confirmed motor by command, bounded by the board itself as well: so much `sooner` than was confirmed.
    ///
    /// # Errors
    /// The step is not one motor by command, or the board refuses.
    pub async fn run_motor(&self, clearance: &mut Clearance, sooner: Duration) -> Result<(), Fault> {
        if self.facts()?.motor_run.is_none() {
            return Err(Fault::refused(
                "The sheet does not say that disarming stops a motor that is run by command.",
                "Without a stop of its own no motor is run by command.",
            ));
        }
        let step = clearance.step();
        let Motors::One(corner, index) = &step.motors else {
            return Err(Fault::refused("This step was not confirmed for one motor.", "Start it again."));
        };
        let (lease, what) = (step.longest, format!("running one motor ({corner})"));
        let run = Drive::RunMotor {
            motor: u8::try_from(index + 1).unwrap_or(u8::MAX),
            pulse: u16::try_from(step.pulse.0).unwrap_or(0),
            lease_ms: u32::try_from(lease.saturating_sub(sooner).as_millis()).unwrap_or(0),
        };
        self.interlock_mut().runs_motor(clearance, lease);
        self.drive(clearance, run, &what).await
    }

    /// Ends a start by an ordinary disarm.
    ///
    /// # Errors
    /// The board refuses.
    pub async fn disarm(&self, clearance: &mut Clearance) -> Result<(), Fault> {
        self.drive(clearance, Drive::Disarm, "disarming").await
    }

    /// Whether the start under way may still turn a motor: armed as last heard, raised outputs, which tell it before a flag
    /// that comes rarely does, or run by command.
    fn may_still_turn(&self) -> bool {
        let commanded = self.interlock().start().is_some_and(|start| start.commanded_until.is_some());
        let raised = |signals: &Signals| signals.outputs.last().is_some_and(|outputs| !at_rest(&outputs.value));
        commanded || self.look(|signals| signals.armed.last().is_some_and(|flag| flag.value) || raised(signals))
    }

    /// After a start: disarmed, outputs at rest and, where measured, motors still, for a second.
    async fn come_to_rest(&self) {
        let rests = |bench: &Self| bench.interlock().rests();
        let ends = |bench: &Self| rests(bench).then(|| bench.interlock_mut().start_ends().ok()).flatten();
        let never_begun =
            self.rests_or_is_stopped(COME_TO_REST, ends, "the motors did not come to rest after the start").await;
        // An arming that was invited and did not come must not come now.
        if never_begun {
            self.sleep(LATE_HAND).await;
        }
    }

    /// Waits until what was started is seen at rest; what does not come to rest in time is stopped.
    pub(in crate::bench) async fn rests_or_is_stopped<T>(
        &self,
        within: Duration,
        rests: impl FnMut(&Self) -> Option<T>,
        why: &str,
    ) -> T {
        if let Some(rested) = self.until(self.now() + within, rests).await {
            return rested;
        }
        self.interlock_mut().stop(why);
        // The stop takes over from here; this code is dropped before it goes on.
        std::future::pending().await
    }
}
