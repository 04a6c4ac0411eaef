//! The craft of the bench with another board and on another frame: as many motors as it has, each a little different.

use super::config::{MotorConfig, WorldConfig};
use super::frame::{Frame, MOST};
use super::make::Make;
use super::motor::{Motor, SURE, off_middle};
use std::sync::Arc;

impl WorldConfig {
    /// The same world with a board of this make in it.
    #[must_use]
    pub fn made(mut self, make: Arc<Make>) -> Self {
        self.conduct.usb_feeds_motors = make.usb_feeds_motors;
        self.console.blocks_arming = make.console_blocks_arming;
        self.speed_telemetry = self.speed_telemetry && make.speeds;
        self.fit(make.frame);
        self.wiring.clone_from(&make.places);
        [self.receiver.protocol, self.receiver.port] = make.receiver;
        for motor in &mut self.motors {
            motor.clockwise = motor.clockwise != make.outward;
            if let Some(kv) = make.kv {
                motor.kv *= kv / MotorConfig::default().kv;
            }
        }
        self.make = Some(make);
        self
    }

    /// What the board is made as.
    #[must_use]
    pub fn make(&self) -> Arc<Make> {
        self.make.clone().unwrap_or_else(|| self.board.make())
    }

    /// Has as many motors as the frame.
    pub(super) fn fit(&mut self, frame: Frame) {
        let count = frame.motors();
        self.motors.truncate(count);
        let described = self.motors.len();
        self.motors.extend(MotorConfig::of_the_bench().take(count).skip(described));
        self.wiring.retain(|place| *place < count);
        for place in 0..count {
            if !self.wiring.contains(&place) {
                self.wiring.push(place);
            }
        }
    }

    /// Its motors, at rest.
    pub(super) fn its_motors(&self) -> Vec<Motor> {
        let usual = self.pack.usual();
        (0_u64..).zip(&self.motors).map(|(at, motor)| Motor::new(*motor, usual, chances_of(self.seed, at))).collect()
    }

    /// Makes the motor at a place of the frame start late; `start` is the pulse that starts it surely with the usual volts,
    /// µs.
    #[must_use]
    pub fn late(mut self, place: usize, start: f64) -> Self {
        if let Some(motor) = self.motors.get_mut(place) {
            motor.start = start - motor.start_varies * off_middle(SURE);
            motor.keep = motor.start - 22.0;
        }
        self
    }
}

impl MotorConfig {
    /// The motors of the craft on the bench, place by place, each a little different; inward, so that every second one
    /// turns clockwise.
    pub(super) fn of_the_bench() -> impl Iterator<Item = Self> {
        const EACH: [(f64, f64); MOST] = [
            (1097.0, 11_480.0),
            (1102.0, 11_530.0),
            (1109.0, 11_450.0),
            (1100.0, 11_510.0),
            (1104.0, 11_490.0),
            (1098.0, 11_520.0),
            (1106.0, 11_470.0),
            (1101.0, 11_500.0),
        ];
        EACH.into_iter().enumerate().map(|(place, (start, kv))| Self {
            start,
            keep: start - 22.0,
            kv,
            clockwise: place.is_multiple_of(2),
            ..Self::default()
        })
    }
}

/// The seed of a motor's own chances.
fn chances_of(seed: u64, place: u64) -> u64 {
    (seed ^ (place / 4) << 40).wrapping_mul(4).wrapping_add(place % 4 + 1)
}
