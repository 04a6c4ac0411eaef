//! Whether a start ended before its time, and by whom: a hand at the switch, or the board.
//!
//! Promises: channels, outputs and flag count alike, whichever tells it first; one stray frame is no hand. Must not be
//! here: what becomes of such a start (see `again`).

use crate::bench::procedures::again::NoStart;
use crate::bench::procedures::arm_switch::ArmSwitch;
use crate::bench::session::context::SessionContext;
use crate::interlock::INVITATION;
use crate::interlock::craft::Facts;
use crate::interlock::signals::{Channels, at_rest};
use crate::measure::time::Time;
use crate::seam::fault::Fault;
use std::time::Duration;

/// Streams tell the same moment so far apart at most: before, nobody is named who ended a start.
const APART: Duration = Duration::from_millis(300);

/// What ended a start early.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::bench) enum Early {
    /// The arm switch went off, at this moment.
    Hand(Time),
    /// The board, with the switch still on.
    Board,
}

impl Early {
    /// In words, for a dwell that began at `from`.
    pub fn words(self, arm: &ArmSwitch, from: Time, dwell: Duration) -> NoStart {
        let (switch, dwell) = (&arm.switch.0, dwell.as_secs_f64());
        NoStart::Voided(match self {
            Self::Hand(at) if at > from => {
                let after = at.since(from).as_secs_f64();
                format!("Switch {switch} went off {after:.1} s into the {dwell} s for which it is to stay on.")
            }
            Self::Hand(_) => format!("Switch {switch} went off at once; it is to stay on for {dwell} s and a little."),
            Self::Board => format!("The board ended this start by itself, with switch {switch} still on."),
        })
    }
}

impl SessionContext {
    /// Why nothing armed while it was invited, as far as the switch tells.
    pub(in crate::bench) fn not_armed(&self, arm: &ArmSwitch) -> Fault {
        let switch = &arm.switch.0;
        let on = self.position_of(&arm.entry).is_some_and(|at| arm.on.contains(&at));
        let what = if on {
            format!("switch {switch} is on, and the board refuses to arm; what it says itself stands above")
        } else {
            format!("switch {switch} was not put to position {}", arm.first_on())
        };
        Fault::TimedOut { what, seconds: INVITATION.as_secs() }
    }

    /// What ended the start that was entered then, if anything has.
    pub(in crate::bench) fn ended_early(&self, arm: &ArmSwitch, entered: Time, armed: Time) -> Option<Early> {
        if self.is_off(arm)
            && let Some(at) = self.went_off(arm, entered)
        {
            return Some(Early::Hand(at));
        }
        let (now, ended) = (self.now(), self.stood_still(entered, armed)?);
        if self.is_off(arm) {
            return Some(Early::Hand(ended));
        }
        (now.since(ended) > APART).then_some(Early::Board)
    }

    /// When the arm switch left its band, once two frames running have said so.
    pub(in crate::bench) fn went_off(&self, arm: &ArmSwitch, entered: Time) -> Option<Time> {
        let interlock = self.interlock();
        let (facts, live) = (interlock.facts().ok()?, interlock.signals());
        let (mut on, mut off) = (false, None);
        for sample in live.channels.since(entered).filter(|sample| sample.value.count > 0) {
            match (is_on(facts, arm, &sample.value), off) {
                (true, _) => (on, off) = (true, None),
                (false, Some(at)) => return Some(at),
                (false, None) if on => off = Some(sample.at),
                (false, None) => {}
            }
        }
        None
    }

    /// Whether the arm switch went on again after it had gone off in the start that was entered then.
    pub(in crate::bench) fn went_on_again(&self, arm: &ArmSwitch, entered: Time) -> bool {
        let Some(off) = self.went_off(arm, entered) else { return false };
        let interlock = self.interlock();
        let mut since = interlock.signals().channels.since(off);
        interlock.facts().is_ok_and(|facts| since.any(|sample| is_on(facts, arm, &sample.value)))
    }

    /// Whether the arm switch is off as last heard.
    pub(in crate::bench) fn is_off(&self, arm: &ArmSwitch) -> bool {
        let interlock = self.interlock();
        let last = interlock.signals().channels.last();
        let off = |facts: &Facts| last.is_some_and(|last| last.value.count > 0 && !is_on(facts, arm, &last.value));
        interlock.facts().is_ok_and(off)
    }

    /// Whether the start under way is over: disarmed as told, or its outputs at rest again.
    pub(in crate::bench) fn is_over(&self) -> bool {
        let Some((entered, armed)) = self.interlock().start().and_then(|start| Some((start.entered, start.armed_at?)))
        else {
            return true;
        };
        self.stood_still(entered, armed).is_some()
    }

    /// When outputs that had risen came to rest, or the flag said off where it had said on.
    fn stood_still(&self, entered: Time, armed: Time) -> Option<Time> {
        self.look(|live| {
            let raised = live.outputs.since(entered).rfind(|outputs| !at_rest(&outputs.value));
            let fell = raised.and_then(|raised| live.outputs.since(raised.at).next()).map(|outputs| outputs.at);
            let told_on = live.armed.since(entered).find(|flag| flag.value).map(|flag| flag.at);
            let told_off = told_on.and_then(|on| live.armed.since(on.max(armed)).find(|flag| !flag.value));
            fell.or(told_off.map(|flag| flag.at))
        })
    }
}

fn is_on(facts: &Facts, arm: &ArmSwitch, channels: &Channels) -> bool {
    let channel = arm.entry.channel;
    channels.of(channel).is_some_and(|pulse| facts.arms_at(channel, pulse))
}
