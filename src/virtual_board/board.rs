//! The flight controller: starts and restarts, listens to its receiver, and commands its outputs.
//!
//! Knows pulses and settings; how they travel to a computer is not its business.

use super::arming::{Arming, Note};
use super::attitude::Attitude;
use super::config::{Mounted, StabiliserConfig, WorldConfig};
use super::frame::MOST;
use super::make::{Function, Make};
use super::memory::Memory;
use super::numbers::to_u16;
use super::radio::CHANNELS;
use super::stabiliser::{Arms, arms, push};
use super::tuning::{Started, Tuning};
use crate::measure::time::Time;
use std::sync::Arc;
use std::time::Duration;

/// Commanded to a motor that is to rest, µs.
pub const REST: u16 = 1000;

/// Whether the board runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Power {
    Off,
    /// Starting; up at this moment.
    Starting(Time),
    /// Up since this moment.
    Up(Time),
}

/// One motor run by command, up to its end.
#[derive(Debug, Clone, Copy)]
pub struct MotorTest {
    pub output: usize,
    pub pulse: u16,
    pub until: Time,
}

/// The flight controller.
#[derive(Clone)]
pub struct Board {
    pub make: Arc<Make>,
    pub power: Power,
    pub memory: Memory,
    pub tuning: Tuning,
    pub started: Started,
    pub arming: Arming,
    pub test: Option<MotorTest>,
    /// An open console keeps it from arming.
    pub console_blocks: bool,
    /// Whether the battery is in.
    pub battery: bool,
    /// What it has to say, to be sent when it can.
    pub notes: Vec<Note>,
    arms: Arms,
    pulses: Option<[u16; CHANNELS]>,
    lost_since: Option<Time>,
    last_throttle: u16,
    cuts_after: Duration,
    off_since: Option<Time>,
    spinning_since: Option<Time>,
}

impl Board {
    pub fn new(config: &WorldConfig) -> Self {
        let make = config.make();
        let memory = Memory::new(&make.settings, config.wire.settings, make.stores_at_once);
        Self {
            power: Power::Off,
            tuning: Tuning::of(&memory, &make),
            started: Started::of(&memory, &make),
            memory,
            arms: arms(make.frame),
            make,
            arming: Arming::new(config.arm_by, config.rearms, config.arms_at_start),
            test: None,
            console_blocks: false,
            battery: false,
            notes: Vec::new(),
            pulses: None,
            lost_since: None,
            last_throttle: 0,
            cuts_after: config.conduct.cuts_after,
            off_since: None,
            spinning_since: None,
        }
    }

    /// Loses power, or begins to start.
    pub fn set_power(&mut self, power: Power) {
        self.power = power;
        self.arming.restart();
        self.test = None;
        self.notes.clear();
        self.pulses = None;
        self.lost_since = None;
        self.last_throttle = 0;
        self.spinning_since = None;
    }

    /// Has started: what was not stored is forgotten.
    pub fn come_up(&mut self, now: Time) {
        self.power = Power::Up(now);
        self.memory.recall();
        self.started = Started::of(&self.memory, &self.make);
        self.refresh();
    }

    /// Since when it is up.
    pub fn up_since(&self) -> Option<Time> {
        match self.power {
            Power::Up(since) => Some(since),
            Power::Off | Power::Starting(_) => None,
        }
    }

    /// Acts on changed settings.
    pub fn refresh(&mut self) {
        if self.tuning.changes != self.memory.changes {
            self.tuning = Tuning::of(&self.memory, &self.make);
        }
    }

    /// Whether it is armed.
    pub fn armed(&self) -> bool {
        self.arming.since().is_some()
    }

    /// Why it does nothing that it does only while nothing turns by its doing, if something does.
    pub fn busy(&self) -> Option<&'static str> {
        let runs = self.test.is_some().then_some("not while a motor runs");
        if self.armed() { Some("not while armed") } else { runs }
    }

    /// The pulses that it hears; `None`: no receiver signal.
    pub fn pulses(&self) -> Option<&[u16; CHANNELS]> {
        self.pulses.as_ref()
    }

    /// Whether a function is on by its switch.
    pub fn is_on(&self, function: Function) -> bool {
        self.pulses.as_ref().is_some_and(|pulses| self.tuning.is_on(function, pulses))
    }

    /// Self-level is on where its switch says so, and where no switch is bound to it.
    fn self_level(&self) -> bool {
        !self.tuning.bound(Function::SelfLevel) || self.is_on(Function::SelfLevel)
    }

    /// Runs one output at a pulse until a moment.
    pub fn run(&mut self, output: usize, pulse: u16, until: Time) {
        self.test = Some(MotorTest { output, pulse, until });
    }

    /// What speaks against arming.
    pub fn check(&self) -> Result<(), Note> {
        if self.test.is_some() {
            return Err(Note::MotorTest);
        }
        if self.console_blocks {
            return Err(Note::ConsoleOpen);
        }
        if !self.battery && !self.make.arms_on_usb {
            return Err(Note::NoBattery);
        }
        match self.pulses {
            None => Err(Note::NoReceiver),
            Some(_) if self.last_throttle >= self.make.throttle_below => Err(Note::Throttle(self.last_throttle)),
            Some(_) => Ok(()),
        }
    }

    /// What comes from the receiver at a moment; a protocol or port that does not fit is heard as nothing.
    pub fn hear(&mut self, now: Time, heard: Option<[u16; CHANNELS]>) {
        self.refresh();
        self.pulses = heard;
        let Some(pulses) = heard else {
            self.lost_since.get_or_insert(now);
            self.arming.silent();
            self.judge_loss(now);
            return;
        };
        self.lost_since = None;
        self.last_throttle = pulses.get(self.tuning.throttle.wrapping_sub(1)).copied().unwrap_or(0);
        let on = self.still_on(now, self.tuning.is_on(Function::Arm, &pulses));
        let bound = self.tuning.bound(Function::Arm);
        let note = self.arming.switch(now, bound, on, self.check());
        self.notes.extend(note);
    }

    /// Whether the arm switch counts as on: on a board that is slow to cut, for a while longer than it is.
    fn still_on(&mut self, now: Time, on: bool) -> bool {
        if on || !self.armed() {
            self.off_since = None;
            return on;
        }
        now.since(*self.off_since.get_or_insert(now)) < self.cuts_after
    }

    /// Ends what is due: a motor test, the wait after link loss.
    pub fn work(&mut self, now: Time) {
        if self.test.is_some_and(|test| now >= test.until) {
            self.test = None;
        }
        self.judge_loss(now);
    }

    fn judge_loss(&mut self, now: Time) {
        if self.loss_deadline() <= now && self.arming.disarm(now).is_some() {
            self.arming.silent();
            self.notes.push(Note::LossCut);
        }
    }

    fn loss_deadline(&self) -> Time {
        match self.lost_since {
            Some(since) if self.tuning.loss_cuts && self.armed() => since + self.tuning.loss_wait,
            _ => Time::NEVER,
        }
    }

    /// When something of it is due.
    pub fn wake(&self) -> Time {
        let start = if let Power::Starting(at) = self.power { at } else { Time::NEVER };
        let test = self.test.map_or(Time::NEVER, |test| test.until);
        start.min(test).min(self.loss_deadline())
    }

    /// The attitude as it sees it on a craft that stands so, mounted so.
    pub fn sees(&self, craft: Attitude, mounted: Mounted) -> Attitude {
        craft.seen(mounted, self.started.turn, self.tuning.level)
    }

    /// Commands its motors: pulses by motor in µs, 0 where there is no pulse or no motor. It takes each motor to sit at the corner of its
    /// number, wherever its wires lead. `stands`: see [`Board::sees`].
    pub fn outputs(&mut self, now: Time, stands: (Attitude, Mounted), stabiliser: StabiliserConfig) -> [u16; MOST] {
        if self.up_since().is_none() {
            return [0; MOST];
        }
        if let Some(test) = self.test {
            let mut outputs = self.each(|_| REST);
            if let Some(output) = outputs.get_mut(test.output) {
                *output = test.pulse;
            }
            return outputs;
        }
        let Some(base) = self.throttle_pulse() else {
            self.spinning_since = None;
            return self.each(|_| REST);
        };
        let since = *self.spinning_since.get_or_insert(now);
        let seen = self.sees(stands.0, stands.1);
        let pushes = push(stabiliser, &self.arms, seen, self.self_level(), now.since(since));
        // Idle is the lowest that a turning motor is ever commanded.
        self.each(|place| to_u16((base + pushes[place]).clamp(self.tuning.idle, 2000.0)))
    }

    /// The pulses of its motors, each by its place on the frame.
    fn each(&self, pulse: impl Fn(usize) -> u16) -> [u16; MOST] {
        std::array::from_fn(|motor| self.make.places.get(motor).map_or(0, |place| pulse(*place)))
    }

    /// Pulse of all motors before the stabiliser, µs; `None`: they rest.
    fn throttle_pulse(&self) -> Option<f64> {
        self.arming.since()?;
        let idle = self.tuning.idle;
        if self.last_throttle < self.make.throttle_below {
            return self.tuning.spin_at_zero.then_some(idle);
        }
        let share = (f64::from(self.last_throttle) - f64::from(REST)) / 1000.0;
        Some(idle + share.clamp(0.0, 1.0) * (2000.0 - idle))
    }
}
