//! A trial of a sheet as an attended run: its plan, its one start, and what it showed however it ended.
//!
//! Promises: the claims are those of the sheet as it is written, whatever guards take it for. Must not be here: how a claim
//! is tried (see `procedures::tried_claims`).

use crate::bench::attended::arm_switch::arm_switch;
use crate::bench::attended::job::{RunJob, SheetTried, Task};
use crate::bench::attended::run_state::RunState;
use crate::bench::attended::so_far::RunSoFar;
use crate::bench::attended::step::unsaid;
use crate::bench::procedures::tried_claims::ClaimOutcome;
use crate::bench::session::context::SessionContext;
use crate::language::ceilings;
use crate::language::recipe::Function;
use crate::plan::motor_order::run_pulse;
use crate::plan::step::{Action, BoundFunction, Plan, Step};
use crate::plan::trial::{self, SheetTrial};
use crate::seam::fault::Fault;
use crate::seam::ui::Tone;

impl RunState {
    /// Plans a trial.
    ///
    /// # Errors
    /// The sheet leaves nothing to try, or no known switch arms the craft.
    pub(super) fn plan_trial(&self, bench: &SessionContext, tried: &SheetTried) -> Result<Plan, Fault> {
        let facts = bench.facts()?;
        let settings = bench.look(|live| live.settings.clone());
        let made_from = (&*self.sheet, &self.identity, &settings);
        let plan = match tried.what {
            SheetTrial::Usb => {
                let arm = arm_switch(&facts, &self.card)?;
                let arm = BoundFunction { function: Function::arm(), switch: arm.switch, positions: arm.on, at: None };
                // Where nobody knows at what they idle, the ceiling is what is said and watched.
                trial::on_usb(made_from, arm, facts.idle.unwrap_or(ceilings::PULSE))
            }
            SheetTrial::MotorRun => trial::motor_run(made_from, run_pulse(facts.idle, &self.sheet)),
            SheetTrial::Cable => trial::cable(made_from, run_pulse(facts.idle, &self.sheet)),
        };
        plan.map_err(|why| {
            Fault::Plan(format!("{}. {}", crate::bench::session::context::capital(&why.to_string()), why.hint()))
        })
    }
}

impl SessionContext {
    /// Carries out the step of a trial.
    ///
    /// # Errors
    /// Declined, or a guard. What the board contradicts is told at the end.
    pub(super) async fn try_claim(&self, job: &RunJob, knows: &mut RunState, step: &Step) -> Result<(), Fault> {
        let Task::Trial(tried) = &job.task else {
            return Err(Fault::Plan("This step belongs to the trial of a sheet.".to_owned()));
        };
        tried.began.set(Some(self.now()));
        let verdicts = match &step.act {
            Action::TryOnUsb { pulse, .. } => {
                let arm = arm_switch(&self.facts()?, &knows.card)?;
                self.try_on_usb(&tried.sheet, &step.guards, &arm, *pulse).await?
            }
            Action::TryMotorRun { pulse } => vec![self.try_motor_run(&tried.sheet, &step.guards, *pulse).await?],
            Action::TryCable { pulse } => {
                self.try_cable(&step.guards, *pulse).await?;
                Vec::new()
            }
            other => return Err(unsaid(other)),
        };
        tried.began.set(None);
        let (wrong, right): (Vec<ClaimOutcome>, Vec<ClaimOutcome>) =
            verdicts.into_iter().partition(|verdict| verdict.instead.is_some());
        for verdict in &right {
            self.line(Tone::Measured, format!("{verdict}."));
            knows.measured.push(format!("{verdict}."));
        }
        knows.contradicted.extend(wrong.iter().map(ClaimOutcome::to_string));
        Ok(())
    }

    /// The run whose cable was pulled out while a motor turned, as it was to: with what the operator saw of it then.
    pub(super) async fn without_its_cable(&self, job: &RunJob) -> Option<RunSoFar> {
        let Task::Trial(tried) = &job.task else { return None };
        let until = self.so_far.borrow().without_cable_until.filter(|_| self.so_far.borrow().turns_on_a_cable)?;
        let mut run = self.so_far.borrow_mut().run.take()?;
        match self.seen_without_cable(&tried.sheet, until).await {
            Ok(verdict) if verdict.instead.is_some() => run.knows.contradicted.push(verdict.to_string()),
            Ok(verdict) => {
                self.line(Tone::Attested, format!("{verdict}."));
                run.knows.measured.push(format!("{verdict}."));
            }
            Err(not_shown) => run.knows.unproved.push(not_shown),
        }
        Some(run)
    }

    /// What a trial that was broken off showed all the same, a sentence each.
    pub(super) fn shown_by_the_trial(&self, job: &RunJob) -> Vec<String> {
        let Task::Trial(tried) = &job.task else { return Vec::new() };
        let Some(began) = tried.began.get() else { return Vec::new() };
        if self.so_far.borrow().without_cable_until.is_some() {
            return vec![
                "The cable went before the motor was seen to turn: that shows nothing of the sheet.".to_owned(),
            ];
        }
        let seen = self.seen_until_the_stop(&tried.sheet, tried.what == SheetTrial::Usb, began);
        seen.iter().map(|verdict| format!("{verdict}.")).collect()
    }
}
