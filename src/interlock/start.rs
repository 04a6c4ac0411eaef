//! One confirmed start as it is watched: until when it is invited, since when it runs, what it may break on purpose.
//!
//! Must not be here: the judgement itself (see `watch`).

use crate::measure::time::Time;
use crate::seam::ui::{MotorStep, MotorTest, Motors};
use std::time::Duration;

/// How long an invitation to arm stands.
pub const INVITATION: Duration = Duration::from_secs(20);
/// How long after its answer the first start of a confirmed step may begin, or a confirmed change leave.
pub const FIRST_START: Duration = Duration::from_secs(10);

/// A motor without a propeller stands this long after its run ended, at the latest (*common practice*: under a second).
pub const COASTS: Duration = Duration::from_secs(1);

/// Tests of what starts and stops this craft, in the order in which one builds on another.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Tested {
    /// It arms at the positions of its switch, and nowhere else.
    Arm,
    /// The switch stops it in time.
    Cut,
    /// It stops by itself when the radio goes.
    Failsafe,
}

impl Tested {
    /// What a step that was confirmed tests of it, if anything.
    pub(super) fn of(step: &MotorStep) -> Option<Self> {
        match step.test? {
            MotorTest::Arm => Some(Self::Arm),
            MotorTest::Cut => Some(Self::Cut),
            MotorTest::Failsafe => Some(Self::Failsafe),
            MotorTest::Usb | MotorTest::Silence | MotorTest::Cable => None,
        }
    }
}

/// What a procedure breaks on purpose.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Breaks {
    /// The operator may arm and disarm several times in one start, as when all positions are walked.
    pub arms_again: bool,
    /// The throttle may be raised while the board refuses to arm.
    pub throttle: bool,
    /// The radio may go off once the board has armed, in a step that was confirmed with it.
    pub radio: bool,
}

/// See the module.
#[derive(Debug, Clone, PartialEq)]
pub struct Start {
    /// The step, as it was shown.
    pub step: MotorStep,
    /// When it was entered.
    pub entered: Time,
    /// Until when an arming is invited.
    pub invited_until: Time,
    /// When the armed flag was first seen in this start.
    pub armed_at: Option<Time>,
    /// When it was seen off again.
    pub disarmed_at: Option<Time>,
    /// When the motors began to sound, where they do.
    pub sounded_at: Option<Time>,
    /// When one motor was run by command, until when it may turn.
    pub commanded_until: Option<Time>,
    /// Roll and pitch at the entry, degrees.
    pub attitude: Option<(f64, f64)>,
    /// What the procedure breaks on purpose.
    pub breaks: Breaks,
    /// When a disarm left for a craft that was armed by its switch.
    pub disarm_left: Option<Time>,
    /// A disarm left: what ended then did not end by itself.
    pub helped: bool,
}

impl Start {
    /// A start of `step` entered now.
    #[must_use]
    pub fn enter(step: MotorStep, now: Time, attitude: Option<(f64, f64)>, breaks: Breaks) -> Self {
        Self {
            step,
            entered: now,
            invited_until: now + INVITATION,
            armed_at: None,
            disarmed_at: None,
            sounded_at: None,
            commanded_until: None,
            attitude,
            breaks,
            disarm_left: None,
            helped: false,
        }
    }

    /// Invited anew within one start, as when all positions are walked; only while nothing is armed.
    pub(super) fn invite_again(&mut self, now: Time) {
        if self.armed_at.is_none() || self.disarmed_at.is_some() {
            self.invited_until = now + INVITATION;
        }
    }

    /// Whether the radio may be off now: only on purpose, as it was confirmed, and only after the board armed.
    #[must_use]
    pub fn radio_may_go(&self) -> bool {
        self.breaks.radio && self.step.radio_off() && self.armed_at.is_some()
    }

    /// Until when a motor may turn whose cable goes now: to the end of its time, and as long as it coasts. `None`: the cable
    /// was not to go, or not now.
    pub(super) fn without_cable_until(&self, now: Time) -> Option<Time> {
        self.commanded_until.filter(|until| self.step.cable_out() && now < *until).map(|until| until + COASTS)
    }

    /// Whether output `index` from 0 may be raised.
    #[must_use]
    pub fn may_turn(&self, index: usize) -> bool {
        match &self.step.motors {
            Motors::All => true,
            Motors::None => false,
            Motors::One(_, one) => *one == index,
        }
    }

    /// Whether it has begun: armed, sounding, or run by command.
    #[must_use]
    pub fn has_begun(&self) -> bool {
        self.armed_at.or(self.sounded_at).or(self.commanded_until).is_some()
    }
}
