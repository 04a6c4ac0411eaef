//! After a change of motor signal and a power cycle: does every motor still answer?
//!
//! One motor at a time by a bounded command: at a pulse that most motors start at, and, for one that
//! stays still, once more at the highest that such a run may have, as a question of its own. A motor
//! that only starts late must not look like a signal that is not understood.

use crate::bench::procedures::single_run::{ANSWERS, SingleRun};
use crate::bench::session::context::SessionContext;
use crate::language::units::Pulse;
use crate::plan::motor_order::HIGHEST;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::Tone;

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
            let purpose = format!("test whether the speed controllers accept {signal}");
            let look_at = format!("the {corner} motor: it is the one that turns");
            let (purpose, look_at) = (purpose.as_str(), look_at.as_str());
            let run = |pulse| SingleRun { purpose, name: corner, index, pulse, look_at };
            let told = |rpm: Option<f64>| {
                rpm.ok_or_else(|| Fault::Unproved(format!("signal {signal}: the board sends no motor speeds")))
            };
            let mut rpm = told(self.run_single(&run(pulse), guards).await?)?;
            if rpm < ANSWERS && pulse < HIGHEST {
                self.line(Tone::Warning, format!("The {corner} motor is still at {pulse}; once more at {HIGHEST}."));
                rpm = told(self.run_single(&run(HIGHEST), guards).await?)?;
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
}
