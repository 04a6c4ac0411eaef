//! The settings that the board acts on, looked up once after each change of its memory.

use super::finch::{DIRECT, ROWS};
use super::kind::BoardKind;
use super::memory::Memory;
use super::numbers::{to_u16, to_u32};
use super::radio::CHANNELS;
use crate::measure::signal_timing::MotorSignal;
use std::time::Duration;

/// Functions that a switch can turn on; the numbers are those of the rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Function {
    Arm = 1,
    Buzzer = 2,
    SelfLevel = 3,
    Lights = 4,
}

impl Function {
    pub const ALL: [Self; 4] = [Self::Arm, Self::Buzzer, Self::SelfLevel, Self::Lights];
}

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
}

impl Tuning {
    pub fn of(memory: &Memory, board: BoardKind) -> Self {
        Self {
            changes: memory.changes,
            idle: memory.get("IDLE_US"),
            spin_at_zero: memory.get("SPIN_AT_ZERO") > 0.0,
            throttle: channel(memory.get("THR_CHANNEL")),
            loss_cuts: memory.get("LOSS_ACTION") > 0.0,
            loss_wait: Duration::from_millis(u64::from(to_u32(memory.get("LOSS_WAIT_MS")))),
            volt_ratio: memory.get("VOLT_RATIO"),
            level: [memory.get("LEVEL_ROLL"), memory.get("LEVEL_PITCH")],
            speed_telemetry: memory.get("SPEED_TELEM") > 0.0,
            bands: bands(memory, board),
        }
    }

    /// Whether a function has a band on any channel.
    pub fn bound(&self, function: Function) -> bool {
        self.bands.iter().any(|band| band.function == function)
    }

    /// Whether a function is on with these pulses: `from <= pulse < to`.
    pub fn is_on(&self, function: Function, pulses: &[u16; CHANNELS]) -> bool {
        self.bands.iter().any(|band| {
            band.function == function
                && pulses.get(band.channel - 1).is_some_and(|pulse| band.from <= *pulse && *pulse < band.to)
        })
    }
}

fn bands(memory: &Memory, board: BoardKind) -> Vec<Band> {
    let band = |function, prefix: &str| {
        let channel = channel(memory.get(&format!("{prefix}_CHANNEL")));
        let end = |name| to_u16(memory.get(&format!("{prefix}_{name}")));
        (channel > 0).then(|| Band { function, channel, from: end("FROM"), to: end("TO") })
    };
    if !board.has_rows() {
        return Function::ALL.iter().zip(DIRECT).filter_map(|(function, prefix)| band(*function, prefix)).collect();
    }
    (1..=ROWS)
        .filter_map(|row| {
            let number = to_u16(memory.get(&format!("ROW{row}_FUNC")));
            let function = *Function::ALL.iter().find(|function| **function as u16 == number)?;
            band(function, &format!("ROW{row}"))
        })
        .collect()
}

/// What takes a restart: as it was when the board came up.
#[derive(Debug, Clone, Copy)]
pub struct Started {
    pub signal: MotorSignal,
    pub protocol: u16,
    pub port: u16,
    pub turn: f64,
    /// The output that drives each motor, from 0.
    pub order: [usize; 4],
    /// Whether each output's motor turns the other way than it is wired.
    pub reversed: [bool; 4],
}

impl Started {
    pub fn of(memory: &Memory) -> Self {
        let of_each = |name: fn(usize) -> String| [1, 2, 3, 4].map(|number| memory.get(&name(number)));
        let signal = usize::from(to_u16(memory.get("MOTOR_SIGNAL")));
        Self {
            signal: MotorSignal::ALL.get(signal).copied().unwrap_or(MotorSignal::Pwm),
            protocol: to_u16(memory.get("RX_PROTOCOL")),
            port: to_u16(memory.get("RX_PORT")),
            turn: memory.get("BOARD_TURN"),
            order: of_each(|number| format!("MOTOR{number}_OUT")).map(|output| channel(output).saturating_sub(1)),
            reversed: of_each(|number| format!("OUT{number}_REVERSED")).map(|reversed| reversed > 0.0),
        }
    }
}

fn channel(value: f64) -> usize {
    usize::from(to_u16(value))
}
