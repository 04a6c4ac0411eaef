//! What a virtual world is made of: board, radio, receiver, motors, pack, and how it stands on the bench.
//!
//! The default is the Wren 95 on the bench: USB in, battery out, radio on, switches at 0. Plain data;
//! nothing here moves. Its figures are chosen for the virtual craft, in the size of what such parts do (*common practice*),
//! not measured.

use super::conduct::{Conduct, GivenId};
use super::console::ConsoleConfig;
use super::kind::{BoardKind, FIRMWARE, version};
use super::make::Make;
use super::noise::ByteFaults;
use super::numbers::low_u32;
use super::pace::WireConfig;
use super::packets::PacketFault;
use super::protocol_variants::ProtocolConfig;
use crate::measure::signal_timing::MotorSignal;
use std::sync::Arc;
use std::time::Duration;

/// First half of the id of every virtual board: "virt".
const VIRTUAL: u64 = 0x7669_7274;

/// How whole numbers travel in a parameter's float field (MAVLink parameter protocol).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    /// The number's own bytes.
    Bytewise,
    /// Converted to a float.
    Cast,
}

/// What the arm switch does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ArmBy {
    /// Inside the band means armed, outside always disarmed.
    Level,
    /// Coming into the band arms, leaving it disarms; resting outside does nothing.
    Change,
}

/// One stick of the transmitter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StickConfig {
    /// Channel from 1.
    pub channel: usize,
    /// Whether left or down gives the long pulse.
    pub reversed: bool,
    /// Pulse at the low end, in the middle and at the high end, µs.
    pub travel: [f64; 3],
}

/// One switch of the transmitter.
#[derive(Debug, Clone, PartialEq)]
pub struct SwitchConfig {
    /// The name that stands beside it.
    pub name: String,
    /// Channel from 1.
    pub channel: usize,
    /// Pulse of each position from 0, µs; falling where the channel is reversed.
    pub rests: Vec<f64>,
    /// Position at the beginning.
    pub position: usize,
    /// Springs back to position 0 once the hand leaves it.
    pub springs: bool,
}

/// A mix that drags a second channel along.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mix {
    /// Channel that is moved, from 1.
    pub from: usize,
    /// Channel that follows, from 1.
    pub to: usize,
    /// How much of the movement about 1500 µs it takes on.
    pub share: f64,
}

/// The transmitter.
#[derive(Debug, Clone, PartialEq)]
pub struct RadioConfig {
    /// Whether it is on at the beginning.
    pub on: bool,
    /// Roll, pitch, throttle, yaw.
    pub sticks: [StickConfig; 4],
    /// The switches.
    pub switches: Vec<SwitchConfig>,
    /// The mixes.
    pub mixes: Vec<Mix>,
    /// Pulse of a channel that nothing drives, µs.
    pub unused: f64,
    /// Standard deviation of every channel, µs.
    pub jitter: f64,
}

/// What a receiver does when it no longer hears its radio.
#[derive(Debug, Clone, PartialEq)]
pub enum OnLoss {
    /// Goes on with the last pulses: the board never learns of it.
    Hold,
    /// Gives fixed pulses on the channels that have one (from channel 1), holds the others.
    Fixed(Vec<Option<u16>>),
    /// Tells the board.
    Flagged,
}

/// The receiver.
#[derive(Debug, Clone, PartialEq)]
pub struct ReceiverConfig {
    /// Time between two frames.
    pub frame: Duration,
    /// Share of frames that get lost while the radio is on, 0 … 1.
    pub missing: f64,
    /// How long without a frame until it counts the radio as lost.
    pub notices_after: Duration,
    /// How long the radio must be back until it is heard.
    pub returns_after: Duration,
    /// What it does then.
    pub on_loss: OnLoss,
    /// The board's port that it is wired to.
    pub port: u16,
    /// The protocol that it speaks, in the board's numbers.
    pub protocol: u16,
}

/// One motor with its speed controller's starting behaviour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MotorConfig {
    /// Motor constant, rpm per volt.
    pub kv: f64,
    /// Pulse at which it starts from standstill with [`PackConfig::USUAL`] volts a cell, in the middle of its variation,
    /// µs; with more, less is enough.
    pub start: f64,
    /// Within so much of that lie 95 of 100 single starts, µs.
    pub start_varies: f64,
    /// Pulse that keeps it turning once it turns, with the same volts, µs.
    pub keep: f64,
    /// Below this pulse it catches late, µs; 0: never.
    pub prompt: f64,
    /// How long it twitches there before it catches, seconds.
    pub twitches: f64,
    /// Time constant of speeding up, seconds.
    pub spin_up: f64,
    /// Time constant of coasting down, seconds.
    pub coast: f64,
    /// Whether it turns clockwise, seen from above.
    pub clockwise: bool,
}

/// The battery.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PackConfig {
    /// Whether it is plugged in at the beginning.
    pub plugged: bool,
    /// Cells in series.
    pub cells: u8,
    /// Volts without load at the beginning.
    pub volts: f64,
    /// Inner resistance, leads included, milliohms.
    pub milliohms: f64,
    /// Capacity, milliampere hours.
    pub capacity: f64,
    /// Ratio of the board's voltage divider as it really is.
    pub true_ratio: f64,
}

/// The board's stabiliser.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StabiliserConfig {
    /// How far a degree of tilt pushes a motor while self-level is on, µs.
    pub per_degree: f64,
    /// Growth without propellers about roll, pitch and yaw, µs a second.
    pub wind_up: [f64; 3],
    /// The furthest that it pushes, µs.
    pub most: f64,
}

/// How the board sits in the frame.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Mounted {
    /// Turned, degrees clockwise.
    pub turned: f64,
    /// How far it sits out of level: roll and pitch that it sees of a craft that stands level, degrees.
    pub out_of_level: [f64; 2],
    /// Whether the board adds its level trims to what it sees, instead of taking them off.
    pub adds_trims: bool,
}

/// A whole world.
#[derive(Debug, Clone, PartialEq)]
pub struct WorldConfig {
    /// Seed of every chance; its low 32 bits are the craft's number in the board's id.
    pub seed: u64,
    /// The board.
    pub board: BoardKind,
    /// What it is made as, where it is none of those.
    pub make: Option<Arc<Make>>,
    /// The version of its firmware.
    pub firmware: [u8; 3],
    /// How its parameters travel, on MAVLink.
    pub encoding: Encoding,
    /// How its console behaves, where it has one.
    pub console: ConsoleConfig,
    /// What it does wrong with its packets, where it speaks in them.
    pub packet_fault: PacketFault,
    /// What happens to bytes on their way from the board.
    pub hits_out: ByteFaults,
    /// What happens to bytes on their way to it.
    pub hits_in: ByteFaults,
    /// What its arm switch does.
    pub arm_by: ArmBy,
    /// Whether it arms again by itself after a disarm by command, the switch still being on.
    pub rearms: bool,
    /// Whether it arms at start with the switch already on, as no board should.
    pub arms_at_start: bool,
    /// How long a restart takes, the link being gone.
    pub restart: Duration,
    /// Whether USB is plugged in at the beginning.
    pub usb: bool,
    /// The transmitter.
    pub radio: RadioConfig,
    /// The receiver.
    pub receiver: ReceiverConfig,
    /// Motors by place of the frame; those that are not described are as the craft of the bench has them.
    pub motors: Vec<MotorConfig>,
    /// Which place of the frame each output is wired to; those that are not described as the board numbers them.
    pub wiring: Vec<usize>,
    /// Signals that the speed controllers accept.
    pub accepts: Vec<MotorSignal>,
    /// Whether the speed controllers send speeds.
    pub speed_telemetry: bool,
    /// The battery.
    pub pack: PackConfig,
    /// The stabiliser.
    pub stabiliser: StabiliserConfig,
    /// Roll, pitch and heading of the craft, degrees: right side down, nose up and clockwise positive.
    pub attitude: [f64; 3],
    /// How the board sits in the frame.
    pub mounted: Mounted,
    /// The wire.
    pub wire: WireConfig,
    /// How it speaks MAVLink.
    pub speech: ProtocolConfig,
    /// How it departs from a board that means well.
    pub conduct: Conduct,
}

impl WorldConfig {
    /// Its firmware in words.
    #[must_use]
    pub(super) fn firmware_name(&self) -> String {
        version(self.firmware)
    }

    /// The board's own id.
    #[must_use]
    pub(super) fn own_id(&self) -> u64 {
        VIRTUAL << 32 | u64::from(low_u32(self.seed))
    }

    /// The id that the board will give, as 16 hexadecimal digits; zeros where it gives none.
    #[must_use]
    pub fn board_id(&self) -> String {
        match self.conduct.id {
            GivenId::Own => format!("{:016x}", self.own_id()),
            GivenId::Zero | GivenId::Refused | GivenId::Silent => "0".repeat(16),
        }
    }
}

impl Default for MotorConfig {
    fn default() -> Self {
        // A motor of a craft of 95 mm in the size of its kind: one that starts between 1050 and 1150 µs (*common practice*)
        // and keeps on a little below. How widely starts vary, and both time constants, are chosen, not measured.
        Self {
            kv: 11_500.0,
            start: 1100.0,
            start_varies: 6.0,
            keep: 1078.0,
            prompt: 0.0,
            twitches: 1.0,
            spin_up: 0.06,
            coast: 0.18,
            clockwise: true,
        }
    }
}

impl Default for RadioConfig {
    fn default() -> Self {
        // 988–2012 µs: the normal full travel of many radios (*common practice*); no radio is quite exact, and by how much these
        // rests and this jitter are off is chosen.
        let stick =
            |channel, offset: f64| StickConfig { channel, reversed: false, travel: [988.0, 1500.0 + offset, 2012.0] };
        let switch = |name: &str, channel, rests: &[f64]| SwitchConfig {
            name: name.to_owned(),
            channel,
            rests: rests.to_vec(),
            position: 0,
            springs: false,
        };
        Self {
            on: true,
            sticks: [stick(1, 1.0), stick(2, -1.0), stick(3, 0.0), stick(4, 2.0)],
            switches: vec![
                switch("B", 6, &[1000.4, 1500.0, 1999.6]),
                switch("C", 7, &[1000.0, 2000.3]),
                switch("D", 8, &[999.7, 1500.4, 2000.0]),
            ],
            mixes: Vec::new(),
            unused: 1500.0,
            jitter: 0.7,
        }
    }
}

impl Default for ReceiverConfig {
    fn default() -> Self {
        // Fifty frames a second, as pulse receivers send them (*common practice*); how soon a loss and a return are noticed is
        // chosen.
        Self {
            frame: Duration::from_millis(20),
            missing: 0.0,
            notices_after: Duration::from_millis(100),
            returns_after: Duration::from_millis(200),
            on_loss: OnLoss::Flagged,
            port: 2,
            protocol: 0,
        }
    }
}

impl Default for WorldConfig {
    fn default() -> Self {
        // The craft of the bench is nobody's: its start-up time, its pack, how its stabiliser answers and how it stands are
        // chosen, in the size of what such craft have (*common practice*); nothing is taken from a board or measured.
        Self {
            seed: 1,
            board: BoardKind::Finch,
            make: None,
            firmware: FIRMWARE,
            encoding: Encoding::Bytewise,
            console: ConsoleConfig::default(),
            packet_fault: PacketFault::Sound,
            hits_out: ByteFaults::default(),
            hits_in: ByteFaults::default(),
            arm_by: ArmBy::Level,
            rearms: false,
            arms_at_start: false,
            restart: Duration::from_millis(1200),
            usb: true,
            radio: RadioConfig::default(),
            receiver: ReceiverConfig::default(),
            motors: MotorConfig::of_the_bench().take(4).collect(),
            wiring: (0..4).collect(),
            accepts: vec![MotorSignal::Pwm, MotorSignal::Oneshot125, MotorSignal::Dshot150, MotorSignal::Dshot300],
            speed_telemetry: true,
            pack: PackConfig {
                plugged: false,
                cells: 2,
                volts: 7.9,
                milliohms: 80.0,
                capacity: 450.0,
                true_ratio: 11.05,
            },
            stabiliser: StabiliserConfig { per_degree: 6.0, wind_up: [0.0, 0.0, 0.8], most: 80.0 },
            attitude: [0.3, -0.2, 40.0],
            mounted: Mounted::default(),
            wire: WireConfig::default(),
            speech: ProtocolConfig::default(),
            conduct: Conduct::default(),
        }
    }
}
