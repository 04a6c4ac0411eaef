//! One motor run by command: what is refused, and how long it may last, whatever the link.
//!
//! The run ends by itself after its time; must not be here: how the command travels.

use super::board::REST;
use super::numbers::to_u16;
use super::under_way::Owed;
use super::world::World;
use crate::measure::time::Time;
use std::time::Duration;

/// Highest pulse of such a run, µs.
const MOST: f32 = 2000.0;

/// Why no motor is run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TestRefusal {
    /// It runs none by command.
    Never,
    Armed,
    NoBattery,
    NoSuchMotor,
    Pulse,
    Time,
}

impl World {
    /// Runs one output at a pulse for some seconds; a run that is on its way is renewed, or ended for this one. Whether
    /// that is acknowledged.
    pub(super) fn begin_motor_test(
        &mut self,
        now: Time,
        output: Option<usize>,
        pulse: f32,
        seconds: f32,
    ) -> Result<bool, TestRefusal> {
        let Some(longest) = self.board.make.longest_run else { return Err(TestRefusal::Never) };
        if self.board.armed() {
            return Err(TestRefusal::Armed);
        }
        if self.motor_volts() <= 0.0 {
            return Err(TestRefusal::NoBattery);
        }
        let Some(output) = output.filter(|output| *output < self.motors.len()) else {
            return Err(TestRefusal::NoSuchMotor);
        };
        if !(f32::from(REST)..=MOST).contains(&pulse) {
            return Err(TestRefusal::Pulse);
        }
        if seconds.is_nan() || seconds <= 0.0 || seconds > longest {
            return Err(TestRefusal::Time);
        }
        let run = Owed::Run { output, pulse: to_u16(f64::from(pulse)), lasts: Duration::from_secs_f32(seconds) };
        Ok(self.does(now, self.config.conduct.runs, run))
    }
}
