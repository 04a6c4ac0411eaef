//! The door of a motor step: what has to hold for each single start, and how long its answer stands.
//!
//! Must not be here: the other doors and the guards that a plan prints (see `doors`), what a start may do (see `watch`).

use super::Interlock;
use super::contact::LAG_MOST;
use super::guards;
use super::phase::Happening;
use super::signals::{STREAM_AGE, at_rest};
use super::start::{Breaks, INVITATION, Start, Tested};
use super::tokens::{Clearance, Confirmed};
use crate::language::ceilings;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use std::rc::Rc;
use std::time::Duration;

/// Starts of one answer that may be made again because a hand ended them early.
pub const VOIDS: u32 = 2;
/// So long a switch stays on after all came to rest. A board that tells its channels later than this, and nothing else, is
/// not seen through.
const SWITCH_LATE: Duration = Duration::from_secs(1);

impl Interlock {
    /// The door of a motor step, for one start of what was confirmed.
    ///
    /// # Errors
    /// A guard that does not hold, or a confirmation that is used up or too old.
    pub fn enter_drive(&mut self, ok: &mut Confirmed, guards: &[Guard], breaks: Breaks) -> Result<Clearance, Fault> {
        ok.is_of_a_start()?;
        if !self.stands(ok) {
            return Err(Fault::StaleAnswer);
        }
        self.may_drive(ok, guards, breaks)?;
        ok.starts_left -= 1;
        ok.first = false;
        self.series = Some((ok.answered, None));
        let attitude = guards::attitude(&self.signals, self.now);
        self.happens(Happening::Invite)?;
        let step = Rc::new(ok.step.clone());
        self.clearance = Rc::downgrade(&step);
        self.start = Some(Start::enter(ok.step.clone(), self.now, attitude, breaks));
        self.write_warrant();
        self.step_on_props();
        Ok(Clearance(step))
    }

    /// Whether a start of this may begin as far as its answer goes: the first within its time, and each further one
    /// within an invitation's time from when the craft was seen at rest after the one before it.
    #[must_use]
    pub fn stands(&self, ok: &Confirmed) -> bool {
        if ok.first {
            return ok.is_young(self.now);
        }
        let rested = self.series.and_then(|(answered, rested)| rested.filter(|_| answered == ok.answered));
        ok.starts_left > 0 && rested.is_some_and(|rested| self.now.since(rested) <= INVITATION)
    }

    /// A start that the operator's hand ended early, or that the board ended by itself, counts for nothing and is made
    /// again under its answer: so often at most, and only once it was seen at rest.
    ///
    /// # Errors
    /// Not at rest after it, or given back too often: the word is to be typed anew.
    pub fn start_voided(&self, ok: &mut Confirmed) -> Result<(), Fault> {
        let rested = self.series.is_some_and(|(answered, rested)| answered == ok.answered && rested.is_some());
        if !rested || ok.voids == VOIDS {
            return Err(Fault::StaleAnswer);
        }
        ok.voids += 1;
        ok.starts_left += 1;
        Ok(())
    }

    /// Every guard of a motor step at this moment.
    ///
    /// # Errors
    /// The first that does not hold.
    pub fn may_drive(&self, ok: &Confirmed, guards: &[Guard], breaks: Breaks) -> Result<(), Fault> {
        let craft = self.facts()?;
        self.may_turn(Tested::of(&ok.step))?;
        if !self.phase.takes_starts() {
            return Err(Fault::refused("This run was stopped.", "Take the battery out, then start it again."));
        }
        self.can_stop()?;
        if breaks.radio && !self.obeys_disarm() {
            return Err(Fault::refused(
                "No armed craft was seen to obey a disarm over the link.",
                "Without that its radio is not switched off: nothing else could stop it then.",
            ));
        }
        if ok.step.cable_out() && !self.ends_runs() {
            return Err(Fault::refused(
                "No motor that was run by command was seen to stop by itself.",
                "Without that its cable stays in: nothing could stop it once the cable is out.",
            ));
        }
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

    /// Whether the craft was seen to obey a disarm while its switch kept it armed.
    #[must_use]
    pub fn obeys_disarm(&self) -> bool {
        self.contact.as_ref().is_some_and(|contact| contact.obeys_disarm)
    }

    /// Whether a motor that was run by command was seen, in this contact, to come to rest with nothing sent for it.
    fn ends_runs(&self) -> bool {
        self.contact.as_ref().is_some_and(|contact| contact.ends_runs)
    }

    /// A start came to rest: of a run by command with nothing sent, that it ends by itself was seen. Outputs that go on for
    /// longer than its time are stopped before that.
    pub(super) fn note_ended(&mut self, start: &Start) {
        let raised = self.signals.outputs.since(start.entered).any(|outputs| !at_rest(&outputs.value));
        if let Some(contact) = self.contact.as_mut().filter(|_| start.commanded_until.is_some()) {
            contact.ends_runs = raised && !start.helped;
        }
    }

    /// A disarm leaves.
    pub(super) fn disarms(&mut self) {
        let now = self.now;
        self.start.iter_mut().for_each(|start| start.helped = true);
        let driven = self.signals.last_at_rest() == Some(false);
        let on = driven && self.signals.channels.last().is_some_and(|last| self.is_switch_on(&last.value));
        let armed = |start: &&mut Start| start.armed_at.is_some() && start.disarmed_at.is_none();
        if let Some(start) = self.start.as_mut().filter(armed).filter(|start| on && start.disarm_left.is_none()) {
            start.disarm_left = Some(now);
            // Each is shown by itself: what obeyed once may not obey again.
            self.contact.iter_mut().for_each(|contact| contact.obeys_disarm = false);
        }
    }

    /// A craft came to rest by a disarm only where it was driven as that left, and its switch on over a radio that was heard
    /// from before until well after: a hand at either does the same, and so does a board by itself.
    pub(super) fn note_obeyed(&mut self) {
        let Some(start) = &self.start else { return };
        let (Some(left), Some(off)) = (start.disarm_left, start.disarmed_at) else { return };
        let channels = &self.signals.channels;
        let rests = self.signals.last_at_rest() == Some(true);
        let lost = self.signals.power.since(left).any(|power| power.value.receiver == Some(false));
        let heard = !lost && self.now >= off + SWITCH_LATE && channels.fresh(self.now, STREAM_AGE).is_some();
        let mut all = channels.by(left).into_iter().chain(channels.since(left));
        let obeyed = rests && heard && all.all(|sample| self.is_switch_on(&sample.value));
        if let Some(contact) = self.contact.as_mut().filter(|_| obeyed) {
            contact.obeys_disarm = true;
        }
    }

    /// Whether no test of what stops this craft failed on which this builds: one that failed may be made again.
    ///
    /// # Errors
    /// The test that failed.
    pub fn may_turn(&self, test: Option<Tested>) -> Result<(), Fault> {
        let failed = self.failed.iter().find(|failed| test.is_none_or(|test| **failed < test));
        failed.map_or(Ok(()), |failed| Err(keeps_still(*failed)))
    }

    /// Somebody is there to stop it, at the terminal and beside this process; and a link that is slow, or a flag that
    /// comes rarely, lets no motor turn: what it says is too old to act on.
    pub(super) fn can_stop(&self) -> Result<(), Fault> {
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
        if self.another_hears() {
            let hint = "Take every other craft off this link, and wait ten seconds.";
            return Err(Fault::refused("A stop could not be sent now: another craft was heard on this link.", hint));
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

    pub(super) fn is_quick(&self) -> Result<(), Fault> {
        let Some(trip) = self.round_trip().filter(|trip| *trip / 2 > LAG_MOST) else { return Ok(()) };
        Err(Fault::refused(
            format!("This link is slow: an answer takes {} ms, and everything heard is old.", trip.as_millis()),
            "Take a quicker one, such as the board's own USB; no motor turns over this one.",
        ))
    }
}

/// Why nothing turns after a test that failed.
fn keeps_still(failed: Tested) -> Fault {
    let (why, hint) = match failed {
        Tested::Arm => (
            "The last test of the arm switch was not passed: where this craft arms, nobody knows.",
            "Put its binding or its switch right, then `test arm`, before anything else turns.",
        ),
        Tested::Cut => (
            "The last test of the cut was not passed: its switch was not seen to stop this craft in time.",
            "Put right what keeps it, then `test cut`, before anything else turns.",
        ),
        Tested::Failsafe => (
            "The last test of the failsafe was not passed: this craft was not seen to stop in time when the radio went off.",
            "Put the failsafe right, `keep`, then `test failsafe`, before anything else turns.",
        ),
    };
    Fault::refused(why, hint)
}
