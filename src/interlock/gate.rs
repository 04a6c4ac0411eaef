//! The gate: each frame is judged as it leaves, by what it does now.
//!
//! A first sending, a repeat, a line that waited behind a poll: all come here, and what is not known does not leave. A
//! frame that changes or drives anything carries the moment by which it must have begun to leave, so that none leaves
//! late after a halt of this program. Every dangerous number is bounded here too, whatever the layers above promised.
//! Must not be here: how a frame is told from another (the links').

use super::authority::Authority;
use super::phase::Phase;
use super::signals::STREAM_AGE;
use super::{Interlock, guards};
use crate::board::binding;
use crate::board::convert::idle_pulse;
use crate::board::sheet::Sheet;
use crate::board::signals::Outgoing;
use crate::board::value::{Number, SettingName};
use crate::language::ceilings;
use crate::language::recipe::Function;
use crate::language::setting_word::SettingWord;
use crate::measure::time::Time;
use std::time::Duration;

/// What changes or drives anything begins to leave within this time, or never.
const LEAVES_WITHIN: Duration = Duration::from_millis(100);
/// Channels that are older are not late but gone.
const CHANNELS_LATE: Duration = Duration::from_secs(2);

/// What becomes of a frame.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FrameVerdict {
    /// It leaves, if it can begin to by then.
    Leaves(Time),
    /// It does not leave now; whoever sent it may send it again.
    Waits,
    /// It does not leave, and what it belongs to ends with this reason.
    Refused(String),
}

impl Interlock {
    /// Judges one frame at this moment.
    #[must_use]
    pub fn judge_frame(&self, frame: &Outgoing) -> FrameVerdict {
        let soon = self.now + LEAVES_WITHIN;
        let leaves =
            |holds: Result<(), String>| holds.map_or_else(FrameVerdict::Refused, |()| FrameVerdict::Leaves(soon));
        match frame {
            Outgoing::Identify | Outgoing::Presence => FrameVerdict::Leaves(Time::NEVER),
            Outgoing::Heartbeat if self.signs_of_life => FrameVerdict::Leaves(Time::NEVER),
            Outgoing::Ask if self.may_ask() => FrameVerdict::Leaves(Time::NEVER),
            Outgoing::Heartbeat | Outgoing::Ask => FrameVerdict::Waits,
            Outgoing::Disarm { force } => {
                let needed = if *force { Authority::Forced } else { Authority::Disarm };
                let may = self.authority() >= needed;
                let why = "this craft was not seen at rest, or another may hear it, so no stop is sent";
                if may { FrameVerdict::Leaves(Time::NEVER) } else { FrameVerdict::Refused(why.to_owned()) }
            }
            _ if self.looks_only => FrameVerdict::Refused("this command only looks".to_owned()),
            Outgoing::Write { name, value } => match self.may_write(name, *value) {
                Err(why) => FrameVerdict::Refused(why),
                // Heard a moment ago, and not since: where the switch stands is known again soon.
                Ok(_) if self.misses_channels(name) => FrameVerdict::Waits,
                Ok(value) => self.change(self.band_stays_clear(name, value)),
            },
            Outgoing::Store => self.change(self.permits(|permit| permit.change.store, "a store")),
            // One that is seen already is not asked for again, however late the answer to it is.
            Outgoing::Restart if self.restart_is_seen() => FrameVerdict::Waits,
            Outgoing::Restart => self.change(self.permits(|permit| permit.change.restart, "a restart")),
            Outgoing::Motor { motor, pulse, lease } => leaves(self.may_run(*motor, *pulse, *lease)),
            Outgoing::Arm => FrameVerdict::Refused("this program arms no craft".to_owned()),
            Outgoing::Unknown => FrameVerdict::Refused("the outgoing gate does not know this frame".to_owned()),
        }
    }

    /// A change that is doubtful now may be certain in a moment; what is not allowed never is.
    fn change(&self, holds: Result<(), String>) -> FrameVerdict {
        if let Err(why) = holds {
            return FrameVerdict::Refused(why);
        }
        // Whether it is at rest is not known for a moment; that it is not, is refused below.
        let unsure = !self.guardian.at_rest()
            || self.surely_there().is_err()
            || self.signals.flag(self.now).is_none()
            || !self.rests();
        if self.contact.is_some() && unsure && guards::moves(&self.signals, self.now).is_none() {
            return FrameVerdict::Waits;
        }
        match self.may_change() {
            Ok(()) => FrameVerdict::Leaves(self.now + LEAVES_WITHIN),
            Err(fault) => FrameVerdict::Refused(fault.to_string()),
        }
    }

    fn permits(&self, of: impl Fn(&super::tokens::Permit) -> bool, what: &str) -> Result<(), String> {
        let Some(permit) = self.permit() else { return Err("no door was passed for this change".to_owned()) };
        if !of(&permit) {
            return Err(format!("the step that is under way is none that may send {what}"));
        }
        match permit.confirmed {
            Some(at) if !self.still_confirmed(at) => {
                Err("the answer came too long before this change leaves".to_owned())
            }
            None if permit.turns_motors && self.could_turn() && !self.unfed_by_word() => {
                Err("the battery is not out any more, and this change can turn motors".to_owned())
            }
            _ => Ok(()),
        }
    }

    /// The value, if the step that is under way may write it.
    fn may_write(&self, name: &SettingName, value: Option<Number>) -> Result<Number, String> {
        let Some(value) = value else { return Err(format!("what {name} would be written as cannot be told")) };
        self.permits(
            |permit| permit.change.writes.iter().any(|(wanted, to)| wanted == name && to.same(value)),
            &format!("{name} = {value}"),
        )?;
        self.within_ceilings(name, value)?;
        Ok(value)
    }

    fn within_ceilings(&self, name: &SettingName, value: Number) -> Result<(), String> {
        if !value.real().is_finite() {
            return Err(format!("{name} = {value} is no number that a board should hold"));
        }
        let idle = self.sheet.as_ref().and_then(|sheet| sheet.entry(SettingWord::Idle));
        match idle.filter(|entry| entry.name == *name).map(|entry| idle_pulse(entry, value)) {
            Some(None) => Err(format!("what pulse width an idle of {value} is cannot be told")),
            Some(Some(pulse)) if pulse > ceilings::PULSE => {
                Err(format!("an idle of {pulse} is above {}, which nothing on the bench may exceed", ceilings::PULSE))
            }
            _ => Ok(()),
        }
    }

    /// Whether a write leaves every arm band away from where its channel stands now. In doubt it stands in the band; only
    /// where USB feeds no receiver, and the battery is out, the plan's own judgement by the rests is what there is.
    pub(super) fn band_stays_clear(&self, name: &SettingName, to: Number) -> Result<(), String> {
        let Some(sheet) = &self.sheet else { return Err("no sheet is known for this board".to_owned()) };
        let arm = Function::arm();
        if !binding::settings_of(sheet, &arm).contains(name) {
            return Ok(());
        }
        let mut settings = self.signals.settings.clone();
        settings.insert(name.clone(), to);
        let bands = binding::bound_now(sheet, &settings, &arm).map_err(|error| error.to_string())?;
        if bands.is_empty() || (!sheet.usb_feeds_receiver && !self.could_turn()) {
            return Ok(());
        }
        let channels = self.signals.channels.fresh(self.now, STREAM_AGE).filter(|channels| channels.count > 0);
        let Some(channels) = channels else {
            return Err("the receiver channels are not heard, so no arm band is opened".to_owned());
        };
        for band in bands {
            let channel = band.channel;
            let Some(pulse) = channels.of(channel) else {
                return Err(format!("channel {channel} carries nothing, so nobody knows where its switch stands"));
            };
            if band.is_on(channel, pulse) {
                return Err(format!("channel {channel} stands at {pulse}, inside the arm band that this would make"));
            }
        }
        Ok(())
    }

    /// Whether this is a write of an arm band, and the channels are late, but not gone.
    fn misses_channels(&self, name: &SettingName) -> bool {
        let of_arm = |sheet: &Sheet| binding::settings_of(sheet, &Function::arm()).contains(name);
        let channels = &self.signals.channels;
        let late = channels.last().is_some_and(|last| self.now.since(last.at) <= CHANNELS_LATE);
        late && channels.fresh(self.now, STREAM_AGE).is_none() && self.sheet.as_deref().is_some_and(of_arm)
    }

    fn may_run(&self, motor: u8, pulse: u16, lease: Duration) -> Result<(), String> {
        let Some(step) = self.clearance.upgrade() else { return Err("no start was confirmed".to_owned()) };
        let same = step.runs(motor, pulse) && lease <= step.longest;
        if !same || i32::from(pulse) > ceilings::PULSE.0 || lease > ceilings::TURNING {
            return Err("this run of a motor is not the one that was confirmed".to_owned());
        }
        if self.craft.as_ref().and_then(|craft| craft.motor_run).is_none_or(|longest| lease > longest) {
            return Err("this run of a motor is longer than its sheet says that the board bounds one".to_owned());
        }
        match self.phase {
            Phase::Invited | Phase::Turning => self.surely_there().map_err(|fault| fault.to_string()),
            Phase::NoContact
            | Phase::Looking
            | Phase::Still
            | Phase::SwitchesWorked
            | Phase::Storing
            | Phase::Restarting
            | Phase::Stopping
            | Phase::Latched => Err("no start was confirmed".to_owned()),
        }
    }
}
