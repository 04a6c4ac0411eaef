//! One motor: its start from standstill, keeping on, cogging between the two, and its speed.
//!
//! Speed follows its target with a first-order response in closed form, so nothing is stepped while nothing
//! changes. The target is the no-load speed: motor constant × volts × duty. Every other figure (twitches, currents, what a
//! propeller does) is chosen for the virtual craft, in the size of what such motors do (*common practice*), not measured.

use super::config::MotorConfig;
use super::rng::uniform;
use crate::measure::time::Time;
use std::time::Duration;

/// The pulse of no duty, µs.
const REST_PULSE: f64 = 1000.0;
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
/// Share of starts that lie within [`MotorConfig::start_varies`] of the middle.
const USUAL: f64 = 0.95;
/// Share of starts that count as every one, where tails have no end.
pub const SURE: f64 = 0.999;
const START: u64 = 0x51;
const TWITCHES: u64 = 0x52;

/// How far a start lies from the middle, in parts of [`MotorConfig::start_varies`], if this share of all starts needs less:
/// the logistic distribution, whose tails have no end (*chosen*: nobody here has measured the tails of real starts).
#[must_use]
pub fn off_middle(share: f64) -> f64 {
    let logit = |share: f64| (share / (1.0 - share)).ln();
    logit(share) / logit(f64::midpoint(1.0, USUAL))
}

/// Speed without load: motor constant (rpm per volt) × volts × duty of a 1000–2000 µs pulse.
#[must_use]
pub fn no_load_rpm(kv: f64, volts: f64, pulse: f64) -> f64 {
    kv * volts * duty(pulse)
}

fn duty(pulse: f64) -> f64 {
    ((pulse - REST_PULSE) / 1000.0).clamp(0.0, 1.0)
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
    /// Volts of the pack for which its pulses are given.
    given_at: f64,
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
    pub fn new(config: MotorConfig, given_at: f64, seed: u64) -> Self {
        Self {
            config,
            given_at,
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

    /// The pulse that starts it at once, [`SURE`]ly, with these volts, µs.
    pub fn sure_start(&self, volts: f64) -> f64 {
        let sure = self.config.start + self.config.start_varies * off_middle(SURE);
        self.at_volts(sure, volts).max(self.config.prompt)
    }

    /// A pulse that is given for the usual volts, with these: what turns a motor out of standstill is the volts at its
    /// windings, so the duty that it needs goes as one over the pack's (*from memory*: torque at standstill is
    /// proportional to current, and that to duty × volts ÷ resistance).
    fn at_volts(&self, pulse: f64, volts: f64) -> f64 {
        if volts > 0.0 { REST_PULSE + (pulse - REST_PULSE) * self.given_at / volts } else { f64::INFINITY }
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
        // A try goes on as long as it is driven: where the others draw the pack down, it is no new one afterwards.
        let tries = matches!(self.phase, Phase::Hesitating { .. }) && pulse > REST_PULSE;
        let keeps = tries || pulse >= self.at_volts(self.config.keep, volts);
        if self.phase == Phase::Still && !keeps && self.target == 0.0 {
            self.loaded = props;
            return;
        }
        // A twitch has no way on it: nothing of it coasts, and nothing of it is caught.
        let speed = if self.twitches(now) { 0.0 } else { self.speed(now) };
        let phase = if keeps { self.next_phase(speed, pulse, volts) } else { Phase::Still };
        let twitches = phase == Phase::Turning && self.twitches_till(now, pulse) > now;
        let target = if phase == Phase::Still {
            0.0
        } else {
            no_load_rpm(self.config.kv, volts, pulse) * if props { 0.85 } else { 1.0 }
        };
        self.base = if twitches { 0.0 } else { speed };
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

    fn next_phase(&mut self, speed: f64, pulse: f64, volts: f64) -> Phase {
        let starts_at = match self.phase {
            Phase::Turning => return Phase::Turning,
            Phase::Still if speed > CAUGHT => return Phase::Turning,
            Phase::Hesitating { starts_at } => starts_at,
            Phase::Still => {
                self.starts += 1;
                let off = off_middle(uniform(self.seed, START, self.starts));
                self.at_volts(self.config.start + self.config.start_varies * off, volts)
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
        let mut motor = Motor::new(MotorConfig { start_varies: 0.0, ..MotorConfig::default() }, 8.0, 3);
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

    /// The pack sags under the others just below what keeps it on and comes back, as when all start together.
    #[test]
    fn a_twitch_is_not_caught_where_the_pack_sags_under_it() {
        for seed in 0..50 {
            let mut motor = Motor::new(MotorConfig { start_varies: 0.0, ..MotorConfig::default() }, 8.0, seed);
            for moment in 0..200 {
                let volts = if moment % 2 == 0 { 8.0 } else { 7.8 };
                motor.drive(Time(moment * 5_000), Some(1079.0), volts, false);
                assert!(motor.twitches(Time(moment * 5_000)), "seed {seed}, moment {moment}: {:?}", motor.phase());
            }
            assert_eq!(motor.starts(), 1, "one try");
            // Off and on again while it would still coast, had it turned.
            motor.drive(Time(1_000_000), None, 8.0, false);
            motor.drive(Time(1_010_000), Some(1079.0), 8.0, false);
            assert!(motor.twitches(Time(1_010_000)), "seed {seed}");
        }
    }

    /// What each of so many starts needed.
    fn needed(volts: f64, starts: u64) -> Vec<f64> {
        let mut motor = Motor::new(MotorConfig { keep: 0.0, ..MotorConfig::default() }, 8.0, 9);
        (0..starts)
            .filter_map(|start| {
                motor.drive(Time(start * 10_000_000), Some(1001.0), volts, false);
                let Phase::Hesitating { starts_at } = motor.phase() else { return None };
                motor.drive(Time(start * 10_000_000 + 5_000_000), None, 0.0, false);
                Some(starts_at)
            })
            .collect()
    }

    /// The share that `start_varies` and "surely" name, and some beyond any bound: the mark of a tail without an end.
    #[test]
    fn starts_vary_without_an_end() {
        let seen = needed(8.0, 100_000);
        let share = |within: f64| seen.iter().filter(|at| (*at - 1100.0).abs() <= within).count();
        assert_eq!(seen.len(), 100_000);
        assert!((94_700..95_300).contains(&share(6.0)), "{}", share(6.0));
        let sure = Motor::new(MotorConfig::default(), 8.0, 9).sure_start(8.0);
        let above = seen.iter().filter(|at| **at > sure).count();
        assert!((60..150).contains(&above), "{above} of 100,000 need more than {sure}");
        assert!(seen.iter().any(|at| *at > 1100.0 + 2.5 * 6.0), "none lies far out");
    }

    /// Half as many volts, twice the duty.
    #[test]
    fn an_empty_pack_starts_worse() {
        for (full, empty) in needed(8.0, 50).into_iter().zip(needed(4.0, 50)) {
            assert!((empty - 1000.0 - 2.0 * (full - 1000.0)).abs() < 1e-9, "{full} {empty}");
        }
        let motor = Motor::new(MotorConfig::default(), 8.0, 1);
        assert!((motor.sure_start(4.0) - 1000.0 - 2.0 * (motor.sure_start(8.0) - 1000.0)).abs() < 1e-9);
    }
}
