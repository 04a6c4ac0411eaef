//! A craft of the abstract world, and the frames that reach it: what it is, what it tells, what it does with a frame.
//!
//! Must not be here: what the program makes of it, what is right.

use quadjig::board::signals::{Identity, LinkEvent};
use quadjig::measure::time::Time;
use std::time::Duration;

/// The step of the world's clock, and how often a craft tells everything.
pub const TICK: Duration = Duration::from_millis(100);
/// A frame's bytes: as long as a stop of MAVLink 2 is.
const LENGTH: usize = 33;
/// How long a restart takes.
const DARK: Duration = Duration::from_millis(1500);
/// How long one motor is run by command.
pub const LEASE: Duration = Duration::from_secs(2);
pub const IDS: [&str; 2] = ["766972740000002a", "766972740000002b"];

/// What may be on the wire towards a craft.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Frame {
    Identify,
    Ask,
    Disarm,
    Forced,
    Idle,
    Band,
    Store,
    Restart,
    Motor,
}

const FRAMES: [Frame; 9] = [
    Frame::Identify,
    Frame::Ask,
    Frame::Disarm,
    Frame::Forced,
    Frame::Idle,
    Frame::Band,
    Frame::Store,
    Frame::Restart,
    Frame::Motor,
];

impl Frame {
    pub fn bytes(self) -> Vec<u8> {
        vec![self as u8; LENGTH]
    }

    pub fn of(bytes: &[u8]) -> Self {
        FRAMES[usize::from(bytes[0])]
    }

    pub fn stops(self) -> bool {
        matches!(self, Self::Disarm | Self::Forced)
    }

    pub fn changes(self) -> bool {
        matches!(self, Self::Idle | Self::Band | Self::Store | Self::Restart)
    }
}

/// See the module.
#[derive(Debug, Clone)]
pub struct Craft {
    who: usize,
    pub armed: bool,
    /// The arm switch, as it stands at the radio.
    pub switch: bool,
    pub throttle: bool,
    /// Disarmed by the link: it arms again once the switch was off.
    held_off: bool,
    pub battery: bool,
    sensor: bool,
    /// The arm band was written over the switch's rest.
    pub band_open: bool,
    /// One motor runs until then.
    run_until: Time,
    dark_until: Time,
    /// By how much its clock is behind, µs; each restart puts it back.
    clock: u64,
    /// How often it has restarted.
    pub restarts: u8,
    /// It arms by itself.
    pub wild: bool,
}

impl Craft {
    /// The one that the operator means: at rest, on its battery. `sensor`: it measures its pack.
    pub fn ours(sensor: bool) -> Self {
        Self {
            who: 0,
            armed: false,
            switch: false,
            throttle: false,
            held_off: false,
            battery: true,
            sensor,
            band_open: false,
            run_until: Time(0),
            dark_until: Time(0),
            clock: 0,
            restarts: 0,
            wild: false,
        }
    }

    /// Another: armed, as if it flew. `alike`: it was switched on with the first.
    pub fn other(alike: bool) -> Self {
        let clock = if alike { 0 } else { 40_000_000 };
        Self { who: 1, armed: true, switch: true, wild: true, clock, ..Self::ours(true) }
    }

    fn dark(&self, now: Time) -> bool {
        now < self.dark_until
    }

    pub fn advance(&mut self, now: Time) {
        if self.dark(now) {
            return;
        }
        let on = self.switch || self.band_open;
        self.held_off &= on;
        self.armed = (on && !self.held_off && !self.throttle) || (self.armed && on) || (self.wild && !self.held_off);
    }

    pub fn restarts(&mut self, now: Time) {
        self.restarts += 1;
        (self.armed, self.run_until) = (false, Time(0));
        self.dark_until = now + DARK;
        self.clock += 80_000_000;
    }

    pub fn outputs(&self, now: Time) -> [u16; 8] {
        let each = |motor| if self.armed || (motor == 1 && now < self.run_until) { 1150 } else { 1000 };
        [each(0), each(1), each(2), each(3), 0, 0, 0, 0]
    }

    pub fn at_rest(&self, now: Time) -> bool {
        !self.armed && now >= self.run_until
    }

    /// What it tells at this moment; nothing while it is dark.
    pub fn tells(&self, now: Time) -> Vec<LinkEvent> {
        if self.dark(now) {
            return Vec::new();
        }
        let board_time = u32::try_from((1_000_000_000 + now.0 - self.clock) / 1000).ok();
        let mut pulses = [None; 18];
        pulses[2] = Some(if self.throttle { 1500 } else { 988 });
        pulses[5] = Some(if self.switch { 2000 } else { 1000 });
        let millivolts = self.sensor.then_some(if self.battery { 7900 } else { 0 });
        vec![
            LinkEvent::Alive { vehicle: 1, armed: self.armed },
            LinkEvent::Channels { count: 8, pulses, board_time },
            LinkEvent::Outputs { pulses: self.outputs(now), board_time },
            LinkEvent::Attitude { roll: 0.0, pitch: 0.0, yaw: 0.0, board_time },
            LinkEvent::Power { millivolts, centiamps: None, receiver: Some(true) },
        ]
    }

    /// A frame reaches it; what it answers.
    pub fn hears(&mut self, now: Time, frame: Frame) -> Option<LinkEvent> {
        if self.dark(now) {
            return None;
        }
        match frame {
            Frame::Identify => return Some(LinkEvent::Identity(identity(self.who))),
            Frame::Disarm | Frame::Forced => {
                (self.armed, self.held_off, self.run_until) = (false, true, Time(0));
                self.wild = false;
            }
            Frame::Band => self.band_open = true,
            Frame::Restart => self.restarts(now),
            Frame::Motor => self.run_until = now + LEASE,
            Frame::Ask | Frame::Idle | Frame::Store => {}
        }
        None
    }
}

pub fn identity(who: usize) -> Identity {
    Identity { id: IDS[who].to_owned(), firmware: "2.4.1".to_owned(), kind: "Finch".to_owned(), name: None }
}
