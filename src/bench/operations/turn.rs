//! Clearance: no motor step without proof.
//!
//! A [`Clearance`] is lent to one body of code by [`SessionContext::turn`], after the very step was confirmed
//! by the operator and every entry guard held; it cannot be made, kept or copied elsewhere.
//! Must not be here: what a procedure does with it.

use crate::bench::session::context::SessionContext;
use crate::board::signals::Request;
use crate::interlock::guards;
use crate::interlock::signals::{Pack, at_rest};
use crate::interlock::state::{Breaks, FIRST_START, INVITATION, Mode, Turning};
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, MotorStep, Motors, Question, Reply, StartedBy, Tone};
use std::marker::PhantomData;
use std::time::Duration;

/// How long the attestation of taken-off propellers stands without a step.
const PROPS_STAND: Duration = Duration::from_secs(15 * 60);
/// How long outputs may take to come to rest after a start, before it counts as a fault.
const COME_TO_REST: Duration = Duration::from_secs(10);
/// Outputs count as at rest only when heard this long after the end of a start.
const HEARD_AFTER: Duration = Duration::from_millis(50);
/// How long after an invitation that nobody took the board is still watched: a hand at the switch in the
/// last moment is seen, and stopped.
const LATE_HAND: Duration = Duration::from_secs(2);

/// A confirmation, made by the prompt only, from the very step that it showed.
#[derive(Debug)]
pub struct Confirmed {
    step: MotorStep,
    answered: Time,
    starts_left: u32,
    first: bool,
}

impl Confirmed {
    /// The step that was confirmed.
    #[must_use]
    pub fn step(&self) -> &MotorStep {
        &self.step
    }
}

/// Leave to turn motors, lent for one start. It cannot be made outside [`SessionContext::turn`].
#[derive(Debug)]
pub struct Clearance<'s> {
    step: &'s MotorStep,
    bench: &'s SessionContext,
    brand: PhantomData<fn(&'s ()) -> &'s ()>,
}

impl Clearance<'_> {
    /// The confirmed step.
    #[must_use]
    pub fn step(&self) -> &MotorStep {
        self.step
    }

    /// Waits for the operator's switch to arm, until the invitation ends.
    ///
    /// # Errors
    /// The invitation ended.
    pub async fn armed(&mut self) -> Result<Time, Fault> {
        let deadline = self.bench.now() + INVITATION;
        let armed = self
            .bench
            .until(deadline, |bench| match &*bench.mode() {
                Mode::Turning(turning) => turning.armed_at,
                _ => None,
            })
            .await;
        armed.ok_or_else(|| Fault::TimedOut {
            what: "the arm switch was not used, or the board did not arm. Put the switch to position 0".to_owned(),
            seconds: INVITATION.as_secs(),
        })
    }

    /// Invites anew within one start, as when all positions are walked; only while nothing is armed.
    pub fn invite_again(&mut self) {
        let now = self.bench.now();
        if let Mode::Turning(turning) = &mut *self.bench.mode.borrow_mut()
            && (turning.armed_at.is_none() || turning.disarmed_at.is_some())
        {
            turning.invited_until = now + INVITATION;
        }
    }

    /// Runs the confirmed motor by command, bounded by the board itself as well.
    ///
    /// # Errors
    /// The step is not one motor by command, or the board refuses.
    pub async fn run_motor(&mut self) -> Result<(), Fault> {
        if !self.bench.facts()?.disarm_stops_motor {
            return Err(Fault::refused(
                "The sheet does not say that disarming stops a motor that is run by command.",
                "Without a stop of its own no motor is run by command.",
            ));
        }
        let Motors::One(corner, index) = &self.step.motors else {
            return Err(Fault::refused("This step was not confirmed for one motor.", "Start it again."));
        };
        let lease = self.step.longest;
        let until = self.bench.now() + lease;
        if let Mode::Turning(turning) = &mut *self.bench.mode.borrow_mut() {
            turning.commanded_until = Some(until);
        }
        let request = Request::RunMotor {
            motor: u8::try_from(index + 1).unwrap_or(u8::MAX),
            pulse: u16::try_from(self.step.pulse.0).unwrap_or(0),
            lease_ms: u32::try_from(lease.as_millis()).unwrap_or(0),
        };
        self.bench.request(request, &format!("running the {corner} motor")).await
    }

    /// Ends the start by an ordinary disarm.
    ///
    /// # Errors
    /// The board refuses.
    pub async fn disarm(&mut self) -> Result<(), Fault> {
        self.bench.request(Request::Disarm { force: false }, "disarming").await
    }
}

impl SessionContext {
    /// Makes sure that propellers off and a single radio are attested for this craft in this session.
    ///
    /// # Errors
    /// Declined.
    pub async fn ensure_props_off(&self) -> Result<(), Fault> {
        let now = self.now();
        if self.props_stand(now) {
            return Ok(());
        }
        let lines = vec![
            "All propellers are off this craft.".to_owned(),
            "No other powered craft listens to this radio.".to_owned(),
            "The craft is strapped or weighted down; nothing loose lies near the motors.".to_owned(),
        ];
        let question =
            self.question(About::Props, "Are the propellers off?", lines, Reply::Word("props off".to_owned()));
        self.ask_word(question).await?;
        self.props_attested.set(Some(self.now()));
        self.line(Tone::Attested, "Propellers off; no other craft on this radio.");
        Ok(())
    }

    /// Whether the attestation still stands.
    pub(in crate::bench) fn props_stand(&self, now: Time) -> bool {
        self.props_attested.get().is_some_and(|at| now.since(at) < PROPS_STAND)
    }

    /// A step was taken: an attestation that stands goes on standing.
    pub(in crate::bench) fn step_taken(&self) {
        if self.props_stand(self.now()) {
            self.props_attested.set(Some(self.now()));
        }
    }

    /// A question that carries the craft's name.
    #[must_use]
    pub fn question(&self, about: About, title: &str, lines: Vec<String>, reply: Reply) -> Question {
        let facts = self.facts.borrow();
        Question {
            about,
            craft: facts.as_ref().map_or_else(String::new, |f| f.craft.clone()),
            is_virtual: facts.as_ref().is_some_and(|f| f.is_virtual),
            title: title.to_owned(),
            lines,
            reply,
        }
    }

    /// Asks the operator to type the word of a motor step.
    ///
    /// # Errors
    /// Declined.
    pub async fn confirm(&self, step: MotorStep) -> Result<Confirmed, Fault> {
        self.ensure_props_off().await?;
        let title = match (&step.by, &step.motors) {
            (StartedBy::Change { .. }, _) => "Motors could turn",
            (_, Motors::None) => "The craft will be armed, battery out",
            (StartedBy::Switch { .. } | StartedBy::Command, _) => "Motors will turn",
        };
        let question = self.question(About::Motor(step.clone()), title, Vec::new(), Reply::Word(step.word()));
        let answered = self.ask_word(question).await?;
        let starts_left = step.starts;
        Ok(Confirmed { step, answered, starts_left, first: true })
    }

    /// Lends a clearance for one start: judges every entry guard anew, then lets `body` run under the
    /// watch, and waits until everything is at rest again.
    ///
    /// # Errors
    /// A guard that does not hold, the confirmation used up or too old, or the body's own fault.
    pub async fn turn<R>(
        &self,
        ok: &mut Confirmed,
        guards: &[Guard],
        breaks: Breaks,
        body: impl AsyncFnOnce(&mut Clearance<'_>) -> Result<R, Fault>,
    ) -> Result<R, Fault> {
        let now = self.now();
        if ok.starts_left == 0 || (ok.first && now.since(ok.answered) > FIRST_START) {
            return Err(Fault::StaleAnswer);
        }
        self.may_turn(ok.step(), guards)?;
        ok.starts_left -= 1;
        ok.first = false;
        let attitude = self.look(|live| guards::attitude(live, now));
        self.set_mode(Mode::Turning(Box::new(Turning::enter(ok.step.clone(), now, attitude, breaks))));
        self.props_attested.set(Some(now));
        let result = {
            let mut clearance = Clearance { step: &ok.step, bench: self, brand: PhantomData };
            let result = body(&mut clearance).await;
            // Whatever went wrong, nothing stays armed for it: the hand may still be far from the switch.
            if result.is_err() && self.may_still_turn() {
                // A refusal leaves the stop by its deadline.
                let _refused = clearance.disarm().await;
            }
            result
        };
        self.note_heat(now);
        self.come_to_rest().await?;
        result
    }

    /// Every entry guard of a motor step, judged at this moment.
    ///
    /// # Errors
    /// The first guard that does not hold.
    pub fn may_turn(&self, step: &MotorStep, guards: &[Guard]) -> Result<(), Fault> {
        let now = self.now();
        let facts = self.facts()?;
        if !matches!(*self.mode(), Mode::Still | Mode::SwitchesWorked) {
            return Err(Fault::refused("This run was stopped.", "Take the battery out, then start it again."));
        }
        if self.terminal_gone.get() {
            return Err(Fault::refused(
                "The terminal was closed.",
                "Start the run again in a terminal with you at it.",
            ));
        }
        if !self.guardian.borrow().may_invite() {
            return Err(Fault::refused(
                "The guardian process, which stops the motors if this program dies, does not stand ready.",
                "Take the battery out, and start the run again.",
            ));
        }
        let worst = crate::language::ceilings::PULSE;
        if step.pulse > worst {
            return Err(Fault::refused(
                format!("{} is above {worst}, which no step may exceed on the bench.", step.pulse),
                "Choose a lower value.",
            ));
        }
        if !self.props_stand(now) {
            return Err(Fault::refused(
                "Propellers off is not attested any more.",
                "Start again; it is asked before anything turns.",
            ));
        }
        if !self.encoding_proved.get() {
            return Err(Fault::refused(
                "How this board writes numbers is not known for sure.",
                "Read all settings first.",
            ));
        }
        self.look(|live| -> Result<(), Fault> {
            guards::alone(live)?;
            guards::disarmed(live, now)?;
            guards::outputs_at_rest(live, now)?;
            guards::driven_outputs(live, &facts, now)?;
            guards::throttle_low(live, &facts, now)?;
            guards::arm_switch_off(live, &facts, now)?;
            guards::watchable(live, &facts, now)
        })?;
        self.hold(guards)
    }

    /// The guards of a step that are not part of every motor step: level, battery.
    ///
    /// # Errors
    /// The first that does not hold.
    pub fn hold(&self, guards: &[Guard]) -> Result<(), Fault> {
        let now = self.now();
        for guard in guards {
            match guard {
                Guard::Level(most) => {
                    self.look(|live| guards::level(live, *most, now))?;
                }
                Guard::BatteryAtLeast(per_cell) => {
                    let cells = self.facts()?.cells;
                    self.look(|live| guards::battery_at_least(live, *per_cell, cells, now))?;
                }
                Guard::BatteryIn if self.pack() == Pack::Out => {
                    return Err(Fault::refused("The battery is out.", "Plug it in when the run asks for it."));
                }
                Guard::BatteryOut if self.pack() == Pack::In => {
                    return Err(Fault::refused("The battery is in.", "Take it out."));
                }
                _ => {}
            }
        }
        Ok(())
    }

    /// Whether the start under way may still turn a motor: armed as last heard, or run by command.
    fn may_still_turn(&self) -> bool {
        let commanded = match &*self.mode() {
            Mode::Turning(turning) => turning.commanded_until.is_some(),
            _ => false,
        };
        commanded || self.look(|live| live.armed.last().is_some_and(|flag| flag.value))
    }

    /// Notes how long the motors turned in the start that began at `from`.
    fn note_heat(&self, from: Time) {
        let (began, ended) = match &*self.mode() {
            Mode::Turning(turning) => (turning.armed_at.or(turning.commanded_until.map(|_| from)), turning.disarmed_at),
            _ => (None, None),
        };
        if let Some(began) = began {
            self.heat.borrow_mut().turned(began, ended.unwrap_or(self.now()));
        }
    }

    /// After a start: disarmed, outputs at rest and, where measured, motors still.
    async fn come_to_rest(&self) -> Result<(), Fault> {
        // What was heard before the end of the start says nothing about the time after it.
        let ended = self.now() + HEARD_AFTER;
        let rested = self
            .until(self.now() + COME_TO_REST, |bench| {
                let now = bench.now();
                bench.look(|live| {
                    let off = live.armed.fresh(now, guards::ARMED_AGE) == Some(false);
                    let outputs = live.outputs.last().filter(|s| s.at >= ended);
                    let quiet = outputs.is_some_and(|s| now.since(s.at) <= guards::STREAM_AGE && at_rest(&s.value));
                    let still = live.speeds.last().is_none_or(|s| s.value.iter().flatten().all(|rpm| *rpm < 1.0));
                    (off && quiet && still).then_some(())
                })
            })
            .await;
        if rested.is_none() {
            self.demand_stop("the motors did not come to rest after the start");
            // The stop takes over from here; this code is dropped before it goes on.
            self.until(Time::NEVER, |_| None::<()>).await;
        }
        let lapsed = match &*self.mode() {
            Mode::Turning(turning) => turning.armed_at.is_none() && turning.commanded_until.is_none(),
            _ => false,
        };
        // An arming that was invited and did not come must not come now.
        self.set_mode(Mode::Still);
        if lapsed {
            self.sleep(LATE_HAND).await;
        }
        Ok(())
    }
}
