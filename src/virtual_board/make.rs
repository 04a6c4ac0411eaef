//! What a board is made as: its settings, what it takes each of them for, what it tells and what feeds it.
//!
//! Plain data: the Finch and its kin are makes (see `finch`), and so is any board that somebody describes. Must not be
//! here: what a board does.

use super::console::Dialect;
use super::frame::Frame;
use super::memory::Memory;
use super::packets::Speech;
use super::settings::Definition;
use crate::measure::signal_timing::MotorSignal;
use crate::measure::words::words;
use std::sync::Arc;

/// A make of board.
#[derive(Debug, Clone, PartialEq)]
pub struct Make {
    /// The name that it gives of its kind.
    pub name: String,
    /// All its settings, in the order in which it lists them.
    pub settings: Vec<Definition>,
    /// What it takes its settings for.
    pub roles: Roles,
    /// Where its functions are bound.
    pub bands: Vec<BandNames>,
    /// Whether the lower and the upper end of a band lie inside it.
    pub ends_inside: [bool; 2],
    /// The throttle must be below this to arm, µs.
    pub throttle_below: u16,
    /// Whether it arms with the battery out.
    pub arms_on_usb: bool,
    /// Whether USB alone feeds its receiver.
    pub usb_feeds_receiver: bool,
    /// Whether USB alone feeds its motors.
    pub usb_feeds_motors: bool,
    /// Whether every write outlives a restart by itself.
    pub stores_at_once: bool,
    /// The longest that one motor runs by command, seconds; `None`: none is.
    pub longest_run: Option<f32>,
    /// The frame of its crafts.
    pub frame: Frame,
    /// The place of each motor on it, in the order of their numbers.
    pub places: Vec<usize>,
    /// Whether its crafts' front propellers sweep away from the nose.
    pub outward: bool,
    /// Whether its motors sound its buzzer.
    pub motors_sound: bool,
    /// Whether it tells motor speeds.
    pub speeds: bool,
    /// Motor constant of its crafts, rpm per volt, where it is known.
    pub kv: Option<f64>,
    /// Its console, where it has one: its wire carries no MAVLink then.
    pub dialect: Option<Arc<Dialect>>,
    /// How it speaks in packets, where it does that instead.
    pub packets: Option<Speech>,
    /// Whether it refuses to arm while its console is open.
    pub console_blocks_arming: bool,
    /// What its receiver speaks, and which port it hangs on, in the board's numbers.
    pub receiver: [u16; 2],
}

/// What a number of the board is an amount of: `base + scale × number`; `base` alone where no setting holds it.
#[derive(Debug, Clone, PartialEq)]
pub struct Amount {
    /// The setting.
    pub setting: Option<String>,
    /// See the type.
    pub scale: f64,
    /// See the type.
    pub base: f64,
}

impl Amount {
    /// That no setting holds.
    #[must_use]
    pub fn fixed(base: f64) -> Self {
        Self { setting: None, scale: 0.0, base }
    }

    /// The number of a setting as it is.
    #[must_use]
    pub fn number(setting: &str) -> Self {
        Self { setting: Some(setting.to_owned()), scale: 1.0, base: 0.0 }
    }

    pub(super) fn of(&self, memory: &Memory) -> f64 {
        self.base + self.setting.as_ref().map_or(0.0, |name| self.scale * memory.get(name))
    }
}

/// A yes or no: whether a setting holds a number; fixed where no setting holds it.
#[derive(Debug, Clone, PartialEq)]
pub enum Flag {
    /// So it always is.
    Fixed(bool),
    /// The setting, and its number for yes.
    Is(String, f64),
}

impl Flag {
    pub(super) fn of(&self, memory: &Memory) -> bool {
        match self {
            Self::Fixed(so) => *so,
            Self::Is(name, yes) => memory.get(name).total_cmp(yes).is_eq(),
        }
    }
}

/// What the board takes its settings for.
#[derive(Debug, Clone, PartialEq)]
pub struct Roles {
    /// Idle, µs.
    pub idle: Amount,
    /// Whether motors spin at zero throttle.
    pub spin_at_zero: Flag,
    /// The throttle's channel, from 1.
    pub throttle: Amount,
    /// Whether motors are cut on link loss.
    pub loss_cuts: Flag,
    /// After which time, ms.
    pub loss_wait: Amount,
    /// Ratio of the voltage divider.
    pub volt_ratio: Amount,
    /// Level trims, roll and pitch, degrees.
    pub level: [Amount; 2],
    /// Whether speeds are told.
    pub speeds: Flag,
    /// The setting of the motor signal, and its number for each.
    pub signal: Option<(String, Vec<(f64, MotorSignal)>)>,
    /// What the receiver speaks; `None`: the board finds out.
    pub protocol: Option<Amount>,
    /// The port that it listens to; `None`: there is one.
    pub port: Option<Amount>,
    /// How it sits in the frame, degrees clockwise.
    pub turn: Amount,
    /// The output of each motor, from 1.
    pub order: Vec<Amount>,
    /// Whether each motor is reversed.
    pub reversed: Vec<Flag>,
    /// Whether that is counted by the motor's number; else by its output.
    pub reversed_by_motor: bool,
}

words! {
    /// Functions that a switch can turn on.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[expect(missing_docs, reason = "the names say it")]
    pub enum Function, word {
        Arm = "arm",
        Buzzer = "buzzer",
        SelfLevel = "self-level",
        Lights = "lights",
    }
}

/// What a band is for.
#[derive(Debug, Clone, PartialEq)]
pub enum BandOf {
    /// One function, always.
    Function(Function),
    /// What the number in a setting says.
    Setting(String, Vec<(f64, Function)>),
}

/// The settings of one band.
#[derive(Debug, Clone, PartialEq)]
#[expect(missing_docs, reason = "each names the setting that it is called after")]
pub struct BandNames {
    pub of: BandOf,
    pub channel: String,
    pub from: String,
    pub to: String,
}
