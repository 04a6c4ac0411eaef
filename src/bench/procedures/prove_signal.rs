//! After a change of motor signal and a power cycle: does every motor still answer?
//!
//! One motor at a time by a bounded command: at a pulse that most motors start at, and, for one that
//! stays still, once more at the highest that such a run may have, as a question of its own. A motor
//! that only starts late must not look like a signal that is not understood.

use crate::bench::session::context::SessionContext;
use crate::interlock::Breaks;
use crate::language::units::Pulse;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{BoardChange, MotorStep, Motors, StartedBy, Tone};
use std::time::Duration;

/// How long each motor runs.
const RUN: Duration = Duration::from_secs(2);
/// When its speed has settled, and how much later the run ends.
const SETTLED: Duration = Duration::from_millis(1200);
const REST_OF_RUN: Duration = Duration::from_millis(800);
/// The highest pulse of such a run, 50 µs under the ceiling of the bench.
pub const HIGHEST: Pulse = Pulse(crate::language::ceilings::PULSE.0 - 50);
/// A motor that answers turns at least this fast, in rpm.
const ANSWERS: f64 = 100.0;

impl SessionContext {
    /// Runs every motor once.
    ///
    /// # Errors
    /// [`Fault::Unproved`] with the corners that did not answer, or a guard.
    pub async fn prove_signal(
        &self,
        signal: &str,
        corners: &[String],
        pulse: Pulse,
        guards: &[Guard],
    ) -> Result<(), Fault> {
        let mut silent = Vec::new();
        for (index, corner) in corners.iter().enumerate() {
            let motor = (corner.as_str(), index);
            let mut rpm = self.run_once(signal, motor, pulse, guards).await?;
            if rpm < ANSWERS && pulse < HIGHEST {
                self.line(Tone::Warning, format!("The {corner} motor is still at {pulse}; once more at {HIGHEST}."));
                rpm = self.run_once(signal, motor, HIGHEST, guards).await?;
            }
            if rpm < ANSWERS {
                silent.push(corner.clone());
            } else {
                self.line(Tone::Measured, format!("The {corner} motor answers: {rpm:.0} rpm."));
            }
        }
        if silent.is_empty() {
            self.line(Tone::Good, format!("All motors answer to {signal}."));
            return Ok(());
        }
        Err(Fault::Unproved(format!("signal {signal}: no answer from the motors {}", silent.join(", "))))
    }
    /// Runs one motor once; gives its speed in rpm.
    async fn run_once(
        &self,
        signal: &str,
        (corner, index): (&str, usize),
        pulse: Pulse,
        guards: &[Guard],
    ) -> Result<f64, Fault> {
        self.wait_still().await?;
        self.mind_the_heat(RUN).await?;
        let step = MotorStep {
            purpose: format!("test whether the speed controllers accept {signal}"),
            pulse,
            longest: RUN,
            motors: Motors::One(corner.to_owned(), index),
            starts: 1,
            by: StartedBy::Command,
            look_at: format!("the {corner} motor: it is the one that turns"),
            radio_off: false,
            change: BoardChange::default(),
        };
        let mut ok = self.confirm(step).await?;
        let speed = self
            .turn(&mut ok, guards, Breaks::default(), async |clearance| {
                self.run_motor(clearance).await?;
                self.sleep(SETTLED).await;
                let from = self.now() - Duration::from_millis(500);
                let speeds: Vec<f64> =
                    self.look(|live| live.speeds.since(from).filter_map(|s| s.value[index]).collect());
                self.sleep(REST_OF_RUN).await;
                Ok(crate::measure::robust::median(&speeds))
            })
            .await?;
        speed.ok_or_else(|| Fault::Unproved(format!("signal {signal}: the board sends no motor speeds")))
    }
}
