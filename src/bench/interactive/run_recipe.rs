//! A recipe from the prompt: planned against the board as it is, and gone through by the run's own steps and questions.
//!
//! Promises: whatever ends it leaves the session at the prompt, with what was done and what is left; to go on, the rest
//! is planned anew, below all that stands. Must not be here: how a step is carried out (see `attended`).

use crate::bench::attended::{Follows, RunJob, RunState, Task, steps};
use crate::bench::interactive::draft::{Origin, is_later, place_by_statement, read, with_statements};
use crate::bench::interactive::session::{Current, InteractiveSession, Values, differing};
use crate::bench::interactive::under_way::UnderWay;
use crate::board::radio_card::RadioCard;
use crate::board::sheet::Settings;
use crate::language::Reading;
use crate::language::canonical::recipe_hash;
use crate::language::checks::codes;
use crate::language::finding::{SESSION, Severity};
use crate::language::recipe::Recipe;
use crate::plan::checks;
use crate::plan::inputs::Progress;
use crate::plan::step::{Plan, Step};
use crate::plan::titles::count;
use crate::seam::RecipeAsked;
use crate::seam::fault::Fault;
use crate::seam::ui::{Fact, Tone, UiEvent};
use std::collections::BTreeMap;
use std::rc::Rc;

/// Statements that are left, of which so many are shown.
pub(super) const SHOWN: usize = 12;

impl InteractiveSession {
    /// Goes through a recipe from its beginning.
    ///
    /// # Errors
    /// What ended it before its end.
    pub(in crate::bench) async fn run_recipe(&self, asked: RecipeAsked) -> Result<(), Fault> {
        let name = asked.file.display().to_string();
        let given = asked.with.clone();
        let reading = self.bench.read_recipe(asked).await?;
        let named = self.job.card.as_ref().map(|named| named.card.clone());
        let Some(recipe) = self.without_errors(reading, named.as_ref()) else { return Ok(()) };
        self.writable().await?;
        let Some((title, mut knows)) = self.title_and_knows() else { return Ok(()) };
        let (recipe, with) = match self.bench.of_last_time(&recipe, &given, &knows).await? {
            Some(taken) => taken,
            None => (recipe, given),
        };
        let title = if self.job.title.is_some() { title } else { recipe.title.value.clone() };
        let mut job = self.run_job(&title, Task::FromPrompt(Box::new(recipe.clone())));
        job.options.with = with.iter().map(|(name, value)| format!("{name}={value}")).collect();
        // What was found and proved by hand is confirmed and tested again, as by any run.
        knows.progress =
            Progress { signal_changed: knows.progress.signal_changed, ..Progress::below(&self.bench.ledger.borrow()) };
        let plan = self.plan(&job, &mut knows, 0)?;
        let under_way = match UnderWay::new(name.clone(), &recipe) {
            Ok(under_way) => under_way,
            Err(findings) => {
                self.bench.show(UiEvent::Findings(recipe.files.clone(), findings));
                return Ok(());
            }
        };
        self.bench.take_facts(&title, &knows.sheet, &knows.identity)?;
        let _provenance = self.bench.keep_inputs(&job, &knows).await?;
        self.bench.line(Tone::Good, format!("Goes through {name}, recipe hash {}.", recipe_hash(&recipe)));
        self.log(&format!("run {name}"), "begun");
        let all: Vec<Option<usize>> = (0..under_way.statements.len()).map(Some).collect();
        self.with(|state| {
            state.draft.begins(&title, &recipe);
            state.title = title;
            state.under_way = Some(under_way);
        });
        self.go_through(&job, knows, plan, 0, &all).await
    }

    /// Goes on with what is left of the recipe that was run last.
    ///
    /// # Errors
    /// What ended it before its end.
    pub(in crate::bench) async fn go_on_with_recipe(&self) -> Result<(), Fault> {
        let Some((name, 1..)) = self.left() else {
            let text = match self.left() {
                Some((name, _)) => format!("Nothing is left of {name}."),
                None => "No recipe was run in this session: `run FILE` goes through one.".to_owned(),
            };
            self.bench.line(Tone::Plain, text);
            return Ok(());
        };
        // By then the board may have lost what stood.
        self.writable().await?;
        let Some((title, mut knows, text, below, stands)) = self
            .with(|state| {
                let under_way = state.under_way.as_ref()?;
                let anew = UnderWay::asked_anew(&state.draft);
                let left = under_way.left(&state.draft);
                let lines = anew.iter().chain(left.iter().map(|index| &under_way.statements[*index].text));
                let text = state.draft.text(lines.map(String::as_str));
                let below: Vec<Option<usize>> = anew.iter().map(|_| None).chain(left.into_iter().map(Some)).collect();
                Some((state.title.clone(), state.knows.clone(), text, below, state.draft.kept.len()))
            })
            .flatten()
        else {
            return Ok(());
        };
        self.say_set_by_hand();
        let Some(recipe) = self.without_errors(read(&text), Some(&knows.card)) else { return Ok(()) };
        let job = self.run_job(&title, Task::FromPrompt(Box::new(recipe)));
        let plan = self.plan(&job, &mut knows, stands).map_err(|fault| quoting(fault, &text))?;
        let _provenance = self.bench.keep_inputs(&job, &knows).await?;
        self.log(&format!("go on with {name}"), "begun");
        self.go_through(&job, knows, plan, stands, &below).await
    }

    /// The recipe, where nothing is wrong with it.
    fn without_errors(&self, reading: Reading, card: Option<&RadioCard>) -> Option<Recipe> {
        let bench = &self.bench;
        let sheet = self.with(|state| state.knows.sheet.clone())?;
        let mut findings = checks::reading(&reading, std::slice::from_ref(&*sheet), card);
        // Here somebody sits at the keys.
        findings.retain(|found| found.code != codes::STEPPED_BY_HAND);
        // What goes on was warned of as it began, and a hand may have more to say.
        if reading.files.iter().all(|file| file.name == SESSION) {
            findings.retain(|found| found.severity == Severity::Error && !is_later(found));
        }
        let errors = findings.iter().any(|found| found.severity == Severity::Error);
        findings.retain(|found| errors || found.severity == Severity::Warning);
        if !findings.is_empty() {
            bench.show(UiEvent::Findings(reading.files, findings));
        }
        match reading.recipe {
            Some(recipe) if !errors && recipe.is_part => {
                let text =
                    "This recipe names no craft or no board: it is a part of one that uses it. Nothing was sent.";
                bench.line(Tone::Warning, text);
                None
            }
            Some(recipe) if !errors => Some(recipe),
            _ => {
                bench.line(Tone::Plain, "Nothing was sent: the recipe has errors.");
                None
            }
        }
    }

    /// Carries a plan out, and takes each statement up as it is done. `first`: the first statement still to do; `below`:
    /// of which statement of the recipe each from there on is.
    async fn go_through(
        &self,
        job: &RunJob,
        mut knows: RunState,
        plan: Plan,
        first: usize,
        below: &[Option<usize>],
    ) -> Result<(), Fault> {
        let bench = &self.bench;
        knows.approved.clone_from(&plan.unknown);
        let Some(recipe) = job.task.recipe() else { return Ok(()) };
        bench.show(UiEvent::Plan(Rc::new(with_statements(&plan, recipe))));
        self.with(|state| state.under_way.iter_mut().for_each(|under_way| under_way.running = true));
        let before = bench.look(|live| live.settings.clone());
        let values = BTreeMap::new();
        let mut taker = Taker { desk: self, recipe, first, below, next: first, before, values, measured: 0 };
        taker.begins();
        let result = steps(bench, job, &mut knows, plan, &mut taker).await;
        if result.is_ok() {
            taker.takes_up_to(usize::MAX, Vec::new());
        }
        let current = self.current.borrow_mut().take();
        let held = bench.look(|live| live.settings.clone());
        if let Some(current) = current.filter(|_| result.is_err()) {
            self.changed(&current.text, differing(&current.before, &held));
        }
        for what in std::mem::take(&mut knows.unproved) {
            bench.line(Tone::Warning, format!("Not shown: {what}."));
        }
        knows.measured.clear();
        self.with(|state| {
            state.knows = knows;
            state.held = held;
        });
        self.note_kept();
        if let Err(fault) = &result {
            self.say_what_broke_off().await;
            self.log("the recipe", format!("broken off: {fault}"));
            return result;
        }
        self.with(|state| state.under_way.iter_mut().for_each(|under_way| under_way.running = false));
        if let Some((name, 0)) = self.left() {
            bench.line(Tone::Good, format!("All of {name} is done. `write FILE` writes it out with what was changed."));
        }
        Ok(())
    }

    /// Name of the recipe that was run last, and how many of its statements are left.
    pub(in crate::bench) fn left(&self) -> Option<(String, usize)> {
        self.with(|state| {
            let under_way = state.under_way.as_ref()?;
            Some((under_way.name.clone(), under_way.left(&state.draft).len()))
        })
        .flatten()
    }

    /// After whatever ended a recipe before its end: what was done, and what is left.
    pub(in crate::bench) fn say_broken_off(&self) {
        let told = self.with(|state| {
            let under_way = state.under_way.as_mut()?;
            if !std::mem::take(&mut under_way.running) {
                return None;
            }
            let left = under_way.left(&state.draft);
            let mut facts: Vec<Fact> = left
                .iter()
                .take(SHOWN)
                .enumerate()
                .map(|(at, index)| Fact::new(if at == 0 { "left" } else { "" }, &under_way.statements[*index].text))
                .collect();
            if left.len() > SHOWN {
                facts.push(Fact::new("", format!("and {} more", left.len() - SHOWN)));
            }
            facts.push(Fact::new(
                "to go on",
                "`go on`, once it is as you want it; meanwhile every statement works by hand",
            ));
            let (name, all) = (&under_way.name, under_way.statements.len());
            let title = format!("{name} is broken off: {} of {} done", all - left.len(), count(all, "statement"));
            Some((title, facts))
        });
        if let Some((title, facts)) = told.flatten() {
            self.bench.show(UiEvent::Facts { title, facts });
        }
    }

    /// Names what was set by hand since, and what of the recipe it stands for.
    fn say_set_by_hand(&self) {
        let lines = self.with(|state| {
            let under_way = state.under_way.iter();
            let pairs = under_way.flat_map(|under_way| {
                let by_hand = |index| Some((index, under_way.by_hand(index, &state.draft)?));
                let pairs = (0..under_way.statements.len()).filter_map(by_hand);
                pairs.map(|(index, kept)| (kept.text.clone(), under_way.statements[index].text.clone()))
            });
            pairs.collect::<Vec<_>>()
        });
        for (by_hand, text) in lines.unwrap_or_default() {
            self.bench.line(Tone::Plain, format!("Set by hand: {by_hand}  (the recipe: {text})"));
        }
    }
}

/// A refusal of a plan with the statements that it is about.
fn quoting(mut fault: Fault, text: &str) -> Fault {
    if let Fault::Unplanned(errors) = &mut fault {
        for error in errors {
            place_by_statement(&mut error.at, text);
        }
    }
    fault
}

/// Takes up what a recipe has done, a statement at a time, so that each can be taken back by itself.
struct Taker<'d> {
    desk: &'d InteractiveSession,
    recipe: &'d Recipe,
    first: usize,
    below: &'d [Option<usize>],
    /// First statement that is not done.
    next: usize,
    /// All settings after the last step.
    before: Settings,
    /// What changed for statements that are not done, by statement.
    values: BTreeMap<usize, Values>,
    /// Sentences of what was measured that were taken up.
    measured: usize,
}

impl Taker<'_> {
    fn text(&self, statement: usize) -> String {
        let of = statement.checked_sub(self.first).and_then(|at| self.below.get(at).copied().flatten());
        let said = self.desk.with(|state| Some(state.under_way.as_ref()?.statements.get(of?)?.text.clone()));
        said.flatten().unwrap_or_else(|| "the recipe".to_owned())
    }

    /// What breaks off from here on is of the statement that is not done.
    fn begins(&self) {
        let mut before = self.before.clone();
        for (name, (was, _)) in self.values.values().flatten() {
            before.insert(name.clone(), *was);
        }
        *self.desk.current.borrow_mut() = Some(Current { text: self.text(self.next), before });
    }

    /// Which statement set a value last, by the plan.
    fn set_by(&self, plan: &Plan, name: &crate::board::value::SettingName) -> Option<usize> {
        let change = plan.changes.iter().find(|change| change.on_board == *name)?;
        self.recipe.statements.iter().position(|statement| self.recipe.place(&statement.span) == change.at)
    }

    fn takes_up_to(&mut self, next: usize, mut measured: Vec<String>) {
        let all = self.first + self.below.len();
        for statement in self.next..next.min(all) {
            let values = self.values.remove(&statement).unwrap_or_default();
            let said = self.below[statement - self.first].and_then(|of| {
                let said = |state: &mut super::session::SessionState| {
                    Some(state.under_way.as_ref()?.statements.get(of)?.clone())
                };
                Some((of, self.desk.with(said).flatten()?))
            });
            let Some((of, said)) = said else { continue };
            // Sentences are of the step that was just done, and so of the last statement.
            let of_this = if statement + 1 == next { std::mem::take(&mut measured) } else { Vec::new() };
            let (kept, test) = self.desk.done(said.statement, &said.text, values, of_this, Origin::Recipe(of));
            self.desk.with(|state| {
                state.draft.keep_of_recipe(kept);
                state.draft.kept.extend(test);
            });
        }
        self.next = self.next.max(next.min(all));
    }
}

impl Follows for Taker<'_> {
    fn done(&mut self, knows: &RunState, plan: &Plan, step: &Step, next: usize) {
        let after = self.desk.bench.look(|live| live.settings.clone());
        for (name, (was, now)) in differing(&self.before, &after) {
            let statement = self.set_by(plan, &name).unwrap_or(step.statement).max(self.next);
            let values = self.values.entry(statement).or_default();
            let was = values.get(&name).map_or(was, |(was, _)| *was);
            values.insert(name, (was, now));
        }
        self.before.clone_from(&after);
        let measured = knows.measured.get(self.measured..).unwrap_or_default().to_vec();
        self.measured = knows.measured.len();
        self.desk.with(|state| {
            state.knows.clone_from(knows);
            state.knows.measured.clear();
            state.knows.unproved.clear();
            state.held.clone_from(&after);
        });
        self.takes_up_to(next, measured);
        self.desk.note_kept();
        self.begins();
    }

    fn ends_on_a_failed_test(&self) -> bool {
        true
    }
}
