//! The idle stepped under the operator's keys: higher, lower, again, this one, end.
//!
//! Every value that turns motors is typed, like in a search; the keys between them only choose. The value that
//! is chosen is proved by the same starts as a search's, and the margin is added. Must not be here: how a start
//! is made or judged.

use crate::bench::procedures::arm_switch::ArmSwitch;
use crate::bench::procedures::idle_search::Value;
use crate::bench::session::context::SessionContext;
use crate::interlock::{Answer, Confirmed};
use crate::language::units::Pulse;
use crate::plan::step::{Guard, IdlePlan};
use crate::seam::fault::Fault;
use crate::seam::ui::Declined;
use crate::seam::ui::{About, IdleFound, Reply, StartSeen, Tone, UiEvent};

/// What the operator chose after a value.
enum Choice {
    Higher,
    Lower,
    Again,
    This,
    End,
}

impl SessionContext {
    /// Steps through the plan's values as the operator chooses. `change` writes one value of the idle with its
    /// intent in the journal.
    ///
    /// # Errors
    /// A guard, a declined question, or ended without a choice: then the old idle is put back.
    pub async fn idle_by_hand(
        &self,
        plan: &IdlePlan,
        guards: &[Guard],
        arm: &ArmSwitch,
        change: &mut impl AsyncFnMut(Pulse, &mut Confirmed) -> Result<(), Fault>,
    ) -> Result<IdleFound, Fault> {
        let mut seen = Vec::new();
        let plan = &mut plan.clone();
        let stepped = self.stepped(plan, guards, arm, &mut seen, change).await;
        self.show(UiEvent::IdleTableEnds);
        match stepped {
            Ok(chosen) => self.keep_idle(chosen, plan, seen, true, change).await,
            Err(fault) => {
                // A typed no or a value that could not be judged; after anything else nothing more is written.
                if matches!(fault, Fault::Declined { .. } | Fault::NotFound(_) | Fault::TimedOut { .. }) {
                    self.put_back(plan, change).await;
                }
                Err(fault)
            }
        }
    }

    async fn stepped(
        &self,
        plan: &mut IdlePlan,
        guards: &[Guard],
        arm: &ArmSwitch,
        seen: &mut Vec<StartSeen>,
        change: &mut impl AsyncFnMut(Pulse, &mut Confirmed) -> Result<(), Fault>,
    ) -> Result<Pulse, Fault> {
        let mut place = 0;
        let mut moved = true;
        let mut turns = false;
        loop {
            let Some(value) = plan.values.get(place).copied() else {
                return Err(Fault::NotFound("There is no value to step through.".to_owned()));
            };
            if std::mem::take(&mut moved) {
                turns = self.starts_at(value, 1, plan, guards, arm, (seen, change)).await?.is_none();
                self.show(UiEvent::IdleTable(seen.clone(), self.beside.borrow().clone()));
            }
            match self.choose(plan, place, turns).await? {
                Choice::Higher => (place, moved) = (place + 1, true),
                Choice::Lower => (place, moved) = (place - 1, true),
                Choice::Again => moved = true,
                Choice::End => {
                    let what = "stepping the idle".to_owned();
                    return Err(Fault::Declined { what, why: Declined::Refused });
                }
                Choice::This => match self.prove_value(value, plan, guards, arm, (seen, change)).await? {
                    Value::Proved => return Ok(value),
                    Value::Failed(_) => {
                        turns = false;
                        self.show(UiEvent::IdleTable(seen.clone(), self.beside.borrow().clone()));
                        self.line(Tone::Warning, format!("{value} is not proved: choose another value."));
                    }
                },
            }
        }
    }

    /// What next, chosen at rest by a single key. Only what can be done is offered.
    async fn choose(&self, plan: &IdlePlan, place: usize, turns: bool) -> Result<Choice, Fault> {
        let value = plan.values[place];
        let mut choices = Vec::new();
        if let Some(next) = plan.values.get(place + 1) {
            choices.push(('h', format!("higher: writes {next}, once that is typed")));
        }
        if let Some(before) = place.checked_sub(1).map(|place| plan.values[place]) {
            choices.push(('l', format!("lower: writes {before}, once that is typed")));
        }
        choices.push(('a', format!("again: {value} once more, writes nothing")));
        if turns {
            let kept = Pulse((value.0 + plan.margin.0).min(plan.at_most.0));
            choices.push((
                't',
                format!("this one: {value} in {} starts, then writes {kept} with the margin", plan.starts),
            ));
        }
        choices.push(('e', format!("end: writes the old idle of {} back", plan.before)));
        let lines = vec![if turns {
            format!("Every motor turned in the last start at {value}.")
        } else {
            format!("Not every motor turned at {value}, or one was judged rough.")
        }];
        let question = self.question(About::Step, "Nothing turns. Which idle next?", lines, Reply::Choice(choices));
        match self.ask(question).await {
            Answer::Chosen('h') => Ok(Choice::Higher),
            Answer::Chosen('l') => Ok(Choice::Lower),
            Answer::Chosen('a') => Ok(Choice::Again),
            Answer::Chosen('t') => Ok(Choice::This),
            Answer::Declined(why @ Declined::EndOfInput) => {
                Err(Fault::Declined { what: "which idle next".to_owned(), why })
            }
            _ => Ok(Choice::End),
        }
    }
}
