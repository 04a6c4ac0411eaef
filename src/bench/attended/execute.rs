//! The course of a run: everything in order, planned again after each find and search.

use crate::bench::attended::connect::Connected;
use crate::bench::attended::job::{AskedJob, RunJob, Task};
use crate::bench::attended::run_state::RunState;
use crate::bench::attended::so_far::RunSoFar;
use crate::bench::session::context::SessionContext;
use crate::board::effect::Effect;
use crate::board::sheet::Settings;
use crate::board::value::{Number, SettingName};
use crate::interlock::Tested;
use crate::interlock::signals::Pack;
use crate::plan::door::StepDoor;
use crate::plan::restore;
use crate::plan::step::{Action, Plan, Step};
use crate::plan::titles;
use crate::record::JournalLine;
use crate::record::crafts::runs::DONE;
use crate::seam::fault::Fault;
use crate::seam::ui::{Tone, UiEvent};
use std::collections::BTreeSet;
use std::rc::Rc;

/// Runs a recipe on the board at the job's port.
///
/// # Errors
/// What ended it before its end.
pub async fn run(bench: Rc<SessionContext>, asked: Rc<AskedJob>) -> Result<(), Fault> {
    let job = asked.job();
    let known = crate::bench::attended::connect(&bench, &job.port).await?;
    let mut knowledge = crate::bench::attended::adopt_board(&bench, &job, &known).await?;
    bench.is_met(&job, &known, &knowledge)?;
    let job = bench.parameters_of_last_time(&asked, &mut knowledge).await?;
    let plan = knowledge.plan(&bench, &job)?;
    go(&bench, &job, (&known, &mut knowledge), RunCourse { plan, first: None, shown: false }).await
}

/// What is done, in order.
pub(super) struct RunCourse {
    /// The plan.
    pub(super) plan: Plan,
    /// What comes before it; then it is made again.
    pub(super) first: Option<Plan>,
    /// Whether both were shown.
    pub(super) shown: bool,
}

/// Carries plans out, from the snapshot of before to the closing.
///
/// # Errors
/// What ended it before its end.
pub(super) async fn go(
    bench: &SessionContext,
    job: &RunJob,
    (known, knowledge): (&Connected, &mut RunState),
    RunCourse { mut plan, first, shown }: RunCourse,
) -> Result<(), Fault> {
    let unsaved_before = bench.ledger.borrow().names();
    knowledge.approved.clone_from(&plan.unknown);
    let snapshot = bench.store_snapshot(job, &known.identity, known.settings.clone()).await?;
    bench.journal_begin(job, knowledge, &plan.fingerprint, &snapshot).await?;
    if let Some(first) = first {
        steps(bench, job, knowledge, first, &mut ()).await?;
        plan = knowledge.plan(bench, job)?;
    }
    if !shown {
        bench.show(UiEvent::Plan(Rc::new(plan.clone())));
        // Last before the first step, so that they are on the screen with its question.
        bench.show(UiEvent::Cautions);
    }
    let so_far = RunSoFar {
        before: known.settings.clone(),
        unsaved_before,
        knows: knowledge.clone(),
        next: knowledge.progress.next,
    };
    bench.so_far.borrow_mut().run = Some(so_far.clone());
    steps(bench, job, knowledge, plan, &mut ()).await?;
    end(bench, job, knowledge, &so_far).await
}

/// Carries out what is left of a run that was stopped, planned anew from the statement that was under way.
///
/// # Errors
/// What ended it before its end.
pub(super) async fn go_on(bench: &SessionContext, job: &RunJob, so_far: &RunSoFar) -> Result<(), Fault> {
    let mut knows = so_far.knows.clone();
    knows.progress.next = so_far.next;
    bench.so_far.borrow_mut().run = Some(so_far.clone());
    let plan = knows.plan(bench, job)?;
    steps(bench, job, &mut knows, plan, &mut ()).await?;
    end(bench, job, &knows, so_far).await
}

/// Writes down and says how a run ended that came to its end.
async fn end(bench: &SessionContext, job: &RunJob, knowledge: &RunState, so_far: &RunSoFar) -> Result<(), Fault> {
    let held = bench.look(|live| live.settings.clone());
    let snapshot = bench.store_snapshot_after(job, &knowledge.identity).await?;
    let mut knowledge = knowledge.clone();
    knowledge.unproved.extend(otherwise(bench, &so_far.before, &held));
    let knowledge = &knowledge;
    bench.put_streams_back().await;
    close(bench, job, knowledge, snapshot).await?;
    let restored = matches!(job.task, Task::Restore(_));
    let arm = restored.then(|| restore::arms_now(&knowledge.sheet, &knowledge.card, &held)).flatten();
    finish(bench, knowledge, (&so_far.before, &held), (&so_far.unsaved_before, arm))
}

/// What the run changed, and the last reading of all settings shows as another value. What it left alone may count by
/// itself.
fn otherwise(bench: &SessionContext, before: &Settings, held: &Settings) -> Vec<String> {
    let after = bench.look(|live| live.settings.clone());
    let same = |all: &Settings, name, value: Number| all.get(name).is_some_and(|one| one.same(value));
    let changed = held.iter().filter(|(name, value)| !same(before, name, **value));
    changed
        .filter(|(name, value)| !same(&after, name, **value))
        .map(|(name, value)| {
            let now = after.get(name).map_or_else(|| "no value".to_owned(), ToString::to_string);
            format!("{name} kept {value}, and reads {now} at the end")
        })
        .collect()
}

/// The same of a run whose board is gone, as it was to be: nothing is read of it any more, and nothing was written.
///
/// # Errors
/// A claim of the sheet that was contradicted, or not shown.
pub(super) async fn end_without_board(bench: &SessionContext, job: &RunJob, so_far: &RunSoFar) -> Result<(), Fault> {
    let (knows, before) = (&so_far.knows, &so_far.before);
    close(bench, job, knows, None).await?;
    finish(bench, knows, (before, before), (&so_far.unsaved_before, None))
}

/// Writes down that a run has ended, and how.
async fn close(bench: &SessionContext, job: &RunJob, knows: &RunState, snapshot: Option<String>) -> Result<(), Fault> {
    bench.keep_log(job).await?;
    let line = JournalLine::End { at: job.clock.at(bench.now()), outcome: outcome(knows), snapshot };
    bench.journal(line).await?;
    job.begun.set(false);
    job.closed.set(true);
    Ok(())
}

/// Whoever takes up what a run has done as it goes.
pub trait Follows {
    /// A step was carried out, and with it every statement before `next`.
    fn done(&mut self, _knows: &RunState, _plan: &Plan, _step: &Step, _next: usize) {}

    /// Whether any failed test ends it, as somebody is at hand who can see to it.
    fn ends_on_a_failed_test(&self) -> bool {
        false
    }
}

/// Nobody: what was done stands in the record.
impl Follows for () {}

/// Carries the steps out; the plan is made again where a step says so.
///
/// # Errors
/// What ended it before its end; a test that failed is no such end, and stands in `unproved`.
pub async fn steps(
    bench: &SessionContext,
    job: &RunJob,
    knows: &mut RunState,
    mut plan: Plan,
    follows: &mut dyn Follows,
) -> Result<(), Fault> {
    bench.dialogue().given_up = false;
    bench.say_what_is_kept_as_well(job, &plan);
    let mut done = 0;
    'planned: loop {
        let of = done + plan.steps.len();
        for (at, step) in plan.steps.iter().enumerate() {
            done += 1;
            if let (Action::Note(_), Err(why)) = (&step.act, bench.may_turn(&step.act)) {
                let held = "What the recipe says here is held back, and the propellers stay off.";
                bench.line(Tone::Warning, format!("{held} {why}"));
                continue;
            }
            bench.show(UiEvent::StepBegins {
                number: done,
                of,
                title: titles::title(&step.act),
                turns_motors: step.effect == Effect::TurnsMotors,
            });
            bench.say_board_texts();
            if let Err(why) = bench.may_turn(&step.act) {
                bench.line(Tone::Warning, format!("Left out. {why}"));
                knows.unproved.push(format!("{}: left out, as a test above failed", titles::title(&step.act)));
                continue;
            }
            if let Some(run) = bench.so_far.borrow_mut().run.as_mut() {
                (run.knows, run.next) = (knows.clone(), step.statement);
            }
            let carried_out = bench.carry_out(job, knows, step).await;
            if carried_out.is_ok() {
                bench.dialogue().again = 0;
                bench.keep_log(job).await?;
            }
            match carried_out {
                Ok(false) => {
                    let next = plan.steps.get(at + 1).map_or(usize::MAX, |next| next.statement);
                    follows.done(knows, &plan, step, next);
                }
                Ok(true) => {
                    bench.say_board_texts();
                    knows.progress.next = step.statement + 1;
                    follows.done(knows, &plan, step, knows.progress.next);
                    plan = knows.plan(bench, job)?;
                    continue 'planned;
                }
                // A test that failed is told at the end; nothing that follows depends on it but the exit code.
                Err(Fault::Unproved(what)) if !ends_it(&step.act) && !follows.ends_on_a_failed_test() => {
                    bench.line(Tone::Warning, format!("Not shown: {what}."));
                    knows.unproved.push(what);
                }
                // Who has the prompt goes on from there.
                Err(fault) if follows.ends_on_a_failed_test() => return Err(fault),
                Err(fault) => {
                    bench.say_board_texts();
                    bench.tried_again(job, step, fault).await?;
                    // From its own statement on: the battery may be elsewhere by now.
                    knows.progress.next = step.statement;
                    plan = knows.plan(bench, job)?;
                    done -= 1;
                    continue 'planned;
                }
            }
            bench.say_board_texts();
        }
        return Ok(());
    }
}

/// Whether nothing may follow a failed test: motors that a signal does not stop, that arm where nobody expects it, or that
/// are not where each later word of a corner has them.
pub(super) fn ends_it(act: &Action) -> bool {
    matches!(act, Action::ProveSignal { .. } | Action::TestArm { .. } | Action::TestMotors(_) | Action::OrderMotors(_))
}

impl SessionContext {
    /// Whether a step that starts motors may be begun after the tests before it; its door judges again.
    fn may_turn(&self, act: &Action) -> Result<(), Fault> {
        let test = match act {
            Action::TestArm { .. } => Some(Tested::Arm),
            Action::TestCut { .. } => Some(Tested::Cut),
            Action::TestFailsafe { .. } => Some(Tested::Failsafe),
            // Words such as "propellers on" are not said to a craft that was shown not to stop.
            Action::Note(_) => None,
            act if act.door() == StepDoor::Drives => None,
            _ => return Ok(()),
        };
        self.interlock().may_turn(test)
    }

    /// Shows what the board said in words since the last time.
    pub fn say_board_texts(&self) {
        let mut said: Vec<(String, u32)> = Vec::new();
        for (_, text) in self.news().texts.drain(..) {
            match said.iter_mut().find(|(known, _)| *known == text) {
                Some((_, times)) => *times += 1,
                None => said.push((text, 1)),
            }
        }
        if !said.is_empty() {
            self.show(UiEvent::BoardSays(said));
        }
    }
}

fn outcome(knows: &RunState) -> String {
    if !knows.contradicted.is_empty() {
        return format!("done: {}", knows.contradicted.join("; "));
    }
    if knows.unproved.is_empty() {
        return DONE.to_owned();
    }
    format!("done, with tests that failed: {}", knows.unproved.join("; "))
}

/// `before` and `held`: all settings at the beginning, and as the run left them. `unsaved`: what earlier runs had written
/// and not kept. `arm`: how the craft arms by a copy that was brought back.
fn finish(
    bench: &SessionContext,
    knows: &RunState,
    (before, held): (&Settings, &Settings),
    (unsaved, arm): (&BTreeSet<SettingName>, Option<String>),
) -> Result<(), Fault> {
    let seen = bench.ledger.borrow().seen().clone();
    let after = bench.look(|live| live.settings.clone());
    let stands = |name: &SettingName, now: &Number| {
        [&seen, &after].iter().all(|all| all.get(name).is_some_and(|one| one.same(*now)))
    };
    let changed: Vec<_> =
        held.iter().filter(|(name, value)| before.get(*name).is_none_or(|was| !was.same(**value))).collect();
    let shown = changed.iter().filter(|(name, now)| stands(name, now)).count();
    let same = |name: &&SettingName| {
        let now = held.get(*name).filter(|now| stands(name, now));
        now.zip(before.get(*name)).is_some_and(|(now, was)| now.same(*was))
    };
    let (changed, kept) = (changed.len(), unsaved.iter().filter(same).count());
    let were = |count: usize| if count == 1 { "1 setting was".to_owned() } else { format!("{count} settings were") };
    let mut lines: Vec<String> = knows.contradicted.iter().map(|what| format!("{what}.")).collect();
    lines.push(match (changed, shown) {
        (0, _) if kept > 0 => "No setting was changed on the board.".to_owned(),
        (0, _) => "Nothing was changed on the board.".to_owned(),
        (all, shown) if all == shown => format!("{} changed, read back, and kept over a restart.", were(all)),
        (all, shown) => format!("{} changed and read back; {shown} of them read again after a restart.", were(all)),
    });
    if kept > 0 {
        let settings = titles::count(kept, "setting");
        lines.push(format!("{settings} of an earlier run, written and not kept then, kept over a restart now."));
    }
    lines.extend(bench.what_is_open());
    lines.extend(arm);
    if bench.pack() == Pack::In {
        lines.push("Take the battery out now, before the USB cable.".to_owned());
    }
    lines.extend(knows.measured.iter().cloned());
    lines.extend(knows.unproved.iter().map(|what| format!("NOT SHOWN: {what}.")));
    bench.show(UiEvent::Closing { finished: knows.unproved.is_empty(), lines });
    match (knows.contradicted.first(), knows.unproved.first()) {
        (Some(first), _) => Err(Fault::Contradicted(first.clone())),
        (None, Some(first)) => Err(Fault::Unproved(first.clone())),
        (None, None) => Ok(()),
    }
}
