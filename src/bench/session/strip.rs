//! The strip: what is going on under whatever is asked, looked at again and again.
//!
//! Promises: told at most five times a second and only as it changes; nothing waits for it, and nothing hangs on it. Must
//! not be here: how it looks, and what counts as done (see the procedures).

use super::Session;
use crate::bench::monitor::page_build::tenths;
use crate::bench::session::context::SessionContext;
use crate::bench::session::watched::Asked;
use crate::interlock::guards;
use crate::interlock::signals::STREAM_AGE;
use crate::interlock::{COASTS, Phase};
use crate::language::ceilings;
use crate::language::recipe::Switch;
use crate::language::units::Pulse;
use crate::measure::moved::{RESTS_WITHIN, TO_A_SIDE, Tilt};
use crate::measure::time::Time;
use crate::seam::Effect;
use crate::seam::strip::{Now, SHORT, Strip, TimeLeft};
use crate::seam::ui::{About, Gesture, StartedBy, UiEvent};
use std::time::Duration;

/// How often it is told at most.
const EVERY: Duration = Duration::from_millis(200);
/// What did not change is told again after this long, for who could not tell it before.
const AGAIN: Duration = Duration::from_secs(2);
/// So many speeds of late make a trace.
const TRACE: usize = 8;
/// The longest that a motor may turn without its cable: its run, and its coasting.
const WITHOUT_CABLE: Duration = ceilings::TURNING.saturating_add(COASTS);
const HAS_TO_STAND: &str = "until then the motor may turn, then it has to stand";
const NOT_FAR: &str = "not moved far enough yet";

impl Session {
    /// Tells what is going on, where that changed.
    pub(super) fn tell_strip(&mut self, now: Time, act: &mut dyn FnMut(Effect)) {
        let bench = &self.bench;
        if now.since(bench.watches().looked) < EVERY {
            return;
        }
        let strip = bench.strip(now);
        let mut watched = bench.watches();
        watched.looked = now;
        if strip != watched.told || (strip.is_some() && now.since(watched.told_at) >= AGAIN) {
            watched.told_at = now;
            watched.told.clone_from(&strip);
            act(Effect::Show(UiEvent::Strip(strip)));
        }
    }
}

impl SessionContext {
    /// What is going on under what is asked now.
    fn strip(&self, now: Time) -> Option<Strip> {
        match self.phase() {
            // The words of a stop stand alone, but for how long a motor without its cable may still turn.
            Phase::Stopping => return self.without_cable(now),
            Phase::Turning => return Some(self.turning(now)),
            _ => {}
        }
        let asked = self.dialogue().prompt.as_ref().map(|prompt| prompt.question().about.clone());
        if let Some(about) = asked {
            let seen = self.of_question(&about, now);
            return (!seen.is_empty()).then_some(Strip { now: seen, time: None });
        }
        let (gesture, began, within) = self.watches().gesture.as_ref().map(Asked::what)?;
        let left = within.checked_sub(now.since(began))?;
        let seen = self.of_gesture(&gesture, began, now);
        let time = (within > Duration::ZERO).then(|| rounded(left, within));
        Some(Strip { now: seen, time })
    }

    /// What is left of the time after which a motor without its cable has to stand.
    fn without_cable(&self, now: Time) -> Option<Strip> {
        let left = self.interlock().without_cable_until()?.since(now);
        let time = Some(rounded(left, WITHOUT_CABLE));
        (left > Duration::ZERO).then(|| Strip { now: vec![Now::Missing(HAS_TO_STAND)], time })
    }

    /// A start under way: the switch that ends it, then every motor.
    fn turning(&self, now: Time) -> Strip {
        let interlock = self.interlock();
        let Some(start) = interlock.start() else { return Strip::default() };
        let flag = self.flag_now();
        let mut seen = if flag == Now::Armed(true) { vec![flag] } else { Vec::new() };
        let gesture = self.watches().gesture.as_ref().map(|asked| asked.gesture.clone());
        if let Some(Gesture::SwitchTo { switch, position: 0 }) = &gesture {
            seen.push(self.switch(switch, Some(0), now));
        }
        let signals = interlock.signals();
        let outputs = signals.outputs.fresh(now, STREAM_AGE).unwrap_or([0; 8]);
        let corners = interlock.facts().map(|facts| facts.corners.clone()).unwrap_or_default();
        for (index, corner) in corners.iter().take(outputs.len()).enumerate() {
            let newest = signals.speeds.since(start.entered).rev().filter_map(|sample| sample.value[index].map(whole));
            let mut trace: Vec<u32> = newest.take(TRACE).collect();
            trace.reverse();
            let rpm = trace.last().copied();
            seen.push(Now::Motor { corner: corner.clone(), rpm, output: outputs[index], trace });
        }
        let began = start.armed_at.unwrap_or(start.entered);
        let whole = start.step.bound();
        let time = Some(rounded(whole.saturating_sub(now.since(began)), whole));
        Strip { now: seen, time }
    }

    /// What stands behind a question.
    fn of_question(&self, about: &About, now: Time) -> Vec<Now> {
        match about {
            About::Motor(step) => match &step.by {
                StartedBy::Switch { switch, .. } | StartedBy::Sound { switch, .. } => {
                    vec![self.switch(switch, None, now), self.throttle(now), self.flag_now()]
                }
                StartedBy::Command | StartedBy::Change { .. } => {
                    vec![self.throttle(now), self.flag_now(), self.volts_now()]
                }
                StartedBy::WorkedSwitch => vec![self.flag_now(), self.volts_now()],
            },
            About::BatteryOut | About::BatteryIn | About::Heat => vec![self.volts_now()],
            _ => Vec::new(),
        }
    }

    /// What is seen of a gesture.
    fn of_gesture(&self, gesture: &Gesture, began: Time, now: Time) -> Vec<Now> {
        match gesture {
            Gesture::SwitchTo { switch, position } if self.watches().switches.contains_key(switch) => {
                vec![self.switch(switch, Some(*position), now)]
            }
            // One that is being found is on no card yet: what moves is its channel.
            Gesture::SwitchTo { .. } => self.moves(now, true).into_iter().collect(),
            Gesture::WorkSwitch(_) | Gesture::HoldStick { .. } => self.moves(now, false).into_iter().collect(),
            Gesture::AllSwitches { last } => self.all_switches(*last, now),
            Gesture::Radio { .. } => vec![Now::Radio(self.hears_radio())],
            Gesture::Battery { .. } => vec![self.volts_now()],
            Gesture::ThrottleDown | Gesture::ThrottleUp | Gesture::LetGo => vec![self.throttle(now)],
            Gesture::Level { .. } | Gesture::HoldCraft(_) => {
                self.attitude(now).map(|(roll, pitch)| Now::Attitude(roll, pitch)).into_iter().collect()
            }
            Gesture::WiggleRoll => self.wiggle(began, now),
            Gesture::TiltCraft => self.tilt(began, now),
            Gesture::HandsOff | Gesture::PullCable => Vec::new(),
        }
    }

    fn switch(&self, switch: &Switch, asked: Option<u32>, now: Time) -> Now {
        let entry = self.watches().switches.get(switch).cloned();
        let pulse = entry.as_ref().and_then(|entry| self.pulse(entry.channel, now));
        let position = entry.as_ref().zip(pulse).and_then(|(entry, pulse)| entry.position_at(pulse));
        Now::Switch { switch: switch.clone(), pulse, position, asked }
    }

    /// Every switch of the card that has several positions.
    fn all_switches(&self, last: bool, now: Time) -> Vec<Now> {
        let known: Vec<(Switch, u32)> = (self.watches().switches.iter())
            .map(|(switch, entry)| (switch.clone(), u32::try_from(entry.rests.len()).unwrap_or(1)))
            .collect();
        let asked = |count: u32| if last { count.saturating_sub(1) } else { 0 };
        known.iter().map(|(switch, count)| self.switch(switch, Some(asked(*count)), now)).collect()
    }

    fn pulse(&self, channel: u32, now: Time) -> Option<Pulse> {
        self.look(|live| guards::channel_pulse(live, channel, now)).ok()
    }

    fn throttle(&self, now: Time) -> Now {
        let facts = self.facts().ok();
        let pulse =
            facts.as_ref().and_then(|facts| facts.throttle_channel).and_then(|channel| self.pulse(channel, now));
        let low = pulse.zip(facts).is_some_and(|(pulse, facts)| pulse < facts.throttle_below);
        Now::Throttle { pulse, low }
    }

    fn flag_now(&self) -> Now {
        Now::Armed(self.look(|live| live.armed.last()).is_some_and(|flag| flag.value))
    }

    fn volts_now(&self) -> Now {
        let millivolts = self.look(|live| live.power.last().and_then(|power| power.value.millivolts));
        Now::Pack(millivolts.map(|millivolts| u32::from(millivolts) / 10))
    }

    /// The channel that moved most since it was asked, and by more than one that nobody touches; `stick`: of those that
    /// are no throttle.
    fn moves(&self, now: Time, stick: bool) -> Option<Now> {
        let throttle = self.interlock().facts().ok().and_then(|facts| facts.throttle_channel).filter(|_| stick);
        let mut watched = self.watches();
        let spans = &mut watched.gesture.as_mut()?.spans;
        self.look(|live| spans.take(live));
        let moved =
            spans.heard().filter(|(channel, least, most)| most - least > RESTS_WITHIN && Some(*channel) != throttle);
        let (channel, least, most) = moved.max_by_key(|(_, least, most)| most - least)?;
        let pulse = self.pulse(channel, now)?;
        Some(Now::Moves { channel, pulse, between: (Pulse(least), Pulse(most)) })
    }

    /// The roll stick on its way to both sides.
    fn wiggle(&self, began: Time, now: Time) -> Vec<Now> {
        let Some(Now::Moves { channel, pulse, between }) = self.moves(now, true) else {
            return if self.hears_radio() { vec![Now::Missing(NOT_FAR)] } else { Vec::new() };
        };
        let first = self.look(|live| live.channels.since(began).find_map(|sample| sample.value.of(channel)));
        let Some(middle) = first else { return Vec::new() };
        let (right, left) = (between.1.0 > middle.0 + TO_A_SIDE, between.0.0 < middle.0 - TO_A_SIDE);
        let missing = match (right, left) {
            (true, true) => None,
            (true, false) => Some("now to the other side, the left"),
            (false, true) => Some("now to the other side, the right"),
            (false, false) => Some(NOT_FAR),
        };
        missing.map(Now::Missing).into_iter().chain([Now::Moves { channel, pulse, between }]).collect()
    }

    /// The craft on its way over and back.
    fn tilt(&self, began: Time, now: Time) -> Vec<Now> {
        let Some((roll, pitch)) = self.attitude(now) else { return Vec::new() };
        let missing = match self.tilt_since(began) {
            Tilt::Back => None,
            Tilt::Tilted => Some("now put it back"),
            Tilt::Still => Some("not tilted far enough yet"),
        };
        missing.map(Now::Missing).into_iter().chain([Now::Attitude(roll, pitch)]).collect()
    }

    /// As it came last, in tenths of a degree.
    fn attitude(&self, now: Time) -> Option<(i32, i32)> {
        self.look(|live| live.attitude.fresh(now, STREAM_AGE)).map(|(roll, pitch)| (tenths(roll), tenths(pitch)))
    }
}

/// What is left of a time, in tenths of a second where it is short.
fn rounded(left: Duration, whole: Duration) -> TimeLeft {
    let step = if whole <= SHORT { 100 } else { 1000 };
    let steps = u64::try_from(left.as_millis()).unwrap_or(u64::MAX).div_ceil(step);
    TimeLeft { left: Duration::from_millis(steps * step), whole }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a speed is told in whole rpm, and fits")]
fn whole(rpm: f64) -> u32 {
    rpm.abs() as u32
}
