//! The transmitter: sticks, switches and mixes, and the pulse of every channel at a moment.
//!
//! A movement is a function of time, not a series of steps. Knows nothing of the receiver or the board.

use super::config::{Mix, RadioConfig, StickConfig};
use super::numbers::to_u16;
use super::rng::Chances;
use crate::measure::time::Time;
use std::time::Duration;

/// Channels that the radio sends.
pub const CHANNELS: usize = 16;
/// Names of the sticks, in the order of the configuration.
pub const STICKS: [&str; 4] = ["roll", "pitch", "throttle", "yaw"];
/// How long a wiggle takes: right, left, and back to where it was.
const WIGGLE: Duration = Duration::from_millis(1600);
/// How long a hand holds a switch that springs back.
const HELD: Duration = Duration::from_millis(700);
const JITTER: u64 = 0x71;

#[derive(Clone)]
struct Stick {
    config: StickConfig,
    /// −1 … 1 of the travel; beyond the ends only as far as the pulse allows.
    at: f64,
    wiggling: Option<Time>,
}

#[derive(Clone)]
struct Switch {
    name: String,
    channel: usize,
    rests: Vec<f64>,
    position: usize,
    /// Springs back to position 0 once the hand leaves it.
    springs: bool,
    /// When it was put where it is.
    put: Time,
}

/// The transmitter in somebody's hands.
#[derive(Clone)]
pub struct Radio {
    pub on: bool,
    sticks: [Stick; 4],
    switches: Vec<Switch>,
    config: RadioConfig,
    /// By channel.
    jitter: [Chances; CHANNELS],
}

/// A switch as the truth tells it.
pub struct SwitchState<'r> {
    pub name: &'r str,
    pub channel: usize,
    pub position: usize,
    pub positions: usize,
}

impl Radio {
    pub fn new(config: RadioConfig, seed: u64) -> Self {
        let mut sticks = config.sticks.map(|config| Stick { config, at: 0.0, wiggling: None });
        sticks[2].at = -1.0;
        let switches = config
            .switches
            .iter()
            .map(|switch| Switch {
                name: switch.name.clone(),
                channel: switch.channel,
                rests: switch.rests.clone(),
                position: switch.position.min(switch.rests.len().saturating_sub(1)),
                springs: switch.springs,
                put: Time(0),
            })
            .collect();
        let mut place = 0;
        let jitter = [(); CHANNELS].map(|()| {
            place += 1;
            Chances::new(seed ^ place, JITTER)
        });
        Self { on: config.on, sticks, switches, config, jitter }
    }

    /// The pulses that leave the transmitter at a moment, in whole µs; `frame` numbers the jitter.
    pub fn channels(&self, now: Time, frame: u64) -> [u16; CHANNELS] {
        let mut pulses = [self.config.unused; CHANNELS];
        for stick in &self.sticks {
            put(&mut pulses, stick.config.channel, stick.pulse(now));
        }
        for switch in &self.switches {
            put(&mut pulses, switch.channel, switch.rests.get(switch.at(now)).copied().unwrap_or(1500.0));
        }
        let unmixed = pulses;
        for mix in &self.config.mixes {
            if let (Some(from), Some(to)) =
                (unmixed.get(mix.from.wrapping_sub(1)), pulses.get_mut(mix.to.wrapping_sub(1)))
            {
                *to += (from - 1500.0) * mix.share;
            }
        }
        std::array::from_fn(|at| to_u16(pulses[at] + self.config.jitter * self.jitter[at].bell(frame)))
    }

    /// Puts a stick at a share of its travel, −1 … 1.
    pub fn put_stick(&mut self, stick: usize, share: f64) {
        if let Some(stick) = self.sticks.get_mut(stick) {
            stick.at = share.clamp(-1.0, 1.0);
            stick.wiggling = None;
        }
    }

    /// Puts a stick where it gives a pulse, as near as its ends allow; says the pulse that it came to, µs.
    pub fn put_stick_pulse(&mut self, stick: usize, pulse: f64) -> f64 {
        let Some(stick) = self.sticks.get_mut(stick) else { return pulse };
        let [low, centre, high] = stick.config.travel;
        let share = if pulse < centre { (pulse - centre) / (centre - low) } else { (pulse - centre) / (high - centre) };
        let share = share.clamp(-1.0, 1.0);
        stick.at = if stick.config.reversed { -share } else { share };
        stick.wiggling = None;
        stick.config.pulse(stick.at)
    }

    /// What may be set up otherwise in the transmitter: a stick's channel, its direction, its centre.
    pub fn stick_config(&mut self, stick: usize) -> Option<&mut StickConfig> {
        self.sticks.get_mut(stick).map(|stick| &mut stick.config)
    }

    /// Mixes from one channel to another from now on.
    pub fn mix(&mut self, mix: Mix) {
        self.config.mixes.push(mix);
    }

    /// Moves a stick right, left and back.
    pub fn wiggle(&mut self, stick: usize, now: Time) {
        if let Some(stick) = self.sticks.get_mut(stick) {
            stick.wiggling = Some(now);
        }
    }

    /// Pulse of a stick without jitter, µs.
    pub fn stick_pulse(&self, stick: usize, now: Time) -> f64 {
        self.sticks.get(stick).map_or(0.0, |stick| stick.pulse(now))
    }

    pub fn switches(&self, now: Time) -> impl Iterator<Item = SwitchState<'_>> {
        self.switches.iter().map(move |switch| SwitchState {
            name: &switch.name,
            channel: switch.channel,
            position: switch.at(now),
            positions: switch.rests.len(),
        })
    }

    /// Puts a switch at a position; the caller has seen that both exist.
    pub fn flip(&mut self, name: &str, position: usize, now: Time) {
        if let Some(switch) = self.switches.iter_mut().find(|switch| switch.name == name) {
            switch.position = position.min(switch.rests.len().saturating_sub(1));
            switch.put = now;
        }
    }
}

impl Switch {
    /// Where it stands at a moment.
    fn at(&self, now: Time) -> usize {
        if self.springs && now.since(self.put) >= HELD { 0 } else { self.position }
    }
}

impl Stick {
    fn pulse(&self, now: Time) -> f64 {
        self.config.pulse(self.share(now))
    }

    fn share(&self, now: Time) -> f64 {
        match self.wiggling {
            Some(since) if now.since(since) < WIGGLE => {
                let turn = now.since(since).as_secs_f64() / WIGGLE.as_secs_f64();
                (self.at + 0.7 * (turn * std::f64::consts::TAU).sin()).clamp(-1.0, 1.0)
            }
            _ => self.at,
        }
    }
}

impl StickConfig {
    fn pulse(&self, share: f64) -> f64 {
        let share = if self.reversed { -share } else { share };
        let [low, centre, high] = self.travel;
        if share < 0.0 { centre + share * (centre - low) } else { centre + share * (high - centre) }
    }
}

fn put(pulses: &mut [f64; CHANNELS], channel: usize, pulse: f64) {
    if let Some(place) = pulses.get_mut(channel.wrapping_sub(1)) {
        *place = pulse;
    }
}
