//! Virtual craft of one kind, each a little different: motors, radio and pack spread by a seed.
//!
//! The spreads are chosen, no statistics of real craft. For fleets in rehearsals. The default world is the middle of the spread, not one of its craft.

use super::config::{StickConfig, WorldConfig};
use super::frame::Frame;
use super::motor::{SURE, off_middle};
use super::numbers::count_u16;
use super::rng::Rng;

impl WorldConfig {
    /// A craft of the fleet, a quad x.
    #[must_use]
    pub fn spread(seed: u64) -> Self {
        Self::spread_on(Frame::QuadX, seed)
    }

    /// A craft of the fleet on a frame. What starts all its motors surely, with the usual volts, lies between 1085 and
    /// 1160 µs.
    #[must_use]
    pub fn spread_on(frame: Frame, seed: u64) -> Self {
        let mut dice = Rng::new(seed);
        let mut world = Self { seed, ..Self::default() };
        world.fit(frame);
        let count = f64::from(count_u16(world.motors.len()));
        let highest = dice.between(1085.0, 1160.0);
        let worst = dice.between(0.0, count);
        for (place, motor) in (0_u8..).zip(world.motors.iter_mut()) {
            motor.start_varies = dice.between(2.0, 7.0);
            let below = dice.between(2.0, 24.0);
            let is_worst = worst >= f64::from(place) && worst < f64::from(place) + 1.0;
            let ceiling = if is_worst { highest } else { highest - below };
            motor.start = ceiling - motor.start_varies * off_middle(SURE);
            motor.keep = motor.start - dice.between(12.0, 28.0);
            motor.kv *= dice.between(0.98, 1.02);
            motor.spin_up = dice.between(0.04, 0.09);
            motor.coast = dice.between(0.14, 0.26);
        }
        let radio = &mut world.radio;
        radio.jitter = dice.between(0.3, 2.0);
        for StickConfig { travel, .. } in &mut radio.sticks {
            travel[0] += dice.between(-2.0, 2.0);
            travel[1] += dice.between(-2.0, 2.0);
            travel[2] += dice.between(-2.0, 2.0);
        }
        for switch in &mut radio.switches {
            for rest in &mut switch.rests {
                *rest += dice.between(-1.0, 1.0);
            }
        }
        let pack = &mut world.pack;
        pack.volts = f64::from(pack.cells) * dice.between(3.75, 4.18);
        pack.milliohms = dice.between(55.0, 130.0);
        pack.true_ratio *= dice.between(0.98, 1.02);
        world.attitude = [dice.between(-0.8, 0.8), dice.between(-0.8, 0.8), dice.between(0.0, 360.0)];
        world.stabiliser.wind_up[2] = dice.between(0.4, 1.4);
        for level in &mut world.stabiliser.wind_up[..2] {
            *level = dice.between(-0.5, 0.5);
        }
        world
    }
}
