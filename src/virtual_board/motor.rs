//! One motor: its start from standstill, keeping on, cogging between the two, and its speed.
//!
//! Speed follows its target with a first-order response in closed form, so nothing is stepped while nothing
//! changes. The target is the no-load speed: motor constant × volts × duty. Every other figure (twitches, currents, what a
//! propeller does) is chosen for the virtual craft, in the size of what such motors do (*common practice*), not measured.

use super::config::MotorConfig;
use super::rng::uniform;
use crate::measure::time::Time;
use std::time::Duration;

/// Under this speed friction wins, rpm.
const REST: f64 = 60.0;
/// Over this speed a motor that still coasts is caught, not started anew, rpm.
const CAUGHT: f64 = 600.0;
/// Length of one twitch of a cogging motor, µs.
const TWITCH: u64 = 70_000;
/// What one draws while it sounds, amperes.
pub const SOUND_DRAWS: f64 = 0.15;
/// The pulse for which a controller that errs takes the sound, µs.
pub const TAKEN_FOR: f64 = 1180.0;
const START: u64 = 0x51;
const TWITCHES: u64 = 0x52;

/// Speed without load: motor constant (rpm per volt) × volts × duty of a 1000–2000 µs pulse.
#[must_use]
pub fn no_load_rpm(kv: f64, volts: f64, pulse: f64) -> f64 {
    kv * volts * duty(pulse)
}

fn duty(pulse: f64) -> f64 {
    ((pulse - 1000.0) / 1000.0).clamp(0.0, 1.0)
}

/// What a motor is doing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Phase {
    /// At rest or coasting down.
    Still,
    /// Cogging: it would take this pulse to start, µs.
    Hesitating { starts_at: f64 },
    /// Turning.
    Turning,
}

/// A motor at a corner.
#[derive(Clone)]
pub struct Motor {
    pub config: MotorConfig,
    seed: u64,
    phase: Phase,
    starts: u64,
    /// Speed at `since`, rpm.
    base: f64,
    /// May lie ahead, where it catches late.
    since: Time,
    target: f64,
    duty: f64,
    loaded: bool,
}

impl Motor {
    pub fn new(config: MotorConfig, seed: u64) -> Self {
        Self {
            config,
            seed,
            phase: Phase::Still,
            starts: 0,
            base: 0.0,
            since: Time(0),
            target: 0.0,
            duty: 0.0,
            loaded: false,
        }
    }

    /// The highest pulse that a start of it can need to catch at once, µs.
    pub fn highest_start(&self) -> f64 {
        (self.config.start + self.config.start_varies).max(self.config.prompt)
    }

    /// How often it was driven out of standstill, started or not.
    pub fn starts(&self) -> u64 {
        self.starts
    }

    pub fn phase(&self) -> Phase {
        self.phase
    }

    /// Takes the pulse that its speed controller acts on (`None`: no power or no signal) and the pack's volts.
    pub fn drive(&mut self, now: Time, pulse: Option<f64>, volts: f64, props: bool) {
        let pulse = pulse.unwrap_or(0.0);
        if self.phase == Phase::Still && pulse < self.config.keep && self.target == 0.0 {
            self.loaded = props;
            return;
        }
        let speed = self.speed(now);
        let phase = self.next_phase(speed, pulse);
        let twitches = phase == Phase::Turning && self.twitches_till(now, pulse) > now;
        let target = if phase == Phase::Still {
            0.0
        } else {
            no_load_rpm(self.config.kv, volts, pulse) * if props { 0.85 } else { 1.0 }
        };
        let from_rest = twitches || phase == Phase::Turning && matches!(self.phase, Phase::Hesitating { .. });
        self.base = if from_rest { 0.0 } else { speed };
        self.since = if twitches { self.twitches_till(now, pulse) } else { now };
        self.phase = phase;
        self.target = target;
        self.duty = duty(pulse);
        self.loaded = props;
    }

    /// Until when a motor that catches late twitches.
    fn twitches_till(&self, now: Time, pulse: f64) -> Time {
        match self.phase {
            Phase::Still if pulse < self.config.prompt => now + Duration::from_secs_f64(self.config.twitches),
            Phase::Turning => self.since,
            Phase::Still | Phase::Hesitating { .. } => now,
        }
    }

    fn next_phase(&mut self, speed: f64, pulse: f64) -> Phase {
        if pulse < self.config.keep {
            return Phase::Still;
        }
        let starts_at = match self.phase {
            Phase::Turning => return Phase::Turning,
            Phase::Still if speed > CAUGHT => return Phase::Turning,
            Phase::Hesitating { starts_at } => starts_at,
            Phase::Still => {
                self.starts += 1;
                let chance = 2.0 * uniform(self.seed, START, self.starts) - 1.0;
                self.config.start + self.config.start_varies * chance
            }
        };
        if pulse >= starts_at { Phase::Turning } else { Phase::Hesitating { starts_at } }
    }

    /// Whether it only twitches at a moment from the last change on.
    pub fn twitches(&self, now: Time) -> bool {
        match self.phase {
            Phase::Hesitating { .. } => true,
            Phase::Turning => now < self.since,
            Phase::Still => false,
        }
    }

    /// Speed at a moment from the last change on, rpm.
    pub fn speed(&self, now: Time) -> f64 {
        if self.twitches(now) {
            let chance = uniform(self.seed, TWITCHES, now.0 / TWITCH);
            return if chance < 0.55 { 0.0 } else { self.target * 0.35 * chance };
        }
        if self.phase == Phase::Still && self.base == 0.0 {
            return 0.0;
        }
        let time = now.since(self.since).as_secs_f64();
        let speed = self.target + (self.base - self.target) * (-time / self.time_constant()).exp();
        if self.target == 0.0 && speed < REST { 0.0 } else { speed }
    }

    /// Seconds; a propeller makes speeding up slower and coasting far shorter.
    fn time_constant(&self) -> f64 {
        match (self.target >= self.base, self.loaded) {
            (true, false) => self.config.spin_up,
            (true, true) => self.config.spin_up * 1.8,
            (false, false) => self.config.coast,
            (false, true) => self.config.coast * 0.35,
        }
    }

    /// Current that it draws, amperes.
    pub fn current(&self, now: Time) -> f64 {
        let load = if self.loaded { 4.0 } else { 1.0 };
        match self.phase {
            Phase::Still => 0.0,
            Phase::Hesitating { .. } => 0.5,
            Phase::Turning => {
                let short = ((self.target - self.speed(now)) / self.target.max(1.0)).clamp(0.0, 1.0);
                (0.2 + self.duty) * load + 0.7 * short
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_load_speed_is_constant_times_volts() {
        // 920 rpm/V at 16.8 V: 15456 rpm.
        assert!((no_load_rpm(920.0, 16.8, 2000.0) - 15_456.0).abs() < 1e-9);
        assert!(no_load_rpm(920.0, 16.8, 900.0).abs() < 1e-9);
    }

    #[test]
    fn a_start_needs_more_than_keeping_on() {
        let mut motor = Motor::new(MotorConfig { start_varies: 0.0, ..MotorConfig::default() }, 3);
        motor.drive(Time(0), Some(1099.0), 8.0, false);
        assert!(matches!(motor.phase(), Phase::Hesitating { .. }));
        motor.drive(Time(1_000_000), Some(1100.0), 8.0, false);
        assert_eq!(motor.phase(), Phase::Turning);
        motor.drive(Time(2_000_000), Some(1079.0), 8.0, false);
        assert_eq!(motor.phase(), Phase::Turning);
        motor.drive(Time(3_000_000), Some(1077.0), 8.0, false);
        assert_eq!(motor.phase(), Phase::Still);
        assert!(motor.speed(Time(3_050_000)) > 1000.0, "it coasts");
        assert!(motor.speed(Time(5_000_000)).abs() < f64::EPSILON);
    }

    #[test]
    fn starts_vary_within_their_bounds() {
        let mut motor = Motor::new(MotorConfig { start_varies: 6.0, ..MotorConfig::default() }, 9);
        let mut seen = Vec::new();
        for start in 0..200_u64 {
            motor.drive(Time(start * 10_000_000), Some(1085.0), 8.0, false);
            if let Phase::Hesitating { starts_at } = motor.phase() {
                seen.push(starts_at);
            }
            motor.drive(Time(start * 10_000_000 + 5_000_000), None, 8.0, false);
        }
        assert_eq!(seen.len(), 200);
        let (least, most) = seen.iter().fold((2000.0_f64, 0.0_f64), |(a, b), x| (a.min(*x), b.max(*x)));
        assert!(least >= 1094.0 && most <= motor.highest_start(), "{least} {most}");
        assert!(most - least > 9.0);
    }
}
