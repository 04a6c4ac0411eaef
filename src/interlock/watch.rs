//! The watch: judges at every status and every tick whether what is seen may go on.
//!
//! A pure judgement over what is known; the interlock makes a stop of it. A word of the operator's switches nothing of
//! it off: only a pack that is measured out, on USB that feeds no motor, does. Must not be here: how a stop is sent (see
//! `stop`).

use super::contact::{Contact, Doubt};
use super::craft::Facts;
use super::guards::{self, FLAG_ALONE};
use super::outputs;
use super::phase::Phase;
use super::signals::{Channels, POWER_AGE, Pack, REST_MOST, STREAM_AGE, Signals, TURNS, at_rest};
use super::start::Start;
use crate::language::ceilings;
use crate::measure::time::Time;
use crate::seam::ui::{Motors, StartedBy};
use std::time::Duration;

/// How far above the step's pulse an output may go before it is a stop.
const OVER_STEP: i32 = 30;
/// How far the craft may move while anything turns, degrees.
const MOVED: f64 = 5.0;
/// A current this much above the one at rest is a motor's, hundredths of an ampere.
const DRAWS: i16 = 100;
/// How long outputs and flag may disagree, as one is heard before the other.
const LAG: Duration = Duration::from_millis(300);
/// Longest arming of a switch that is worked where only a word says that the battery is out.
const WORKED_ARMED: Duration = Duration::from_secs(20);

/// What the watch looks at.
pub(super) struct View<'v> {
    pub signals: &'v Signals,
    pub craft: Option<&'v Facts>,
    pub contact: &'v Contact,
    pub now: Time,
}

/// Could anything turn? Default yes: no only while the pack is measured out on a sensor seen working, USB feeds no motor,
/// and outputs and speeds are at rest.
pub(super) fn could_turn(signals: &Signals, craft: Option<&Facts>, now: Time) -> bool {
    let outputs = signals.outputs.fresh(now, STREAM_AGE);
    !(unpowered(signals, craft, now) && outputs.is_some_and(|outputs| at_rest(&outputs)))
}

/// Unpowered as measured: an armed flag or a raised output turns nothing then.
pub(super) fn unpowered(signals: &Signals, craft: Option<&Facts>, now: Time) -> bool {
    signals.pack(now) == Pack::Out && craft.is_some_and(|craft| !craft.usb_feeds_motors) && !turns(signals, now)
}

/// What contradicts the word that the battery is out. What USB feeds may turn without it.
pub(super) fn contradiction(view: &View<'_>) -> Option<&'static str> {
    let View { signals, craft, contact, now } = *view;
    if signals.pack(now) == Pack::In {
        return Some("a pack voltage is measured");
    }
    if turns(signals, now) && craft.is_none_or(|craft| !craft.usb_feeds_motors) {
        return Some("a motor turns");
    }
    let current = signals.power.fresh(now, POWER_AGE).and_then(|power| power.centiamps);
    let draws = current.zip(contact.rest_current).is_some_and(|(now, rest)| now > rest.saturating_add(DRAWS));
    draws.then_some("a current of motors is measured")
}

fn turns(signals: &Signals, now: Time) -> bool {
    signals.speeds.fresh(now, STREAM_AGE).is_some_and(|all| all.iter().flatten().any(|rpm| *rpm > TURNS))
}

impl View<'_> {
    /// Judges the moment; `Err` is the reason of a stop.
    pub fn judge(&self, phase: Phase, start: Option<&mut Start>) -> Result<(), String> {
        match phase {
            Phase::NoContact | Phase::Looking | Phase::Stopping | Phase::Latched => Ok(()),
            Phase::Still | Phase::Storing | Phase::Restarting => self.still(),
            Phase::SwitchesWorked => self.worked(start),
            Phase::Invited | Phase::Turning => match start {
                Some(start) => self.turning(start),
                None => Err("nothing is known of the start under way".to_owned()),
            },
        }
    }

    /// Nothing was asked for: whatever arms, rises or turns is unexpected. Doubt blocks only; but what was seen above
    /// rest before it may go on unseen.
    pub fn still(&self) -> Result<(), String> {
        if unpowered(self.signals, self.craft, self.now) {
            return Ok(());
        }
        if self.contact.doubt() == Some(Doubt::Silence) {
            let armed = self.signals.armed.last().is_some_and(|flag| flag.value);
            if armed || self.signals.last_at_rest() == Some(false) {
                return Err(format!("{}, and it was not at rest", Doubt::Silence));
            }
        }
        self.unexpected()
    }

    /// Switches are worked: what a bound switch may do was asked for, where it could turn anything.
    fn worked(&self, start: Option<&mut Start>) -> Result<(), String> {
        if let Some(doubt) = self.contact.doubt() {
            return Err(doubt.to_string());
        }
        if unpowered(self.signals, self.craft, self.now) {
            return Ok(());
        }
        if self.signals.pack(self.now) == Pack::In {
            return Err("the battery went in while it was to stay out".to_owned());
        }
        match start {
            None => self.unexpected(),
            Some(start) => self.only_armed(start),
        }
    }

    /// The battery is out by a word alone, and a switch that may arm is worked: flag and outputs up to the ceiling may
    /// come, nothing that turns.
    fn only_armed(&self, start: &mut Start) -> Result<(), String> {
        if turns(self.signals, self.now) {
            return Err("a motor turns".to_owned());
        }
        let outputs = self.signals.outputs.fresh(self.now, STREAM_AGE);
        let outputs = outputs.ok_or_else(|| "the motor outputs are not heard any more".to_owned())?;
        outputs::at_most(&outputs, ceilings::PULSE.0)?;
        match self.signals.flag(self.now) {
            Some(true) => self.armed_briefly(*start.armed_at.get_or_insert(self.now))?,
            Some(false) => {
                outputs::belie_no_flag(self.signals, self.now)?;
                start.armed_at = None;
            }
            None => return Err("the armed flag is not heard any more".to_owned()),
        }
        Ok(())
    }

    /// An arming, a raised output or a speed that nobody asked for.
    fn unexpected(&self) -> Result<(), String> {
        if self.signals.flag(self.now) == Some(true) {
            return Err("the board armed without being asked to".to_owned());
        }
        if self.signals.outputs.fresh(self.now, STREAM_AGE).is_some_and(|outputs| !at_rest(&outputs)) {
            return Err("a motor output rose without being asked to".to_owned());
        }
        if turns(self.signals, self.now) {
            return Err("a motor turns without being asked to".to_owned());
        }
        Ok(())
    }

    fn turning(&self, start: &mut Start) -> Result<(), String> {
        let (signals, now) = (self.signals, self.now);
        let craft = self.craft.ok_or_else(|| "nothing is known of the craft".to_owned())?;
        let outputs = signals.outputs.fresh(now, STREAM_AGE);
        // Disarmed as told, outputs and speeds at rest as told now: a flag that is late then is waited for.
        let over =
            start.disarmed_at.is_some() && outputs.is_some_and(|outputs| at_rest(&outputs)) && !turns(signals, now);
        let armed = if over {
            signals.armed.last().is_some_and(|flag| flag.value)
        } else {
            guards::flag_while_turning(signals, now).ok_or_else(|| Doubt::Silence.to_string())?
        };
        let channels = self.radio(start)?;
        let outputs = outputs.ok_or_else(|| "the motor outputs are not heard any more".to_owned())?;
        match self.contact.doubt() {
            Some(Doubt::Silence) if over => {}
            Some(doubt) => return Err(doubt.to_string()),
            None => {}
        }
        guards::alone(signals).map_err(|fault| fault.to_string())?;
        if let Some(channels) = &channels {
            throttle(craft, start, channels, armed)?;
        }
        if matches!(start.step.by, StartedBy::Sound { .. }) {
            self.sounding(craft, start, channels.as_ref(), armed)?;
        } else {
            self.arming(craft, start, channels.as_ref(), (armed, !at_rest(&outputs)))?;
        }
        if start.step.motors == Motors::None {
            return self.stays_out(start, &outputs);
        }
        if signals.pack(now) == Pack::Out {
            return Err("the battery went out".to_owned());
        }
        self.raised(craft, start, &outputs, armed)?;
        self.moved(start)?;
        self.current(craft)
    }

    /// Proved with the battery out: commanded outputs move nothing, but the battery must stay out.
    fn stays_out(&self, start: &Start, outputs: &[u16; 8]) -> Result<(), String> {
        if unpowered(self.signals, self.craft, self.now) {
            return Ok(());
        }
        let most = ceilings::PULSE.0.min(if start.step.on_usb { start.step.pulse.0 + OVER_STEP } else { i32::MAX });
        outputs::at_most(outputs, most)?;
        if !self.contact.attested.battery_out || self.signals.pack(self.now) == Pack::In {
            return Err("the battery went in where it was to stay out".to_owned());
        }
        if let Some(what) = contradiction(self).or(turns(self.signals, self.now).then_some("a motor turns")) {
            return Err(format!("{what} where the battery was to stay out"));
        }
        let since = start.armed_at.filter(|_| start.disarmed_at.is_none());
        since.map_or(Ok(()), |since| self.armed_briefly(since))
    }

    /// With the battery out, for as long as switches are worked.
    fn armed_briefly(&self, since: Time) -> Result<(), String> {
        if self.now.since(since) > WORKED_ARMED {
            return Err(format!("the board was armed for more than {} s", WORKED_ARMED.as_secs()));
        }
        Ok(())
    }

    /// The channels as the radio gives them; `None`: it is off, as it was confirmed.
    fn radio(&self, start: &Start) -> Result<Option<Channels>, String> {
        let (signals, now) = (self.signals, self.now);
        let may_go = start.radio_may_go();
        let told = signals.power.fresh(now, POWER_AGE).and_then(|power| power.receiver) == Some(false);
        match signals.channels.fresh(now, STREAM_AGE) {
            // What a board goes on giving after it knew of the loss is nobody's hand at the sticks.
            _ if may_go && told => Ok(None),
            Some(channels) if channels.count > 0 => Ok(Some(channels)),
            _ if may_go => Ok(None),
            Some(_) => Err("the receiver lost the radio".to_owned()),
            None => Err("the receiver channels are not heard any more".to_owned()),
        }
    }

    /// The motors sound by their switch, and nothing else: they neither turn nor are driven, and the craft stays disarmed.
    fn sounding(
        &self,
        craft: &Facts,
        start: &mut Start,
        channels: Option<&Channels>,
        armed: bool,
    ) -> Result<(), String> {
        if armed {
            return Err("the board armed where the motors were to sound".to_owned());
        }
        if turns(self.signals, self.now) {
            return Err("a motor turns where it was to sound".to_owned());
        }
        if !channels.is_some_and(|channels| channels.turn_on(&craft.sounding_bands)) {
            return Ok(());
        }
        let since = *start.sounded_at.get_or_insert(self.now);
        if since > start.invited_until {
            return Err("the motors sounded after the invitation had ended".to_owned());
        }
        if self.now.since(since) > start.step.bound() {
            return Err(format!("the motors were to sound for {} s at most", start.step.bound().as_secs_f64()));
        }
        Ok(())
    }

    fn arming(
        &self,
        craft: &Facts,
        start: &mut Start,
        channels: Option<&Channels>,
        (armed, raised): (bool, bool),
    ) -> Result<(), String> {
        let (signals, now) = (self.signals, self.now);
        let by_switch = matches!(start.step.by, StartedBy::Switch { .. });
        if !armed {
            if by_switch && !unpowered(signals, self.craft, now) {
                outputs::belie_no_flag(signals, now)?;
            }
            match start.armed_at {
                // Outputs may show a start before a flag that comes rarely does.
                None if raised && by_switch && now <= start.invited_until => start.armed_at = Some(now),
                Some(at) if start.disarmed_at.is_none() && self.flag_told() > at => start.disarmed_at = Some(now),
                Some(_) | None => {}
            }
            return Ok(());
        }
        if !by_switch {
            return Err("the board armed while one motor was run by command".to_owned());
        }
        if start.disarmed_at.is_some() {
            if !start.breaks.arms_again {
                return Err("the board armed a second time".to_owned());
            }
            start.armed_at = None;
            start.disarmed_at = None;
        }
        let since = *start.armed_at.get_or_insert(now);
        if since == now && now > start.invited_until {
            return Err("the board armed after the invitation had ended".to_owned());
        }
        // With the battery out nothing turns, and the hand may take its time from position to position. A flag that comes
        // rarely tells of an arming that is over by the outputs already.
        let goes_on = raised || self.told_after_the_outputs_fell(start);
        if goes_on && now.since(since) > start.step.bound() {
            return Err(format!("the motors were to turn for {} s at most", start.step.bound().as_secs_f64()));
        }
        let Some(channels) = channels else { return Ok(()) };
        let on = channels.turn_on(&craft.arm_bands);
        let switched_off_for = self.signals.channels.last().map_or(Duration::ZERO, |s| now.since(s.at));
        if !on && now.since(since) > LAG && switched_off_for < LAG && self.left_band_long_ago(craft) {
            return Err("the board is armed although its switch is off".to_owned());
        }
        Ok(())
    }

    /// Whether a young flag says armed after the outputs of this start came to rest, or where they never rose: on a board
    /// whose flag comes rarely the last one is of before.
    fn told_after_the_outputs_fell(&self, start: &Start) -> bool {
        let of_this_start = self.signals.outputs.newest_first().take_while(|outputs| outputs.at > start.entered);
        let raised = of_this_start.into_iter().find(|outputs| !at_rest(&outputs.value));
        self.signals.armed.fresh(self.now, FLAG_ALONE).is_some()
            && raised.is_none_or(|raised| self.flag_told() > raised.at + LAG)
    }

    /// When the flag was told last.
    fn flag_told(&self) -> Time {
        self.signals.armed.last().map_or(Time(0), |flag| flag.at)
    }

    /// Whether the arm channel has been outside its bands for longer than flag and channels may disagree.
    fn left_band_long_ago(&self, craft: &Facts) -> bool {
        // A flag is as late as its own limit, and something more for a board that is slow to disarm.
        let disagree = self.signals.flag_limit() + Duration::from_secs(1);
        self.signals.channels.since(self.now - disagree).all(|s| !s.value.turn_on(&craft.arm_bands))
    }

    fn raised(&self, craft: &Facts, start: &Start, outputs: &[u16; 8], armed: bool) -> Result<(), String> {
        let now = self.now;
        let allowed = (start.step.pulse.0 + OVER_STEP).min(ceilings::PULSE.0);
        let raised = outputs.iter().enumerate().filter(|(_, pulse)| **pulse > REST_MOST && **pulse != u16::MAX);
        for (index, pulse) in raised {
            let corner = craft.corners.get(index).map_or("an unknown", String::as_str);
            if !start.may_turn(index) {
                return Err(format!("the {corner} motor is driven, and was not asked for"));
            }
            if i32::from(*pulse) > allowed {
                return Err(format!("the {corner} motor is driven at {pulse} us, more than the {allowed} us allowed"));
            }
        }
        let any = !at_rest(outputs);
        let expected = match start.step.by {
            StartedBy::Switch { .. } => {
                armed
                    || start.disarmed_at.is_some_and(|at| now.since(at) <= LAG)
                    || (start.armed_at.is_none() && now <= start.invited_until)
                    || (start.disarmed_at.is_none() && start.armed_at.is_some_and(|at| self.flag_told() <= at))
            }
            StartedBy::Sound { .. } | StartedBy::Change { .. } | StartedBy::WorkedSwitch => false,
            StartedBy::Command => start.commanded_until.is_some_and(|until| now <= until + LAG),
        };
        if any && !expected {
            return Err("the motors are driven although nothing asks for it any more".to_owned());
        }
        Ok(())
    }

    fn moved(&self, start: &Start) -> Result<(), String> {
        let Some((roll, pitch)) = start.attitude else { return Ok(()) };
        let Some((r, p)) = self.signals.attitude.fresh(self.now, STREAM_AGE) else {
            return Err("the attitude is not heard any more".to_owned());
        };
        if guards::apart(r, roll) > MOVED || guards::apart(p, pitch) > MOVED {
            return Err(format!("the craft moved by more than {MOVED} deg"));
        }
        Ok(())
    }

    fn current(&self, craft: &Facts) -> Result<(), String> {
        let Some(most) = craft.most_current else { return Ok(()) };
        let power = self.signals.power.fresh(self.now, POWER_AGE);
        let power = power.ok_or_else(|| "pack and current are not heard any more".to_owned())?;
        match power.centiamps {
            Some(ca) if i32::from(ca) * 10 > most.0 => Err(format!(
                "the motors draw {:.1} A, more than the {most} that the sheet allows without propellers",
                f64::from(ca) / 100.0
            )),
            _ => Ok(()),
        }
    }
}

fn throttle(craft: &Facts, start: &Start, channels: &Channels, armed: bool) -> Result<(), String> {
    match craft.throttle_channel.and_then(|channel| channels.of(channel)) {
        _ if start.breaks.throttle && !armed => Ok(()),
        Some(pulse) if pulse < craft.throttle_below => Ok(()),
        Some(_) if start.breaks.throttle && (start.armed_at.is_none() || start.disarmed_at.is_some()) => {
            Err("the board armed with the throttle raised".to_owned())
        }
        Some(pulse) => Err(format!("the throttle was raised to {pulse}")),
        None => Err("the throttle channel is not heard any more".to_owned()),
    }
}
