//! After a run that was cut off: says what stands of all that it wrote, and finishes it or puts it back.
//!
//! Promises: nothing is written before one of both was chosen; either is a plan that goes through the doors of any run;
//! an arm band that was left half-way is closed before a recipe goes on; of what was shown nothing is taken over but for
//! the same recipe, filled the same, on the same craft, within two hours. Must not be here: what is known of a setting
//! (see `record::ledger`), the order of writes.

use crate::bench::attended::adopt::named_card;
use crate::bench::attended::execute::{RunCourse, go};
use crate::bench::attended::job::{AskedJob, InSeries, RunJob, RunOptions, Task};
use crate::bench::attended::last_time::{pair, read_so};
use crate::bench::attended::run_state::{RunState, with_declared};
use crate::bench::session::context::{SessionContext, capital};
use crate::board::binding;
use crate::board::sheet::Settings;
use crate::language::canonical::filled_hash;
use crate::language::characters::shell_word;
use crate::language::recipe::{Function, Recipe};
use crate::plan::restore;
use crate::plan::step::Plan;
use crate::plan::titles::count;
use crate::record::Snapshot;
use crate::record::crafts::runs::PUT_BACK;
use crate::record::ledger::CutOff;
use crate::record::provenance::Provenance;
use crate::record::recovery::Left;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Declined, Reply, Tone, UiEvent};
use std::rc::Rc;
use std::time::Duration;

/// What was shown longer ago than this is shown again.
const TAKEN_OVER: Duration = Duration::from_secs(2 * 3600);

/// One way to settle it.
struct Way {
    job: RunJob,
    knows: RunState,
    plan: Plan,
    /// What is written before.
    first: Option<Plan>,
}

/// A way, or why it can't be gone.
type Judged = Result<Way, String>;

/// Recovers at the job's port.
///
/// # Errors
/// What ended it before its end.
pub async fn recover(bench: Rc<SessionContext>, asked: Rc<AskedJob>) -> Result<(), Fault> {
    let job = asked.job();
    bench.show(UiEvent::Cautions);
    let known = crate::bench::attended::connect(&bench, &job.port).await?;
    let state = crate::bench::attended::adopt_board(&bench, &job, &known).await?;
    let record = state.record.clone();
    let Some(left) = Left::of(&record) else {
        return nothing(&bench, &job).await;
    };
    if let Some(run) = left.runs.last() {
        bench.take_facts(&run.recipe, &state.sheet, &state.identity)?;
    }
    bench.say_what_stands(&left, &known.settings);
    let back = put_back(&bench, &asked, &left, &state);
    let finish = finish(&bench, &asked, &left, &state);
    for (what, way) in [("To finish", &finish), ("To put back", &back)] {
        match way {
            Ok(way) => {
                bench.line(Tone::Plain, format!("{what}, this would be done:"));
                way.first.iter().for_each(|plan| bench.show(UiEvent::Plan(Rc::new(plan.clone()))));
                bench.show(UiEvent::Plan(Rc::new(way.plan.clone())));
            }
            Err(why) => bench.line(Tone::Warning, format!("{what}: not possible here. {why}")),
        }
    }
    let Way { job, mut knows, plan, first } = choose(&bench, &left, finish, back).await?;
    bench.take_facts(&job.title, &knows.sheet, &knows.identity)?;
    // It stands in the log as well: whoever reads it finds where that was shown.
    let taken_over = plan.remarks.iter().filter(|remark| remark.is_taken_over());
    taken_over.for_each(|remark| bench.line(Tone::Warning, capital(&remark.text)));
    let job = asked.choose(job);
    go(&bench, &job, (&known, &mut knows), RunCourse { plan, first, shown: true }).await
}

async fn nothing(bench: &SessionContext, job: &RunJob) -> Result<(), Fault> {
    let open = bench.ledger.borrow().names();
    let line = if open.is_empty() {
        "No run on this craft was cut off: there is nothing to recover. Nothing was written.".to_owned()
    } else {
        "The run that wrote what is not settled can't be read in the journal any more. Run a recipe, which keeps what \
         stands, or bring a copy back with `quadjig restore`. Nothing was written."
            .to_owned()
    };
    job.closed.set(true);
    bench.show(UiEvent::Closing { finished: true, lines: vec![line] });
    bench.put_streams_back().await;
    Ok(())
}

async fn choose(bench: &SessionContext, left: &Left<'_>, finish: Judged, back: Judged) -> Result<Way, Fault> {
    let title = "Finish what was cut off, or put it back?";
    let mut choices = Vec::new();
    if let Ok(way) = &finish {
        choices.push(('f', format!("finish \"{}\": {}", way.job.title, works(way))));
    }
    if let Ok(way) = &back {
        choices.push(('b', format!("put back what was there before: {}", works(way))));
    }
    if choices.is_empty() {
        let hint = "Nothing was written. Run a recipe, which plans from what is on the board, or bring a copy back with \
                    `quadjig restore`.";
        return Err(Fault::refused("Neither way can be gone.", hint));
    }
    choices.push(('n', "neither now; it stays said until it is settled".to_owned()));
    let written = count(left.written.len(), "setting");
    let lines = vec![format!("That run wrote {written}, or was about to. Nothing is written now before you choose.")];
    match bench.ask_choice(bench.question(About::Choice, title, lines, Reply::Choice(choices)), title).await? {
        'f' => finish.map_err(Fault::Plan),
        'b' => back.map_err(Fault::Plan),
        _ => Err(Fault::Declined { what: title.to_owned(), why: Declined::Refused }),
    }
}

/// What a way comes to.
fn works(way: &Way) -> String {
    let steps = way.plan.steps.len() + way.first.as_ref().map_or(0, |plan| plan.steps.len());
    format!("{} to change, {}", count(way.plan.changes.len(), "setting"), count(steps, "step"))
}

fn put_back(bench: &SessionContext, asked: &AskedJob, left: &Left<'_>, knows: &RunState) -> Judged {
    let back = left.back();
    let copy = of_now(bench, knows, left.runs.first(), &back);
    let told = asked.job().options.clone();
    let title = format!("{PUT_BACK}: settings of {}", copy.taken);
    let way = planned(bench, asked.instead(title, Task::Restore(Box::new(copy)), told), knows.clone(), None)?;
    let unknown: Vec<&str> = left.without_way_back().map(crate::board::value::SettingName::as_str).collect();
    if !unknown.is_empty() {
        bench.line(
            Tone::Warning,
            format!("Nobody knows what these were, so they stay as they are: {}.", unknown.join(", ")),
        );
    }
    Ok(way)
}

/// All settings as they stand now, but for these.
fn of_now(bench: &SessionContext, knows: &RunState, run: Option<&CutOff>, other: &Settings) -> Snapshot {
    let mut settings = bench.look(|live| live.settings.clone());
    settings.extend(other.iter().map(|(name, value)| (name.clone(), *value)));
    Snapshot::new(run.map_or_else(String::new, |run| run.at.clone()), knows.identity.clone(), settings)
}

fn planned(bench: &SessionContext, job: RunJob, mut knows: RunState, first: Option<Plan>) -> Judged {
    let plan = knows.plan(bench, &job).map_err(|fault| fault.to_string())?;
    Ok(Way { job, knows, plan, first })
}

fn finish(bench: &SessionContext, asked: &AskedJob, left: &Left<'_>, knows: &RunState) -> Judged {
    let told = asked.job().options.clone();
    let first = arm_closed(bench, left, knows).map_err(|fault| fault.to_string())?;
    let Some(run) = left.of_recipe() else {
        let last = left.runs.last().filter(|run| run.planned);
        let Some(last) = last else {
            return Err("It was a session by hand, which has no end to be reached: `quadjig bench` goes on.".to_owned());
        };
        // What was brought back has no recipe: what it was to write is all that there is of it.
        let wanted = left.written.iter().map(|(name, one)| (name.clone(), one.wanted)).collect();
        let copy = of_now(bench, knows, Some(last), &wanted);
        let job = asked.instead(last.recipe.clone(), Task::Restore(Box::new(copy)), told);
        return planned(bench, job, knows.clone(), None);
    };
    let made = run.provenance.as_deref().ok_or("Nothing is kept of what it was made from.")?;
    if let Some(radio) = made.radio.as_ref().filter(|_| asked.job().card.is_none()) {
        let radio = shell_word(radio.as_ref());
        return Err(format!("It used the radio card `{radio}`: name it, `quadjig recover --radio {radio}`."));
    }
    let recipe = kept_recipe(left, run, made).ok_or(
        "Its recipe is not in the record any more as it was. `quadjig run` with the recipe goes on from what is on the board.",
    )?;
    let series = made.series.clone().map(InSeries::finished);
    let told = RunOptions { with: made.with.clone(), series, ..told };
    let filled = filled_hash(&recipe, &[&knows.sheet.hash]);
    let same = filled.is_some() && filled == made.filled_hash;
    let job = asked.instead(recipe.title.value.clone(), Task::Recipe(Box::new(recipe)), told);
    let mut knows = knows.clone();
    knows.card = with_declared(&named_card(&job, &knows.record).map_err(|fault| fault.to_string())?, job.task.recipe());
    if same {
        knows.progress.taken_over = shown_between(bench, &job, left, made);
    } else {
        let text = "Its board sheet is another one now, so nothing that it had shown is taken over.";
        bench.line(Tone::Warning, text);
    }
    planned(bench, job, knows, first)
}

/// From when on what was shown counts, and until now.
fn shown_between(
    bench: &SessionContext,
    job: &RunJob,
    left: &Left<'_>,
    made: &Provenance,
) -> Option<(jiff::Timestamp, jiff::Timestamp)> {
    let of_it = |run: &&CutOff| run.provenance.as_ref().is_some_and(|other| other.filled_hash == made.filled_hash);
    let began: jiff::Timestamp = left.runs.iter().find(of_it)?.at.parse().ok()?;
    let now: jiff::Timestamp = job.clock.at(bench.now()).parse().ok()?;
    let since = began.max(now.checked_sub(TAKEN_OVER).ok()?);
    // A clock that was set back tells nothing.
    (since <= now).then_some((since, now))
}

/// The recipe as it was read then, from the texts that were kept.
fn kept_recipe(left: &Left<'_>, run: &CutOff, made: &Provenance) -> Option<Recipe> {
    let with: Vec<(String, String)> = made.with.iter().filter_map(|with| pair(with)).collect();
    // This version may know more of what is wrong.
    read_so(&left.texts(run)?, &with, made.recipe_hash.as_ref()?, (None, None))
}

/// Where arm is bound as it was not before, and that is not settled: the plan that closes it.
fn arm_closed(bench: &SessionContext, left: &Left<'_>, knows: &RunState) -> Result<Option<Plan>, Fault> {
    let (arm, sheet) = (Function::arm(), &knows.sheet);
    let now = bench.look(|live| live.settings.clone());
    let unsettled = crate::record::ledger::Ledger::of(&knows.record).names();
    if !binding::settings_of(sheet, &arm).iter().any(|name| unsettled.contains(name)) {
        return Ok(None);
    }
    let mut then = now.clone();
    then.extend(left.back());
    let bound = |settings: &Settings| binding::bound_now(sheet, settings, &arm).ok();
    // What can't be told counts as on, and as new.
    let on = bound(&now);
    if on.as_ref().is_some_and(Vec::is_empty) || (on.is_some() && on == bound(&then)) {
        return Ok(None);
    }
    let changes = binding::unbind(sheet, &now, &arm).map_err(|error| Fault::Plan(error.to_string()))?;
    let wanted: Settings = changes
        .iter()
        .flat_map(binding::BandChange::settings)
        .map(|(_, name, number)| (name.clone(), number))
        .collect();
    let radio = knows.radio(bench);
    let plan = restore::take_back(&wanted, sheet, &knows.identity, &now, &radio)
        .map_err(|errors| Fault::Plan(restore::refusals(&errors)))?;
    Ok(Some(plan))
}

impl SessionContext {
    /// Says of every setting that was written, or was to be, what stands.
    fn say_what_stands(&self, left: &Left<'_>, now: &Settings) {
        for run in left.runs.iter().filter(|run| run.ended) {
            let text =
                format!("The run of \"{}\" that began {} ended before what it wrote was kept.", run.recipe, run.at);
            self.line(Tone::Warning, text);
        }
        if left.before.is_none() {
            let text =
                "The copy of all settings from before it is gone or damaged: what was there is told by the journal.";
            self.line(Tone::Warning, text);
        }
        let unsettled = crate::record::ledger::Ledger::of(left.record()).names();
        let (mut old, mut new, mut kept, mut other, mut unknown) = (vec![], vec![], vec![], vec![], vec![]);
        for (name, one) in &left.written {
            let Some(value) = now.get(name).copied() else {
                unknown.push((name.clone(), one.wanted));
                continue;
            };
            let place = match () {
                () if value.same(one.wanted) && !unsettled.contains(name) => &mut kept,
                () if value.same(one.wanted) => &mut new,
                () if one.before.is_some_and(|before| value.same(before)) => &mut old,
                () => &mut other,
            };
            place.push((name.clone(), value));
        }
        for (called, all) in [
            ("New, and read after a restart", &kept),
            ("New, and not seen after a restart", &new),
            ("Old, as before", &old),
            ("Neither old nor new", &other),
        ] {
            if !all.is_empty() {
                self.line(Tone::Plain, format!("{called}: {}.", self.stand(all)));
            }
        }
        if !unknown.is_empty() {
            let names: Vec<&str> = unknown.iter().map(|(name, _)| name.as_str()).collect();
            self.line(Tone::Warning, format!("Unknown, as the board does not give them: {}.", names.join(", ")));
        }
    }
}
