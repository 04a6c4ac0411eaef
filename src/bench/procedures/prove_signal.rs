//! After a change of motor signal and a power cycle: does every motor still answer?
//!
//! One motor at a time by a bounded command: at a pulse that most motors start at, and, for one that
//! stays still, once more at the highest that such a run may have, as a question of its own. A motor
//! that only starts late must not look like a signal that is not understood.

use crate::bench::procedures::single_run::{ANSWERS, SingleRun};
use crate::bench::session::context::{SessionContext, capital};
use crate::language::units::Pulse;
use crate::plan::motor_order::HIGHEST;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Reply, Tone};
use std::time::Duration;

impl SessionContext {
    /// Runs every motor once.
    ///
    /// # Errors
    /// [`Fault::Unproved`] with the outputs that did not answer, or a guard.
    pub async fn prove_signal(
        &self,
        signal: &str,
        corners: &[String],
        pulse: Pulse,
        guards: &[Guard],
    ) -> Result<(), Fault> {
        let mut silent = Vec::new();
        for (index, corner) in corners.iter().enumerate() {
            let purpose = format!("test of {signal}");
            // Which corner it is wired to is the sheet's word, until `test motors` has shown it.
            let name = format!("output {}", index + 1);
            let look_at = format!("{corner}, by the sheet: does it turn, and no other?");
            let (purpose, name, look_at) = (purpose.as_str(), name.as_str(), look_at.as_str());
            let run = |pulse| SingleRun { purpose, name, index, pulse, look_at, sooner: Duration::ZERO, test: None };
            let mut answers = self.answers(&run(pulse), guards).await?;
            if !answers && pulse < HIGHEST {
                self.line(Tone::Warning, format!("Nothing turns on {name} at {pulse}; once more at {HIGHEST}."));
                answers = self.answers(&run(HIGHEST), guards).await?;
            }
            if !answers {
                silent.push(format!("{name} ({corner} by the sheet)"));
            }
        }
        if silent.is_empty() {
            self.line(Tone::Good, format!("All motors answer to {signal}."));
            return Ok(());
        }
        Err(Fault::Unproved(format!("signal {signal}: no answer from {}", silent.join(", "))))
    }

    /// Whether a motor turns in a run: by its speed where that is told, else as the operator says.
    async fn answers(&self, run: &SingleRun<'_>, guards: &[Guard]) -> Result<bool, Fault> {
        loop {
            if let Some(rpm) = self.run_single(run, guards).await? {
                if rpm >= ANSWERS {
                    self.line(Tone::Measured, format!("{} answers: {rpm:.0} rpm.", capital(run.name)));
                }
                return Ok(rpm >= ANSWERS);
            }
            let choices = vec![
                ('t', "one turned".to_owned()),
                ('s', "all stood still".to_owned()),
                ('a', "again: run it once more".to_owned()),
            ];
            let about = About::Told(vec![run.name.to_owned()]);
            let lines = vec!["The board tells no motor speeds, so what you saw is what there is.".to_owned()];
            let question = self.question(about, "Did a motor turn?", lines, Reply::Choice(choices));
            match self.ask_choice(question, "whether a motor turned").await? {
                't' => {
                    self.line(Tone::Attested, format!("{} answers.", capital(run.name)));
                    return Ok(true);
                }
                's' => return Ok(false),
                _ => {}
            }
        }
    }
}
