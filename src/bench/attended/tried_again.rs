//! What becomes of a step that did not come to its end: tried again where hands can mend it, else the run's end.
//!
//! Promises: only what wrote nothing is tried again, and only under all its guards and questions anew. Must not be here:
//! how it is asked (see `procedures::again`).

use crate::bench::attended::execute::ends_it;
use crate::bench::attended::job::{RunJob, Task};
use crate::bench::attended::so_far::RunSoFar;
use crate::bench::session::context::SessionContext;
use crate::interlock::Phase;
use crate::interlock::signals::Pack;
use crate::plan::step::{Action, Guard, Step};
use crate::seam::fault::Fault;
use std::time::Duration;

/// How long a craft may take to be seen at rest once its battery is out.
const AT_REST: Duration = Duration::from_secs(10);

impl SessionContext {
    /// Asks whether a step is tried again, and has another battery put in where that is what it takes.
    ///
    /// # Errors
    /// The fault: it is nothing that hands can mend, or was given up.
    pub(super) async fn tried_again(&self, job: &RunJob, step: &Step, fault: Fault) -> Result<(), Fault> {
        if !can_be_mended(job, &step.act, &fault) {
            return Err(fault);
        }
        let mut ways = vec![('a', format!("again: {}", what_next(&step.act)))];
        if self.is_pack_low(step) {
            let words = "another battery: this one out, the full one in, with the questions of a plug-in";
            ways.insert(0, ('b', words.to_owned()));
        }
        let way = self.again_how(fault, ways).await?;
        self.so_far.borrow_mut().goes_on();
        if self.phase() == Phase::Latched {
            return self.works_again().await;
        }
        if way == 'b' {
            // The plan has it put in again before the step.
            self.battery_out().await?;
        }
        Ok(())
    }

    /// Whether a run goes on that a hand had stopped: a switch that was on, or a battery that was in, before it was asked for.
    /// The battery comes out first, and everything that was said is asked anew.
    pub(super) async fn goes_on_after(&self, fault: &Fault) -> Option<RunSoFar> {
        let by_hand = matches!(fault, Fault::Stopped { confirmed: true, by_hand: true, .. });
        let whole = !self.journal_failed.get() && !self.ledger.borrow().is_unfinished();
        let run = self.so_far.borrow_mut().run.take().filter(|_| by_hand && whole)?;
        self.dialogue().goes_on = true;
        self.dialogue().given_up = false;
        let battery = if self.pack() == Pack::Out { "the battery stays out" } else { "the battery comes out" };
        let again = format!("again: {battery}, everything is asked anew, and it goes on where it was");
        let goes_on = match self.again_how(fault.clone(), vec![('a', again)]).await {
            // A hand that slips once more, while the battery comes out, is asked about like the first.
            Ok(_) => {
                self.so_far.borrow_mut().run = Some(run.clone());
                let works = self.works_again().await.is_ok();
                self.so_far.borrow_mut().run = None;
                works
            }
            Err(_) => false,
        };
        self.dialogue().goes_on = goes_on;
        self.so_far.borrow_mut().goes_on();
        goes_on.then_some(run)
    }

    /// From a latched bench to one that may be worked on: the battery out, and everything seen at rest.
    ///
    /// # Errors
    /// Still in, or not at rest.
    pub(super) async fn works_again(&self) -> Result<(), Fault> {
        self.so_far.borrow_mut().battery_asked_out = true;
        self.battery_out().await?;
        let rests = |bench: &Self| {
            let works = bench.interlock_mut().may_work().is_ok();
            (works || bench.has_gone()).then_some(())
        };
        self.until(self.now() + AT_REST, rests).await;
        if self.phase() != Phase::Still {
            self.interlock_mut().may_work()?;
        }
        self.so_far.borrow_mut().battery_asked_out = false;
        Ok(())
    }

    /// Whether the board went dark as its battery was asked out after a stop: nothing goes on then.
    pub(super) fn went_dark(&self) -> bool {
        std::mem::take(&mut self.so_far.borrow_mut().battery_asked_out) && self.has_gone()
    }

    /// Whether the step asks for more than the pack that is in gives.
    fn is_pack_low(&self, step: &Step) -> bool {
        let asked = match &step.act {
            Action::RequireBatteryAtLeast { per_cell, cells } => Some(Guard::BatteryAtLeast(*per_cell, *cells)),
            _ => step.guards.iter().find(|guard| matches!(guard, Guard::BatteryAtLeast(..))).cloned(),
        };
        let low = |guard: Guard| self.interlock().all_hold(&[guard], None).is_err();
        self.pack() == Pack::In && asked.is_some_and(low)
    }
}

/// Whether hands can mend it, and trying it again is safe: nothing of it was written. At the prompt nothing is lost by what
/// ends.
fn can_be_mended(job: &RunJob, act: &Action, fault: &Fault) -> bool {
    let writes = matches!(act, Action::Write(_) | Action::Store | Action::Restart { .. });
    matches!(job.task, Task::Recipe(_))
        && !writes
        && match fault {
            Fault::TimedOut { .. }
            | Fault::Hand(_)
            | Fault::StaleAnswer
            | Fault::Refused { .. }
            | Fault::NotFound(_) => true,
            Fault::Unproved(_) => ends_it(act),
            _ => false,
        }
}

/// What comes when it is tried again.
fn what_next(act: &Action) -> &'static str {
    match act {
        Action::ProveSignal { .. } => "look at plugs and speed controllers first; every motor is asked for once more",
        Action::TestArm { .. } => "put switch and binding right first; the walk begins anew",
        Action::IdleSearch(_) | Action::IdleByHand(_) => {
            "put right what is said above first; the search is asked for once more"
        }
        _ => "put right what is said above first; the step begins anew",
    }
}
