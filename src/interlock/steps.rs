//! What is taken in of a craft, what the operator says of it, and the steps under way: stores, restarts, starts.
//!
//! Must not be here: what has to hold before a step begins (see `doors`).

use super::authority::Warrant;
use super::contact::Attested;
use super::craft::{Facts, MissingCapabilities};
use super::guards;
use super::phase::{Happening, Phase};
use super::prompt::{ANTENNA_ON, BATTERY_IN, BATTERY_OUT, COOL, PROPS_OFF, TypedWord};
use super::restart::Announced;
use super::signals::Pack;
use super::start::Tested;
use super::tokens::{Clearance, Stillness};
use super::{Interlock, RestartSeen};
use crate::board::binding::BoundNow;
use crate::board::sheet::Sheet;
use crate::board::signals::Identity;
use crate::board::value::SettingName;
use crate::seam::fault::Fault;
use crate::seam::ui::About;
use std::rc::{Rc, Weak};
use std::time::Duration;

/// What is taken in of a craft, and what the operator says of it.
impl Interlock {
    /// The board on the wire is the one that this session is about, with what its sheet and settings say.
    pub fn take_in(&mut self, identity: &Identity, sheet: &Rc<Sheet>, craft: Facts) {
        self.session_craft = Some(identity.clone());
        self.signals.lacks = MissingCapabilities::of(sheet);
        self.craft = Some(craft);
        self.bands_in_writing.clear();
        if self.sheet.as_ref().is_none_or(|known| known.hash != sheet.hash) {
            self.sheet = Some(sheet.clone());
        }
    }

    /// These arm bands are about to be written: until what stands is taken in they count as the board's where one stops.
    pub fn writes_arm_bands(&mut self, bands: Vec<BoundNow>) {
        self.bands_in_writing = bands;
    }

    /// Work may begin, or go on after a stop: the craft was seen at rest, and after a stop without its battery.
    ///
    /// # Errors
    /// What does not hold.
    pub fn may_work(&mut self) -> Result<(), Fault> {
        self.surely_there()?;
        if !self.rests() {
            return Err(Fault::refused(
                "The board was not seen disarmed with its motor outputs at rest.",
                "Check that it sends its armed flag and its motor outputs on this link.",
            ));
        }
        if self.phase == Phase::Latched && self.pack() != Pack::Out {
            return Err(Fault::refused("The battery went in meanwhile.", "Take it out."));
        }
        if self.phase == Phase::Restarting {
            self.restart = None;
        }
        self.happens(Happening::SeenAtRest)
    }

    /// What was typed of this craft; a word from before it was met says nothing of it.
    ///
    /// *Battery out* satisfies the guard that is printed so, and no other. Where it was in, or may have been since a stop, it
    /// was taken out now: what was typed of the propellers is asked anew. *Battery in*, where nothing measures it, switches
    /// nothing off: a craft that is not measured unpowered counts as powered all along.
    pub fn attest(&mut self, typed: TypedWord) {
        let TypedWord { about, word, at } = typed;
        if self.contact.as_ref().is_some_and(|contact| at < contact.began) {
            return;
        }
        let is = |asked: &str| word == asked;
        match about {
            About::Props if is(PROPS_OFF) => self.attested(|attested| attested.props_off = Some(at)),
            About::Antenna if is(ANTENNA_ON) => self.attested(|attested| attested.antenna_on = true),
            About::BatteryOut if is(BATTERY_OUT) => {
                let was_in = self.pack == Pack::In || self.pack() == Pack::In || self.phase == Phase::Latched;
                self.attested(|attested| {
                    (attested.battery_out, attested.battery_in) = (true, false);
                    attested.props_off = attested.props_off.filter(|_| !was_in);
                });
            }
            About::BatteryIn if is(BATTERY_IN) => self.attested(|attested| attested.battery_in = true),
            About::Heat if is(COOL) => self.heat.cooled(),
            // Another word than was asked for, or one that says nothing of the craft that is kept here.
            About::Props
            | About::Antenna
            | About::BatteryOut
            | About::BatteryIn
            | About::Heat
            | About::Motor(_)
            | About::Attest(_)
            | About::Pause(_)
            | About::Smooth { .. }
            | About::Turned(_)
            | About::Told(_)
            | About::Rewire(_)
            | About::Buzzer
            | About::Step
            | About::Again
            | About::PlugIn
            | About::Name
            | About::Level
            | About::Meter
            | About::Choice => {}
        }
    }

    pub(super) fn attested(&mut self, said: impl FnOnce(&mut Attested)) {
        if let Some(contact) = &mut self.contact {
            said(&mut contact.attested);
        }
    }

    /// How a test of what stops this craft ended: after one that failed nothing turns but it, and those that it builds on.
    pub fn tested(&mut self, test: Tested, shown: bool) {
        if shown {
            self.failed.remove(&test);
        } else {
            self.failed.insert(test);
        }
    }

    /// All settings are to be read anew.
    pub fn list_begins(&mut self) {
        self.signals.forget_twice();
    }

    /// A setting is to be read anew.
    pub fn forget_setting(&mut self, name: &SettingName) {
        self.signals.forget_setting(self.now, name);
    }

    /// A failed journal ends all writing.
    pub fn end_writing(&mut self) {
        self.writing_ended = true;
    }

    /// The terminal was closed: nobody is there to answer or to stop anything.
    pub fn terminal_is_gone(&mut self) {
        self.terminal_gone = true;
    }

    /// A script ended in a fault: nothing resumes by itself.
    pub fn latch(&mut self) {
        if self.phase == Phase::Latched {
            return;
        }
        if matches!(self.phase, Phase::Invited | Phase::Turning) {
            self.stop("what was under way broke off");
            return;
        }
        let _as_the_table_says = self.happens(Happening::Latch);
        self.revoke();
        self.restart = None;
        self.plug_in_invited = false;
        // Who saw the battery out before says so again.
        self.attested(Attested::battery_unsaid);
    }
}

/// Stores, restarts and starts under way.
impl Interlock {
    /// A store leaves; silence is expected meanwhile.
    ///
    /// # Errors
    /// Nothing may be changed now.
    pub fn store_begins(&mut self, still: &Stillness) -> Result<(), Fault> {
        still.permits(|permit| permit.change.store)?;
        self.happens(Happening::Store)
    }

    /// It was answered, or given up.
    pub fn store_ended(&mut self) {
        let _stopped = self.happens(Happening::Stored);
    }

    /// A restart leaves: for so long its wire may go and come.
    ///
    /// # Errors
    /// Nothing may be changed now.
    pub fn restart_begins(&mut self, still: &Stillness, of: &Identity) -> Result<(), Fault> {
        still.permits(|permit| permit.change.restart)?;
        self.happens(Happening::Restart)?;
        self.write_restart_warrant();
        let clock = self.signals.has_clock();
        self.restart = Some(Announced::new(of, self.contact.as_ref(), self.sheet.as_deref(), clock, self.now));
        Ok(())
    }

    /// Whoever answers next is asked who it is: a restart was announced, and what is on a wire that stayed may be anybody.
    pub fn expects_anew(&mut self) {
        self.contact = None;
        self.asked.clear();
        self.signals.forget_but_clocks();
    }

    /// Whether something showed by now that the board restarted.
    #[must_use]
    pub fn restart_is_seen(&self) -> bool {
        self.restart.as_ref().is_some_and(|announced| announced.shown().is_some())
    }

    /// Nothing more is expected of the restart; gives what showed it.
    pub fn restart_ends(&mut self) -> Option<RestartSeen> {
        self.restart.take().and_then(|announced| announced.shown())
    }

    /// A motor that was confirmed is run by command, for so long.
    pub fn runs_motor(&mut self, _clearance: &mut Clearance, lease: Duration) {
        let until = self.now + lease;
        if let Some(start) = &mut self.start {
            start.commanded_until = Some(until);
        }
        let _stopped = self.happens(Happening::Begin);
    }

    /// Invited anew within one start.
    pub fn invites_again(&mut self, _clearance: &mut Clearance) {
        let now = self.now;
        if let Some(start) = &mut self.start {
            start.invite_again(now);
        }
    }

    /// The start is over: at rest, as seen, for long enough. Gives whether it was never taken up.
    ///
    /// # Errors
    /// Not at rest yet, or a stop came.
    pub fn start_ends(&mut self) -> Result<bool, Fault> {
        if !self.rests() {
            return Err(Fault::refused("The motors are not at rest yet.", "Disarm; keep hands clear."));
        }
        guards::motors_silent(&self.signals, self.facts()?, self.now)?;
        self.happens(Happening::ComeToRest)?;
        self.clearance = Weak::new();
        self.series = self.series.map(|(answered, _)| (answered, Some(self.now)));
        let start = self.start.take();
        if let Some(start) = &start {
            self.note_ended(start);
        }
        Ok(start.is_some_and(|start| !start.has_begun()))
    }

    pub(super) fn write_warrant(&mut self) {
        if let Some(contact) = &mut self.contact {
            contact.started = true;
            if let Some(warrant) = &mut self.warrant {
                warrant.is_started();
            }
            self.warrant = Warrant::for_a_start(contact).or(self.warrant.take());
            contact.is_disturbed(self.now);
        }
    }

    pub(super) fn write_restart_warrant(&mut self) {
        if let Some(contact) = &self.contact {
            self.warrant = Warrant::for_a_restart(contact, self.now).or(self.warrant.take());
        }
    }
}
