//! Arming: by switch or by command, what is refused and why, and what keeps a craft disarmed.
//!
//! Knows positions and refusals, not channels or messages.

use super::config::ArmBy;
use crate::measure::time::Time;
use std::time::Duration;

/// How long a board that arms again by itself waits: chosen, long enough to be seen at rest between.
const REARMS_AFTER: Duration = Duration::from_millis(600);

/// What the board says about arming.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum Note {
    #[error("Armed")]
    Armed,
    #[error("Disarmed")]
    Disarmed,
    #[error("Receiver lost: motors cut")]
    LossCut,
    #[error("Arm refused: throttle at {0} us")]
    Throttle(u16),
    #[error("Arm refused: no receiver signal")]
    NoReceiver,
    #[error("Arm refused: arm switch is already on")]
    AlreadyOn,
    #[error("Arm refused: arm switch is off")]
    SwitchOff,
    #[error("Arm refused: a motor test is running")]
    MotorTest,
    #[error("Arm refused: console is open")]
    ConsoleOpen,
    #[error("Arm refused: battery is out")]
    NoBattery,
}

/// Whether the craft is armed, and what its switch has done.
#[derive(Clone)]
pub struct Arming {
    by: ArmBy,
    rearms: bool,
    arms_at_start: bool,
    /// Since when it is armed.
    since: Option<Time>,
    was_on: bool,
    /// No switch position has been seen since the start or since the link came back.
    unseen: bool,
    /// Must leave the band before it can arm by switch.
    blocked: bool,
    rearm_at: Option<Time>,
}

impl Arming {
    pub fn new(by: ArmBy, rearms: bool, arms_at_start: bool) -> Self {
        Self { by, rearms, arms_at_start, since: None, was_on: false, unseen: true, blocked: false, rearm_at: None }
    }

    /// A start of the board: disarmed, nothing seen.
    pub fn restart(&mut self) {
        *self = Self::new(self.by, self.rearms, self.arms_at_start);
    }

    /// What its switch does from now on.
    pub fn arms_by(&mut self, by: ArmBy) {
        self.by = by;
    }

    /// Whether it arms again by itself from now on.
    pub fn rearms(&mut self, rearms: bool) {
        self.rearms = rearms;
    }

    pub fn since(&self) -> Option<Time> {
        self.since
    }

    /// The switch as the board sees it now; `bound` says whether there is one, `check` what speaks against arming.
    /// Without one, what was armed by command stays armed.
    pub fn switch(&mut self, now: Time, bound: bool, on: bool, check: Result<(), Note>) -> Option<Note> {
        let came = on && !self.was_on;
        let left = !on && self.was_on;
        let first = std::mem::replace(&mut self.unseen, false);
        self.was_on = on;
        if !on {
            self.blocked = false;
            self.rearm_at = None;
            let disarms = left || (self.by == ArmBy::Level && bound);
            return (disarms && self.since.take().is_some()).then_some(Note::Disarmed);
        }
        if first && !self.arms_at_start && self.since.is_none() {
            self.blocked = true;
            return Some(Note::AlreadyOn);
        }
        if self.rearm_at.is_some_and(|at| now >= at) {
            self.blocked = false;
            self.rearm_at = None;
        }
        if self.since.is_some() || self.blocked || (self.by == ArmBy::Change && !came) {
            return None;
        }
        if let Err(note) = check {
            self.blocked = true;
            return Some(note);
        }
        self.since = Some(now);
        Some(Note::Armed)
    }

    /// Arms by command; `bound` says whether a switch is bound to arming at all.
    pub fn command(&mut self, now: Time, bound: bool, check: Result<(), Note>) -> Result<Note, Note> {
        if self.by == ArmBy::Level && bound && !self.was_on {
            return Err(Note::SwitchOff);
        }
        check?;
        if self.since.is_none() {
            self.since = Some(now);
            self.blocked = false;
        }
        Ok(Note::Armed)
    }

    /// Disarms by command or by the board itself; the switch must then leave its band first.
    pub fn disarm(&mut self, now: Time) -> Option<Note> {
        self.since.take()?;
        self.blocked = self.was_on;
        if self.rearms && self.was_on {
            self.rearm_at = Some(now + REARMS_AFTER);
        }
        Some(Note::Disarmed)
    }

    /// The receiver fell silent: what the switch did is no longer known, and a disarmed craft starts afresh.
    pub fn silent(&mut self) {
        if self.since.is_none() {
            self.unseen = true;
            self.was_on = false;
        }
    }
}
