//! One door a step: what the dry run prints is judged here, and yields what lets a request leave.
//!
//! Promises: every guard of a plan is an arm of one match, so that none can be printed that nobody enforces. Must not be
//! here: waiting and asking (the operations do both before they come to a door).

use super::phase::{Happening, Phase};
use super::signals::Pack;
use super::start::{Breaks, FIRST_START, Start};
use super::tokens::{ChangeStep, Confirmed, Permit, Stillness};
use super::watch::{self, View};
use super::{Interlock, UNPROVED_WORDS, guards};
use crate::board::signals::Identity;
use crate::language::ceilings;
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{BoardChange, MotorStep, Motors, StartedBy};
use std::rc::{Rc, Weak};
use std::time::Duration;

impl Interlock {
    /// The door of a change: seen at rest, every printed guard, and for one that can turn motors an answer of its own or
    /// nothing that could turn.
    ///
    /// # Errors
    /// What does not hold.
    pub fn enter_change(
        &mut self,
        step: ChangeStep<'_>,
        mut confirmed: Option<&mut Confirmed>,
    ) -> Result<Stillness, Fault> {
        let ChangeStep { guards, change, turns_motors } = step;
        self.may_change()?;
        self.all_hold(guards, confirmed.as_deref())?;
        if let Some(ok) = &confirmed {
            ok.covers(&change, self.now)?;
        }
        if turns_motors && confirmed.is_none() && self.could_turn() && !self.unfed_by_word() {
            return Err(Fault::refused(
                "This change can turn motors, and nobody confirmed it.",
                "Take the battery out, or start again and answer its question.",
            ));
        }
        if !change.is_nothing() {
            // What was shown of a value says nothing of another.
            self.series = None;
        }
        if let Some(ok) = &mut confirmed {
            ok.uses(&change);
        }
        let permit = Rc::new(Permit { change, confirmed: confirmed.map(|ok| ok.answered), turns_motors });
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
        guards::sure_of_one(&self.signals)?;
        guards::disarmed(&self.signals, self.now)?;
        if !self.rests() {
            return Err(Fault::refused(
                "The craft was not at rest for a second.",
                "Leave the switches alone; disarm if it is armed.",
            ));
        }
        if !self.could_turn() || self.unfed_by_word() {
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

    /// Whose frames they are has to be answered yet. Who only looks asks nobody, and waits for no answer.
    #[must_use]
    pub fn is_unproved(&self) -> bool {
        !self.looks_only && self.contact.as_ref().is_some_and(|contact| contact.is_unproved(self.now))
    }

    /// What frames of nobody knows whom say is acted on once it is known whose they are; what they threaten for long is said.
    pub(super) fn waits_for_who_it_is(&self) -> bool {
        let Some(contact) = self.contact.as_ref().filter(|contact| contact.is_unproved(self.now)) else { return false };
        match self.phase {
            Phase::Still | Phase::Restarting => contact.unproved_for(self.now) <= UNPROVED_WORDS,
            Phase::Storing | Phase::Latched => true,
            Phase::NoContact
            | Phase::Looking
            | Phase::SwitchesWorked
            | Phase::Invited
            | Phase::Turning
            | Phase::Stopping => false,
        }
    }

    /// In an announced restart, what is seen first and has to be stopped: whose it is, is asked before anything follows.
    pub(super) fn asks_whose_it_is(&mut self) -> bool {
        let Some((contact, announced)) = self.contact.as_ref().zip(self.restart.as_mut()) else { return false };
        let asks = announced.asks_whose(contact);
        if asks {
            self.has_to_answer_anew();
        }
        asks
    }

    /// The contact is live: it is sure who is there.
    ///
    /// # Errors
    /// Why it is not.
    pub fn surely_there(&self) -> Result<(), Fault> {
        let refused = |why: String| Fault::refused(why, "Wait a moment; check the cable if it stays so.");
        let Some(contact) = &self.contact else {
            return Err(refused("Nobody is known on this wire.".to_owned()));
        };
        if !self.is_session_craft(&contact.identity) {
            let was = self.session_craft.as_ref().map_or_else(String::new, Identity::told);
            return Err(Fault::AnotherBoard { was, now: contact.identity.told() });
        }
        match contact.doubt() {
            // Over a slow link whatever is heard is too old.
            Some(doubt) => {
                self.is_quick().and_then(|()| Err(refused(format!("It is not sure who is on the wire: {doubt}."))))
            }
            None if contact.is_unproved(self.now) && contact.is_unique() => {
                Err(refused("It is not sure yet who is on the wire.".to_owned()))
            }
            None if contact.is_unproved(self.now) => Err(Fault::refused(
                "It is not sure yet who is on the wire, and the id of this board tells it from no other.",
                "Wait a moment; if it stays so, unplug the board and plug it in again.",
            )),
            None if self.signals.pack_is_awaited(self.now) => {
                Err(refused("The board has not said of late whether its battery is in.".to_owned()))
            }
            None => Ok(()),
        }
    }

    /// The door to working switches: with nothing that could turn, or with the question that names what could.
    ///
    /// # Errors
    /// A guard that does not hold.
    pub fn enter_switches(&mut self, guards: &[Guard], mut confirmed: Option<&mut Confirmed>) -> Result<(), Fault> {
        self.surely_there()?;
        self.all_hold(guards, confirmed.as_deref())?;
        self.holds(&Guard::BatteryOut, None)?;
        self.holds(&Guard::Disarmed, None)?;
        if let Some(ok) = &confirmed {
            ok.is_of_switches(self.now)?;
        }
        if self.switches_could_start() {
            if confirmed.is_none() {
                return Err(Fault::refused(
                    "A switch that is worked could arm this craft, and nobody confirmed it.",
                    "Start again, and answer its question.",
                ));
            }
            self.can_stop()?;
        }
        self.happens(Happening::WorkSwitches)?;
        if let Some(ok) = &mut confirmed {
            ok.starts_left = 0;
        }
        self.start = confirmed.map(|ok| Start::enter(ok.step.clone(), self.now, None, Breaks::default()));
        self.write_warrant();
        Ok(())
    }

    /// Whether working a switch or a stick could start something: arm is bound, motors sound by a switch, or sticks arm, and
    /// the battery is out by a word alone or USB feeds the motors.
    #[must_use]
    pub fn switches_could_start(&self) -> bool {
        let bound = |craft: &super::craft::Facts| !craft.arm_bands.is_empty() || !craft.sounding_bands.is_empty();
        self.craft.as_ref().is_none_or(|craft| craft.sticks_arm || bound(craft))
            && !watch::unpowered(&self.signals, self.craft.as_ref(), self.now)
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
            on_usb: self.craft.as_ref().is_none_or(|craft| craft.usb_feeds_motors),
            starts: 1,
            by: StartedBy::WorkedSwitch,
            look_at: look_at.to_owned(),
            test: None,
            change: BoardChange::default(),
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

    /// The door of a step that changes nothing and turns nothing: what is printed of it holds as for any other.
    ///
    /// # Errors
    /// A guard that does not hold.
    pub fn enter_look(&self, guards: &[Guard]) -> Result<(), Fault> {
        if guards.is_empty() {
            return Ok(());
        }
        self.surely_there()?;
        self.all_hold(guards, None)
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
    /// whether it went in all the same, and nothing is written until it is seen out. What could turn by then is stopped;
    /// measured out as yet, it is stopped as the battery goes in.
    pub fn plug_in_ended(&mut self, safe: bool) {
        self.plug_in_invited = false;
        if safe {
            return;
        }
        let _stopped = self.happens(Happening::Latch);
        let (signals, craft, now) = (&self.signals, self.craft.as_ref(), self.now);
        let turns = self.contact.as_ref().and_then(|contact| View { signals, craft, contact, now }.still().err());
        if let Some(reason) = turns {
            self.stop(format!("the battery was to go in, and {reason}"));
            self.stop.iter_mut().for_each(|stop| stop.by_hand = true);
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
    pub(super) fn holds(&self, guard: &Guard, confirmed: Option<&Confirmed>) -> Result<(), Fault> {
        let (signals, now) = (&self.signals, self.now);
        match guard {
            Guard::PropsOff => {
                held(self.props_off(), "Propellers off is not attested any more.", "It is asked before anything turns.")
            }
            Guard::Antenna => {
                held(self.antenna_on(), "The video antenna is not attested any more.", "Start again; it is asked for.")
            }
            Guard::Confirmed => {
                held(confirmed.is_some(), "This step was not confirmed.", "Start again, and answer its question.")
            }
            Guard::Disarmed => guards::disarmed(signals, now),
            Guard::ThrottleLow => guards::throttle_low(signals, self.facts()?, now).map(|_| ()),
            Guard::ArmSwitchOff => {
                guards::arm_switch_off(signals, self.facts()?, now)?;
                guards::motors_silent(signals, self.facts()?, now)
            }
            Guard::OutputsAtRest => guards::outputs_at_rest(signals, now),
            Guard::Fresh => {
                guards::disarmed(signals, now)?;
                guards::fresh(signals, now)
            }
            Guard::Level(most) => guards::level(signals, *most, now).map(|_| ()),
            Guard::BatteryAtLeast(per_cell, cells) => {
                guards::battery_at_least(signals, *per_cell, *cells, now).map(|_| ())
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
        self.series = None;
    }

    /// How long after its answer a confirmed change may still leave, frame by frame.
    pub(super) fn still_confirmed(&self, at: Time) -> bool {
        self.now.since(at) <= FIRST_START * 3
    }
}

fn held(holds: bool, guard: &str, hint: &str) -> Result<(), Fault> {
    if holds { Ok(()) } else { Err(Fault::refused(guard, hint)) }
}
