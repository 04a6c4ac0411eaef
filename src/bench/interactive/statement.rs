//! One statement: read, checked, planned and carried out like the same statement of a recipe.
//!
//! Promises: nothing is sent before everything that is wrong was told; what was done is kept in the draft, what
//! was broken off is not. Must not be here: how a step is carried out (see `run`).

use crate::bench::attended::{RunJob, Task, with_declared};
use crate::bench::interactive::draft::{Kept, Origin, Ready, rewritten, things};
use crate::bench::interactive::session::{Changed, Current, InteractiveSession, Values, differing};
use crate::bench::procedures::find_switch::pulses;
use crate::board::convert::idle_pulse;
use crate::board::radio_card::StickEntry;
use crate::board::sheet::Settings;
use crate::interlock::signals::Pack;
use crate::language::recipe::{Statement, StatementKind, Stick};
use crate::language::setting_word::SettingWord;
use crate::language::units::Pulse;
use crate::plan::step::Plan;
use crate::record::LossSeen;
use crate::seam::fault::Fault;
use crate::seam::ui::{Tone, UiEvent};

impl InteractiveSession {
    /// Carries a statement out.
    ///
    /// # Errors
    /// What ended it before its end.
    pub(in crate::bench) async fn statement(&self, text: &str) -> Result<(), Fault> {
        // What is wrong is said before anything is asked of the board; what may be written is judged after it, and
        // by then the board may have lost what stood above.
        if self.ready(text).is_none() {
            return Ok(());
        }
        self.writable().await?;
        let Some(ready) = self.read_again(text) else { return Ok(()) };
        let bench = &self.bench;
        let Some((title, mut knows)) = self.title_and_knows() else { return Ok(()) };
        let job = self.run_job(&title, Task::Statement(Box::new(ready.recipe.clone())));
        let plan = self.plan(&job, &mut knows, ready.index)?;
        for remark in &plan.remarks {
            // The line is the one that was just typed.
            bench.line(Tone::Plain, crate::bench::session::context::capital(&remark.text));
        }
        if plan.steps.is_empty() {
            let declares = matches!(ready.statement.what, StatementKind::DeclareSwitch { .. });
            bench.line(Tone::Good, if declares { "Noted." } else { "The board has that already: nothing to do." });
        }
        knows.approved.clone_from(&plan.unknown);
        let before = bench.look(|live| live.settings.clone());
        *self.current.borrow_mut() = Some(Current { text: ready.text.clone(), before: before.clone() });
        let result = crate::bench::attended::steps(bench, &job, &mut knows, plan, &mut ()).await;
        *self.current.borrow_mut() = None;
        let measured = std::mem::take(&mut knows.measured);
        let unproved = std::mem::take(&mut knows.unproved);
        self.with(|state| state.knows = knows);
        let result = result.and_then(|()| match unproved.into_iter().next() {
            Some(what) => Err(Fault::Unproved(what)),
            None => Ok(()),
        });
        if result.is_err() {
            self.say_what_broke_off().await;
        }
        self.took(ready, &before, measured, result.as_ref().err());
        result
    }

    /// Reads a statement and shows all that is wrong with it or worth a remark.
    pub(in crate::bench) fn ready(&self, text: &str) -> Option<Ready> {
        let read = self.with(|state| state.draft.read(text, &state.knows.sheet, &state.knows.card))?;
        match read {
            Ok(ready) => {
                if !ready.remarks.findings.is_empty() {
                    let remarks = &ready.remarks;
                    self.bench.show(UiEvent::Findings(remarks.files.clone(), remarks.findings.clone()));
                }
                Some(ready)
            }
            Err(wrong) => {
                self.bench.show(UiEvent::Findings(wrong.files, wrong.findings));
                self.bench.line(Tone::Plain, "Nothing was sent.");
                None
            }
        }
    }

    /// The statement below what stands now, without saying the same remarks again.
    fn read_again(&self, text: &str) -> Option<Ready> {
        let read = self.with(|state| state.draft.read(text, &state.knows.sheet, &state.knows.card))?;
        read.map_err(|wrong| self.bench.show(UiEvent::Findings(wrong.files, wrong.findings))).ok()
    }

    /// Plans the statement at `index` on the board as it is.
    pub(in crate::bench) fn plan(
        &self,
        job: &RunJob,
        knows: &mut crate::bench::attended::RunState,
        index: usize,
    ) -> Result<Plan, Fault> {
        knows.card = with_declared(&knows.card, job.task.recipe());
        knows.progress.next = index;
        // What an earlier statement was allowed does not bind this one.
        knows.approved.clear();
        knows.plan(&self.bench, job)
    }

    /// Takes up what a statement left.
    fn took(&self, ready: Ready, before: &Settings, measured: Vec<String>, fault: Option<&Fault>) {
        let after = self.bench.look(|live| live.settings.clone());
        let values = differing(before, &after);
        self.with(|state| state.held.clone_from(&after));
        if let Some(fault) = fault {
            self.changed(&ready.text, values);
            self.note_kept();
            self.log(&ready.text, format!("not done: {fault}"));
            return;
        }
        let (kept, test) = self.done(ready.statement, &ready.text, values, measured, Origin::Hand);
        self.note_kept();
        self.with(|state| {
            state.draft.keep(ready.rest, kept);
            state.draft.kept.extend(test);
        });
    }

    /// A statement was carried out: its change can be taken back from here on. Gives what of it goes into the recipe.
    pub(in crate::bench) fn done(
        &self,
        statement: Statement,
        text: &str,
        values: Values,
        measured: Vec<String>,
        origin: Origin,
    ) -> (Kept, Option<Kept>) {
        let left = values.iter().map(|(name, (_, now))| (name.clone(), *now)).collect();
        self.changed(text, values);
        let mut kept = Kept {
            things: things(&statement),
            text: text.to_owned(),
            statement,
            at: self.now(),
            volts: self.bench.volts(),
            powered: self.bench.pack() == Pack::In,
            measured,
            left,
            origin,
        };
        let proof = self.settle_by_hand(&mut kept);
        self.count_positions(&mut kept);
        kept.measured.extend(self.found(&kept.statement.what));
        self.log(text, if kept.left.is_empty() { "done" } else { "done, and changed the board" });
        (kept, proof)
    }

    /// A change is kept once all of its settings were read after a restart.
    pub(in crate::bench) fn note_kept(&self) {
        let ledger = self.bench.ledger.borrow();
        self.with(|state| {
            for changed in &mut state.changes {
                changed.kept |= changed.values.keys().all(|name| ledger.seen().contains_key(name));
            }
        });
    }

    /// What was found of the radio, in a sentence.
    fn found(&self, what: &StatementKind) -> Option<String> {
        let found = self.with(|state| match what {
            StatementKind::FindSwitch { switch, .. } => {
                let entry = state.knows.card.switches.get(switch)?;
                let noise = entry.noise.map_or_else(String::new, |noise| format!(", noise {noise:.1} us"));
                Some(format!("channel {}, resting at {} us{noise}.", entry.channel, pulses(&entry.rests)))
            }
            StatementKind::FindSticks { .. } => {
                let one = |(stick, entry): (&Stick, &StickEntry)| {
                    let way = if entry.reversed { ", reversed" } else { "" };
                    format!("{} on channel {}{way}", stick.word(), entry.channel)
                };
                Some(format!("{}.", state.knows.card.sticks.iter().map(one).collect::<Vec<_>>().join("; ")))
            }
            StatementKind::FindLinkLoss { .. } => {
                let loss = &state.knows.record.link_loss;
                let count = |does: fn(&LossSeen) -> bool| loss.iter().filter(|one| does(&one.does)).count();
                Some(format!(
                    "without the radio {} of {} channels hold, {} go to a value, {} are told as lost.",
                    count(|does| matches!(does, LossSeen::Holds)),
                    loss.len(),
                    count(|does| matches!(does, LossSeen::Fixed(_))),
                    count(|does| matches!(does, LossSeen::Flagged))
                ))
            }
            _ => None,
        });
        found.flatten()
    }

    /// An idle that was stepped by hand stands in a recipe as the value that was kept, and as a test in as many starts.
    fn settle_by_hand(&self, kept: &mut Kept) -> Option<Kept> {
        let StatementKind::IdleSearch(search) = &kept.statement.what else { return None };
        if !search.by_hand {
            return None;
        }
        let starts = search.start_count();
        let idle = self.with(|state| {
            let entry = state.knows.sheet.entry(SettingWord::Idle)?;
            self.bench.look(|live| idle_pulse(entry, *live.settings.get(&entry.name)?))
        });
        let Pulse(idle) = idle.flatten()?;
        let (text, statement, things) = rewritten(&format!("idle at {idle} us")).ok()?;
        (kept.text, kept.statement, kept.things) = (text, statement, things);
        let (text, statement, things) = rewritten(&format!("test idle in {starts} starts")).ok()?;
        let (measured, left) = (Vec::new(), Settings::new());
        Some(Kept { text, statement, things, measured, left, ..kept.clone() })
    }

    /// A switch that was found is looked for with as many positions on the next craft.
    fn count_positions(&self, kept: &mut Kept) {
        let StatementKind::FindSwitch { switch, positions: None, .. } = &kept.statement.what else { return };
        let count = self.with(|state| state.knows.card.switches.get(switch).map(|entry| entry.rests.len()));
        let Some(Some(count)) = count else { return };
        if let Ok((text, statement, _)) = rewritten(&format!("find switch {} with {count} positions", switch.0)) {
            (kept.text, kept.statement) = (text, statement);
        }
    }

    /// Remembers a change, so that it can be taken back.
    pub(in crate::bench) fn changed(&self, text: &str, values: Values) {
        if !values.is_empty() {
            let stood = self.with(|state| state.draft.kept.clone()).unwrap_or_default();
            let changed = Changed { text: text.to_owned(), stood, values, kept: false };
            self.with(|state| state.changes.push(changed));
        }
    }
}
