//! After a change of motor signal and a power cycle: does every motor still answer?
//!
//! One motor at a time by a bounded command, from the idle on the board.

use super::super::fault::Fault;
use super::super::handle::Bench;
use super::super::mode::Breaks;
use super::super::shown::{MotorStep, Motors, StartedBy, Tone};
use crate::language::units::Pulse;
use crate::plan::step::Guard;
use std::time::Duration;

/// How long each motor runs.
const RUN: Duration = Duration::from_secs(2);
/// When its speed has settled, and how much later the run ends.
const SETTLED: Duration = Duration::from_millis(1200);
const REST_OF_RUN: Duration = Duration::from_millis(800);
/// A motor that answers turns at least this fast, in rpm.
const ANSWERS: f64 = 100.0;

impl Bench {
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
            self.wait_still().await?;
            self.mind_the_heat(RUN).await?;
            let step = MotorStep {
                purpose: format!("proof that the speed controllers accept {signal}"),
                pulse,
                longest: RUN,
                motors: Motors::One(corner.clone(), index),
                starts: 1,
                by: StartedBy::Command,
                look_at: format!("the {corner} motor: it is the one that turns."),
            };
            let mut ok = self.confirm(step).await?;
            let speed = self
                .turn(&mut ok, guards, Breaks::default(), async |clearance| {
                    clearance.run_motor().await?;
                    self.sleep(SETTLED).await;
                    let from = self.now() - Duration::from_millis(500);
                    let speeds: Vec<f64> =
                        self.look(|live| live.speeds.since(from).filter_map(|s| s.value[index]).collect());
                    self.sleep(REST_OF_RUN).await;
                    Ok(crate::measure::robust::median(&speeds))
                })
                .await?;
            match speed {
                Some(rpm) if rpm >= ANSWERS => {
                    self.line(Tone::Measured, format!("The {corner} motor answers: {rpm:.0} rpm."));
                }
                Some(_) => silent.push(corner.clone()),
                None => return Err(Fault::Unproved(format!("signal {signal}: the board sends no motor speeds"))),
            }
        }
        if silent.is_empty() {
            self.line(Tone::Good, format!("All motors answer to {signal}."));
            return Ok(());
        }
        Err(Fault::Unproved(format!("signal {signal}: no answer from the motors {}", silent.join(", "))))
    }
}
