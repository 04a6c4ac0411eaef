//! One door a step: what the dry run prints is judged here, and yields what lets a request leave.
//!
//! Promises: every guard of a plan is an arm of one match, so that none can be printed that nobody enforces. Must not be
//! here: waiting and asking (the operations do both before they come to a door).

use super::contact::LAG_MOST;
use super::guards;
use super::phase::Happening;
use super::signals::Pack;
use super::start::{Breaks, FIRST_START, Start};
use super::tokens::{ChangeStep, Clearance, Confirmed, Permit, Stillness};
use super::{Interlock, watch};
use crate::board::signals::Identity;
use crate::language::ceilings;
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{MotorStep, Motors, StartedBy};
use std::rc::{Rc, Weak};
use std::time::Duration;

impl Interlock {
    /// The door of a change: seen at rest, every printed guard, and for one that can turn motors an answer of its own or
    /// nothing that could turn.
    ///
    /// # Errors
    /// What does not hold.
    pub fn enter_change(&mut self, change: ChangeStep<'_>, confirmed: Option<&Confirmed>) -> Result<Stillness, Fault> {
        self.may_change()?;
        self.all_hold(change.guards, confirmed)?;
        let age = confirmed.map(|confirmed| self.now.since(confirmed.answered));
        if age.is_some_and(|age| age > FIRST_START) {
            return Err(Fault::StaleAnswer);
        }
        if change.turns_motors && confirmed.is_none() && self.could_turn() && !self.said_out() {
            return Err(Fault::refused(
                "This change can turn motors, and nobody confirmed it.",
                "Take the battery out, or start again and answer its question.",
            ));
        }
        let permit = Rc::new(Permit {
            intent: change.intent,
            store: change.store,
            restart: change.restart,
            confirmed: confirmed.map(|confirmed| confirmed.answered),
            turns_motors: change.turns_motors,
        });
        self.permit = Rc::downgrade(&permit);
        Ok(Stillness(permit))
    }

    /// What every change asks, at its door and as each of its frames leaves.
    pub(super) fn may_change(&self) -> Result<(), Fault> {
        if !self.phase.takes_changes() || self.terminal_gone {
            return Err(Fault::refused("Nothing may be written now.", "Take the battery out, then start again."));
        }
        if self.writing_ended {
            return Err(Fault::refused(
                "The journal could not be written, so nothing is written to the board.",
                "Make room on the disk, then start again.",
            ));
        }
        if !self.guardian.at_rest() {
            return Err(Fault::refused("The guardian process has not let go of the wire yet.", "Wait a moment."));
        }
        self.surely_there()?;
        self.holds(&Guard::EncodingProved, None)?;
        guards::alone(&self.signals)?;
        guards::disarmed(&self.signals, self.now)?;
        if !self.rests() {
            return Err(Fault::refused(
                "The craft was not at rest for a second.",
                "Leave the switches alone; disarm if it is armed.",
            ));
        }
        if !self.could_turn() || self.said_out() {
            return Ok(());
        }
        let craft = self.facts()?;
        guards::outputs_at_rest(&self.signals, self.now)?;
        guards::throttle_low(&self.signals, craft, self.now)?;
        guards::arm_switch_off(&self.signals, craft, self.now)
    }

    /// Whether it is sure who is there, with a fresh flag.
    #[must_use]
    pub fn is_sure(&self) -> bool {
        self.surely_there().is_ok() && self.signals.flag(self.now).is_some()
    }

    /// The contact is live: it is sure who is there.
    pub(super) fn surely_there(&self) -> Result<(), Fault> {
        let refused = |why: String| Fault::refused(why, "Wait a moment; check the cable if it stays so.");
        let Some(contact) = &self.contact else {
            return Err(refused("Nobody is known on this wire.".to_owned()));
        };
        if !self.is_ours(&contact.identity) {
            let was = self.ours.as_ref().map_or_else(String::new, Identity::told);
            return Err(Fault::AnotherBoard { was, now: contact.identity.told() });
        }
        match contact.doubt() {
            // Over a slow link whatever is heard is too old.
            Some(doubt) => {
                self.is_quick().and_then(|()| Err(refused(format!("It is not sure who is on the wire: {doubt}."))))
            }
            None if contact.is_unproved(self.now) => {
                Err(refused("It is not sure yet who is on the wire after a silence.".to_owned()))
            }
            None => Ok(()),
        }
    }

    /// The door of a motor step, for one start of what was confirmed.
    ///
    /// # Errors
    /// A guard that does not hold, or a confirmation that is used up or too old.
    pub fn enter_drive(&mut self, ok: &mut Confirmed, guards: &[Guard], breaks: Breaks) -> Result<Clearance, Fault> {
        if ok.starts_left == 0 || (ok.first && self.now.since(ok.answered) > FIRST_START) {
            return Err(Fault::StaleAnswer);
        }
        self.may_drive(ok, guards, breaks)?;
        ok.starts_left -= 1;
        ok.first = false;
        let attitude = guards::attitude(&self.signals, self.now);
        self.happens(Happening::Invite)?;
        let step = Rc::new(ok.step.clone());
        self.clearance = Rc::downgrade(&step);
        self.start = Some(Start::enter(ok.step.clone(), self.now, attitude, breaks));
        self.write_warrant();
        self.step_on_props();
        Ok(Clearance(step))
    }

    /// Every guard of a motor step at this moment.
    ///
    /// # Errors
    /// The first that does not hold.
    pub fn may_drive(&self, ok: &Confirmed, guards: &[Guard], breaks: Breaks) -> Result<(), Fault> {
        let craft = self.facts()?;
        if self.arms_elsewhere && !breaks.arms_again {
            return Err(Fault::refused(
                "The last test of the arm switch failed: this craft arms, or does not, where nobody expects it.",
                "Put its binding or its switch right, then `test arm`, before anything else turns.",
            ));
        }
        if !self.phase.takes_starts() {
            return Err(Fault::refused("This run was stopped.", "Take the battery out, then start it again."));
        }
        self.can_stop()?;
        if ok.step.pulse > ceilings::PULSE {
            return Err(Fault::refused(
                format!("{} is above {}, which no step may exceed on the bench.", ok.step.pulse, ceilings::PULSE),
                "Choose a lower value.",
            ));
        }
        self.surely_there()?;
        for always in [
            Guard::PropsOff,
            Guard::Confirmed,
            Guard::EncodingProved,
            Guard::Disarmed,
            Guard::OutputsAtRest,
            Guard::ThrottleLow,
            Guard::ArmSwitchOff,
            Guard::Fresh,
        ] {
            self.holds(&always, Some(ok))?;
        }
        guards::alone(&self.signals)?;
        if !self.rests() {
            return Err(Fault::refused("The craft was not at rest for a second.", "Leave the switches alone."));
        }
        guards::driven_outputs(&self.signals, craft, self.now)?;
        guards::watchable(&self.signals, craft, self.now)?;
        self.all_hold(guards, Some(ok))
    }

    /// Somebody is there to stop it, at the terminal and beside this process; and a link that is slow, or a flag that
    /// comes rarely, lets no motor turn: what it says is too old to act on.
    fn can_stop(&self) -> Result<(), Fault> {
        if self.terminal_gone {
            return Err(Fault::refused(
                "The terminal was closed.",
                "Start the run again in a terminal with you at it.",
            ));
        }
        if !self.guardian.may_invite() {
            return Err(Fault::refused(
                "The guardian process, which stops the motors if this program dies, does not stand ready.",
                "Take the battery out, and start the run again.",
            ));
        }
        if self.round_trip().is_none() {
            return Err(Fault::refused("How slow this link is was not measured of late.", "Start the step again."));
        }
        self.is_quick()?;
        match self.signals.flag_interval() {
            Some(_) if self.signals.tells_often() => Ok(()),
            Some(interval) => Err(Fault::refused(
                format!("The board says only every {:.1} s whether it is armed.", interval.as_secs_f64()),
                "Without a quicker sign no motor is turned.",
            )),
            None => Err(Fault::refused(
                "How often the board says whether it is armed is not known yet.",
                "Wait a moment, then start the step again.",
            )),
        }
    }

    fn is_quick(&self) -> Result<(), Fault> {
        let Some(trip) = self.round_trip().filter(|trip| *trip / 2 > LAG_MOST) else { return Ok(()) };
        Err(Fault::refused(
            format!("This link is slow: an answer takes {} ms, and everything heard is old.", trip.as_millis()),
            "Take a quicker one, such as the board's own USB; no motor turns over this one.",
        ))
    }

    /// The door to working switches: with nothing that could turn, or with the question that names what could.
    ///
    /// # Errors
    /// A guard that does not hold.
    pub fn enter_switches(&mut self, guards: &[Guard], confirmed: Option<&Confirmed>) -> Result<(), Fault> {
        self.surely_there()?;
        self.all_hold(guards, confirmed)?;
        self.holds(&Guard::BatteryOut, None)?;
        self.holds(&Guard::Disarmed, None)?;
        if self.switches_could_start() {
            let Some(ok) = confirmed else {
                return Err(Fault::refused(
                    "A switch that is worked could arm this craft, and nobody confirmed it.",
                    "Start again, and answer its question.",
                ));
            };
            if self.now.since(ok.answered) > FIRST_START {
                return Err(Fault::StaleAnswer);
            }
            self.can_stop()?;
        }
        self.happens(Happening::WorkSwitches)?;
        self.start = confirmed.map(|ok| Start::enter(ok.step.clone(), self.now, None, Breaks::default()));
        self.write_warrant();
        Ok(())
    }

    /// Whether working a switch could start something: arm is bound, and the battery is out by a word alone or USB
    /// feeds the motors.
    #[must_use]
    pub fn switches_could_start(&self) -> bool {
        let arms = self.craft.as_ref().is_none_or(|craft| !craft.arm_bands.is_empty());
        arms && !watch::unpowered(&self.signals, self.craft.as_ref(), self.now)
    }

    /// What the question says of switches that are worked while something could start.
    #[must_use]
    pub fn switches_step(&self, purpose: &str) -> MotorStep {
        let told = self.signals.pack_sensor || self.craft.as_ref().is_some_and(|craft| craft.speeds);
        let look_at = if told {
            "the motors: none may turn; the battery stays out."
        } else {
            "the motors: none may turn. This board tells neither its pack nor speeds, so nothing else can see it."
        };
        MotorStep {
            purpose: purpose.to_owned(),
            pulse: ceilings::PULSE,
            longest: Duration::ZERO,
            motors: Motors::None,
            starts: 1,
            by: StartedBy::WorkedSwitch,
            look_at: look_at.to_owned(),
            radio_off: false,
        }
    }

    /// The switches are worked no more, and nothing that they started goes on.
    ///
    /// # Errors
    /// Not at rest yet, or a stop came.
    pub fn switches_rest(&mut self) -> Result<(), Fault> {
        if !self.rests() && !watch::unpowered(&self.signals, self.craft.as_ref(), self.now) {
            return Err(Fault::refused("The craft is not at rest yet.", "Put the switches to position 0."));
        }
        self.happens(Happening::SwitchesRest)?;
        self.start = None;
        Ok(())
    }

    /// The door of a plug-in, judged before it, all along, and after it.
    ///
    /// # Errors
    /// A guard that does not hold.
    pub fn may_plug_in(&self, guards: &[Guard]) -> Result<(), Fault> {
        self.surely_there()?;
        self.all_hold(&[Guard::PropsOff, Guard::Disarmed, Guard::ThrottleLow, Guard::ArmSwitchOff], None)?;
        self.all_hold(guards, None)
    }

    /// The operator is asked to plug the battery in; it may come armed out of it.
    ///
    /// # Errors
    /// As [`Interlock::may_plug_in`], or not at rest.
    pub fn invite_plug_in(&mut self, guards: &[Guard]) -> Result<(), Fault> {
        self.may_change()?;
        self.may_plug_in(guards)?;
        if let Some(contact) = &mut self.contact {
            contact.attested.battery_unsaid();
        }
        self.plug_in_invited = true;
        self.write_restart_warrant();
        Ok(())
    }

    /// The plug-in is over. `safe`: it went in, and everything that makes it safe held all along; else it is not known
    /// whether it went in all the same, and nothing is written until it is seen out.
    pub fn plug_in_ended(&mut self, safe: bool) {
        self.plug_in_invited = false;
        if !safe {
            let _stopped = self.happens(Happening::Latch);
        }
    }

    /// Every one of these guards.
    ///
    /// # Errors
    /// The first that does not hold.
    pub fn all_hold(&self, guards: &[Guard], confirmed: Option<&Confirmed>) -> Result<(), Fault> {
        guards.iter().try_for_each(|guard| self.holds(guard, confirmed))
    }

    /// One guard of a plan, at this moment.
    fn holds(&self, guard: &Guard, confirmed: Option<&Confirmed>) -> Result<(), Fault> {
        let (signals, now) = (&self.signals, self.now);
        match guard {
            Guard::PropsOff => {
                let stand = self.contact.as_ref().is_some_and(|contact| contact.attested.props_stand(now));
                held(stand, "Propellers off is not attested any more.", "It is asked before anything turns.")
            }
            Guard::Antenna => {
                let on = self.contact.as_ref().is_some_and(|contact| contact.attested.antenna_on);
                held(on, "The video antenna is not attested any more.", "Start again; it is asked for.")
            }
            Guard::Confirmed => {
                held(confirmed.is_some(), "This step was not confirmed.", "Start again, and answer its question.")
            }
            Guard::Disarmed => guards::disarmed(signals, now),
            Guard::ThrottleLow => guards::throttle_low(signals, self.facts()?, now).map(|_| ()),
            Guard::ArmSwitchOff => guards::arm_switch_off(signals, self.facts()?, now),
            Guard::OutputsAtRest => guards::outputs_at_rest(signals, now),
            Guard::Fresh => {
                guards::disarmed(signals, now)?;
                guards::fresh(signals, now)
            }
            Guard::Level(most) => guards::level(signals, *most, now).map(|_| ()),
            Guard::BatteryAtLeast(per_cell) => {
                guards::battery_at_least(signals, *per_cell, self.facts()?.cells, now).map(|_| ())
            }
            Guard::BatteryIn => {
                held(self.pack() != Pack::Out, "The battery is out.", "Plug it in when the run asks for it.")
            }
            Guard::BatteryOut => held(self.pack() == Pack::Out, "The battery is in.", "Take it out."),
            Guard::EncodingProved => held(
                self.encoding_proved,
                "How this board writes numbers is not known for sure.",
                "Read all settings first.",
            ),
        }
    }

    /// A step was taken: an attestation that stands goes on standing.
    pub fn step_on_props(&mut self) {
        let now = self.now;
        if let Some(contact) = self.contact.as_mut().filter(|contact| contact.attested.props_stand(now)) {
            contact.attested.props_off = Some(now);
        }
    }

    /// Whether a permit stands, and until when its confirmation is one.
    pub(super) fn permit(&self) -> Option<Rc<Permit>> {
        self.permit.upgrade()
    }

    pub(super) fn revoke(&mut self) {
        self.permit = Weak::new();
        self.clearance = Weak::new();
    }

    /// How long after its answer a confirmed change may still leave, frame by frame.
    pub(super) fn still_confirmed(&self, at: Time) -> bool {
        self.now.since(at) <= FIRST_START * 3
    }
}

fn held(holds: bool, guard: &str, hint: &str) -> Result<(), Fault> {
    if holds { Ok(()) } else { Err(Fault::refused(guard, hint)) }
}
