//! The settings that the board acts on, looked up once after each change of its memory.

use super::frame::MOST;
use super::make::{Amount, BandOf, Function, Make};
use super::memory::Memory;
use super::numbers::{to_u16, to_u32};
use super::radio::CHANNELS;
use crate::measure::signal_timing::MotorSignal;
use std::time::Duration;

#[derive(Clone)]
struct Band {
    function: Function,
    channel: usize,
    from: u16,
    to: u16,
}

/// What the working values mean.
#[derive(Clone)]
pub struct Tuning {
    pub changes: u64,
    pub idle: f64,
    pub spin_at_zero: bool,
    pub throttle: usize,
    pub loss_cuts: bool,
    pub loss_wait: Duration,
    pub volt_ratio: f64,
    pub level: [f64; 2],
    pub speed_telemetry: bool,
    bands: Vec<Band>,
    ends_inside: [bool; 2],
}

impl Tuning {
    pub fn of(memory: &Memory, make: &Make) -> Self {
        let roles = &make.roles;
        Self {
            changes: memory.changes,
            idle: roles.idle.of(memory),
            spin_at_zero: roles.spin_at_zero.of(memory),
            throttle: place(roles.throttle.of(memory)),
            loss_cuts: roles.loss_cuts.of(memory),
            loss_wait: Duration::from_millis(u64::from(to_u32(roles.loss_wait.of(memory)))),
            volt_ratio: roles.volt_ratio.of(memory),
            level: [roles.level[0].of(memory), roles.level[1].of(memory)],
            speed_telemetry: roles.speeds.of(memory),
            bands: bands(memory, make),
            ends_inside: make.ends_inside,
        }
    }

    /// Whether a function has a band on any channel.
    pub fn bound(&self, function: Function) -> bool {
        self.bands.iter().any(|band| band.function == function)
    }

    /// Whether a function is on with these pulses: between the ends of a band of its own.
    pub fn is_on(&self, function: Function, pulses: &[u16; CHANNELS]) -> bool {
        let [from, to] = self.ends_inside;
        self.bands.iter().any(|band| {
            let inside = |pulse: &u16| {
                (band.from < *pulse || from && band.from == *pulse) && (*pulse < band.to || to && *pulse == band.to)
            };
            band.function == function && pulses.get(band.channel - 1).is_some_and(inside)
        })
    }
}

fn bands(memory: &Memory, make: &Make) -> Vec<Band> {
    let band = |names: &super::make::BandNames| {
        let function = match &names.of {
            BandOf::Function(function) => *function,
            BandOf::Setting(name, codes) => {
                let number = memory.get(name);
                codes.iter().find(|(code, _)| code.total_cmp(&number).is_eq())?.1
            }
        };
        let channel = place(memory.get(&names.channel));
        let end = |name| to_u16(memory.get(name));
        (channel > 0).then(|| Band { function, channel, from: end(&names.from), to: end(&names.to) })
    };
    make.bands.iter().filter_map(band).collect()
}

/// What takes a restart: as it was when the board came up.
#[derive(Debug, Clone, Copy)]
pub struct Started {
    pub signal: MotorSignal,
    /// What the receiver must speak, and on which port; `None`: anything, anywhere.
    pub receiver: [Option<u16>; 2],
    pub turn: f64,
    /// The output that drives each motor, from 0; `usize::MAX` where there is no such motor.
    pub order: [usize; MOST],
    /// Whether each output's motor turns the other way than it is wired.
    pub reversed: [bool; MOST],
}

impl Started {
    pub fn of(memory: &Memory, make: &Make) -> Self {
        let roles = &make.roles;
        let signal = roles.signal.as_ref().and_then(|(name, codes)| {
            let number = memory.get(name);
            codes.iter().find(|(code, _)| code.total_cmp(&number).is_eq())
        });
        let output = |amount: &Amount| place(amount.of(memory)).saturating_sub(1);
        let order = std::array::from_fn(|motor| roles.order.get(motor).map_or(usize::MAX, output));
        let by_number: [bool; MOST] =
            std::array::from_fn(|number| roles.reversed.get(number).is_some_and(|flag| flag.of(memory)));
        let mut reversed = by_number;
        if roles.reversed_by_motor {
            for (output, reversed) in reversed.iter_mut().enumerate() {
                *reversed = order.iter().position(|of| *of == output).is_some_and(|motor| by_number[motor]);
            }
        }
        let heard = |amount: &Option<super::make::Amount>| amount.as_ref().map(|amount| to_u16(amount.of(memory)));
        Self {
            signal: signal.map_or(MotorSignal::Pwm, |(_, signal)| *signal),
            receiver: [heard(&roles.protocol), heard(&roles.port)],
            turn: roles.turn.of(memory),
            order,
            reversed,
        }
    }

    /// Whether a receiver that speaks so on this port is heard.
    pub fn hears(&self, protocol: u16, port: u16) -> bool {
        self.receiver[0].is_none_or(|own| own == protocol) && self.receiver[1].is_none_or(|own| own == port)
    }
}

fn place(value: f64) -> usize {
    usize::from(to_u16(value))
}
