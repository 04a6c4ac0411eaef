//! A power cycle of a board that its battery alone feeds: it goes dark with it, and its wire may go too.
//!
//! Promises: what was said and measured of the craft ends as it goes dark; who comes back is asked who it is, and is
//! worked on only after what makes a plug-in safe was measured, within 3 s of the first sign of it. Must not be here: a
//! battery that goes out of a board that USB feeds (nothing of this happens there).

use super::restart::{Announced, DARK_FOR};
use super::signals::Pack;
use super::{Happening, Interlock};
use crate::board::signals::Identity;
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use std::time::Duration;

/// On a wire that stays, a board that is not heard for so long is dark.
const DARK: Duration = Duration::from_secs(2);
/// What a dark board could not show is measured within this time, or the battery goes out at once.
const MEASURED_WITHIN: Duration = Duration::from_secs(3);

impl Interlock {
    /// The operator is about to take the battery out, and to put it in again.
    ///
    /// # Errors
    /// Not now, or nobody is known here.
    pub fn power_cycle_begins(&mut self) -> Result<(), Fault> {
        self.surely_there()?;
        let Some(of) = self.who().cloned() else { return Err(not_dark()) };
        self.happens(Happening::Restart)?;
        self.write_restart_warrant();
        let clock = self.signals.has_clock();
        let announced = Announced::new(&of, self.contact.as_ref(), self.sheet.as_deref(), clock, self.now);
        self.restart = Some(announced.with_its_power());
        Ok(())
    }

    /// Whether the board went dark with its battery, as was announced.
    #[must_use]
    pub fn is_dark(&self) -> bool {
        let cycle = self.restart.as_ref().is_some_and(|announced| announced.cycle);
        cycle && self.contact.as_ref().is_none_or(|contact| self.now.since(contact.heard) > DARK)
    }

    /// The operator is asked to plug the battery in, with everything off by a word alone; it may come armed out of it.
    /// Gives whose board it is to be, and until when.
    ///
    /// # Errors
    /// It is not dark.
    pub fn invite_dark_plug_in(&mut self) -> Result<(Identity, Time), Fault> {
        let (dark, now) = (self.is_dark() && !self.terminal_gone, self.now);
        let Some(announced) = self.restart.as_mut().filter(|_| dark) else { return Err(not_dark()) };
        (announced.invited, announced.until) = (true, now + DARK_FOR);
        let expected = (announced.of.clone(), announced.until);
        if let Some(warrant) = &mut self.warrant {
            warrant.is_announced(now);
        }
        self.plug_in_invited = true;
        self.expects_anew();
        Ok(expected)
    }

    /// By when everything has to be measured; `None` before anything shows that it is powered again.
    #[must_use]
    pub fn measured_by(&self) -> Option<Time> {
        self.restart.as_ref().and_then(|announced| announced.back_at).map(|at| at + MEASURED_WITHIN)
    }

    /// What was said of the switches before a dark plug-in, as it is measured now. What was only silent was not dark, and
    /// a board that tells its pack shows it.
    ///
    /// # Errors
    /// What does not hold, or is not known yet.
    pub fn may_stay_in(&self, guards: &[Guard]) -> Result<(), Fault> {
        self.surely_there()?;
        let unseen = |guard| Fault::refused(guard, "Start the step again, and take the battery out where it says so.");
        if !self.restart_is_seen() {
            return Err(unseen("Nothing shows that the board lost its power: it was only silent for a while."));
        }
        let told = self.signals.power.last().is_some_and(|power| power.value.millivolts.is_some());
        if told && self.signals.pack(self.now) != Pack::In {
            return Err(unseen("The board is back, and its battery was not seen to be in."));
        }
        self.all_hold(&[Guard::Disarmed, Guard::ThrottleLow, Guard::ArmSwitchOff, Guard::OutputsAtRest], None)?;
        // What only a word tells is asked anew of the craft that is there now, before anything turns.
        let mut measured = guards.iter().filter(|guard| !matches!(guard, Guard::PropsOff | Guard::Antenna));
        measured.try_for_each(|guard| self.holds(guard, None))
    }
}

fn not_dark() -> Fault {
    Fault::refused("The board is not dark, or nobody is there.", "Start the step again.")
}
