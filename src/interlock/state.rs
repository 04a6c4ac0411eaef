//! What the watch allows at the moment: nothing turning, a switch being worked, one start, a stop.
//!
//! Must not be here: the judgement itself (see `watch`).

use crate::language::recipe::Switch;
use crate::measure::time::Time;
use crate::seam::ui::{MotorStep, Motors};
use std::time::Duration;

/// How long an invitation to arm stands.
pub const INVITATION: Duration = Duration::from_secs(20);
/// How long after its answer the first start of a confirmed step may begin.
pub const FIRST_START: Duration = Duration::from_secs(10);

/// See the module.
#[derive(Debug, Clone, PartialEq)]
pub enum Mode {
    /// The board has not been seen disarmed and still: nothing but looking, and no stop is sent to it.
    Looking,
    /// Nothing may turn.
    Still,
    /// The operator works a switch with the battery out: an armed flag is noted, nothing is written meanwhile.
    SwitchesWorked,
    /// One confirmed start.
    Turning(Box<Turning>),
    /// A stop is being sent and watched.
    Stopping(Box<Stopping>),
    /// After a stop or a lost link: nothing resumes, nothing is written.
    Latched,
}

impl Mode {
    /// Whether any key is a stop.
    #[must_use]
    pub fn any_key_stops(&self) -> bool {
        matches!(self, Self::Turning(_) | Self::Stopping(_))
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

/// One confirmed start being watched.
#[derive(Debug, Clone, PartialEq)]
pub struct Turning {
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
    /// When one motor was run by command, until when it may turn.
    pub commanded_until: Option<Time>,
    /// Roll and pitch at the entry, degrees.
    pub attitude: Option<(f64, f64)>,
    /// What the procedure breaks on purpose.
    pub breaks: Breaks,
}

impl Turning {
    /// A start of `step` entered now.
    #[must_use]
    pub fn enter(step: MotorStep, now: Time, attitude: Option<(f64, f64)>, breaks: Breaks) -> Self {
        Self {
            step,
            entered: now,
            invited_until: now + INVITATION,
            armed_at: None,
            disarmed_at: None,
            commanded_until: None,
            attitude,
            breaks,
        }
    }

    /// Whether the radio may be off now: only on purpose, as it was confirmed, and only after the board armed.
    #[must_use]
    pub fn radio_may_go(&self) -> bool {
        self.breaks.radio && self.step.radio_off && self.armed_at.is_some()
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
}

/// A stop under way.
#[derive(Debug, Clone, PartialEq)]
pub struct Stopping {
    /// Why.
    pub reason: String,
    /// When it began.
    pub since: Time,
    /// When the bytes go out next.
    pub next: Time,
    /// Since when everything is seen at rest.
    pub rest_since: Option<Time>,
    /// When the large words were shown last.
    pub warned: Option<Time>,
    /// The start was invited by this session, or seen to begin: a forced disarm may follow.
    pub ours: bool,
    /// The wire is gone: nothing can be sent until it is back.
    pub lost: bool,
    /// When the board at a wire that came back was asked who it is; `None` once it is known to be ours.
    pub asked: Option<Time>,
    /// The switch that started it, if one did.
    pub switch: Option<Switch>,
    /// That the switch has to go off was said.
    pub said_switch: bool,
    /// That the radio has to go on for the switch to be seen was said.
    pub said_radio: bool,
}
