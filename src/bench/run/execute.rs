//! The course of a run: everything in order, planned again after each find and search.

use super::super::fault::Fault;
use super::super::handle::Bench;
use super::super::live::Pack;
use super::super::shown::{Shown, Tone};
use super::job::RunJob;
use super::knowledge::{Knowledge, with_declared};
use crate::board::effect::Effect;
use crate::board::radio_card::RadioCard;
use crate::board::radio_card_file;
use crate::board::sheet::Settings;
use crate::board::value::{Number, SettingName};
use crate::plan::inputs::Progress;
use crate::plan::step::{Act, Plan};
use crate::plan::words;
use crate::record::journal::{Interrupted, interrupted, unsaved};
use crate::record::{CraftRecord, JournalLine};
use std::collections::BTreeSet;
use std::rc::Rc;

/// Runs a recipe on the board at the job's port.
///
/// # Errors
/// What ended it before its end.
pub async fn run(bench: Rc<Bench>, job: Rc<RunJob>) -> Result<(), Fault> {
    bench.show(Shown::Cautions);
    let craft = job.title.clone();
    let known = super::connect(&bench, &job.port).await?;
    let sheet = bench.choose_sheet(&job.sheets, &known, &craft)?;
    bench.show_board(&job.port, &known);
    bench.watch_it().await?;
    let record = bench.open_record(&known.identity).await?;
    let card = named_card(&job, &record)?;
    if card.is_virtual && !known.identity.is_virtual() {
        return Err(Fault::Plan(
            "The radio card was made on a virtual board. On a real one, find the switches with a card of its own."
                .to_owned(),
        ));
    }
    say_interrupted(&bench, &record);
    let mut knowledge = Knowledge {
        card: with_declared(&card, &job),
        sheet,
        identity: known.identity.clone(),
        progress: Progress { unsaved: unsaved(&record), ..Progress::start() },
        record,
        approved: Vec::new(),
        unproved: Vec::new(),
        measured: Vec::new(),
    };
    let unsaved_before = knowledge.progress.unsaved.clone();
    let plan = knowledge.plan(&bench, &job)?;
    knowledge.approved.clone_from(&plan.unknown);
    let snapshot = bench.store_snapshot(&job, &known.identity, known.settings.clone()).await?;
    bench.journal_begin(&job, &known.identity, &plan.fingerprint, &snapshot).await?;
    *bench.way_back.borrow_mut() = Some(knowledge.record.folder.join(&snapshot));
    bench.show(Shown::Plan(Rc::new(plan.clone())));
    steps(&bench, &job, &mut knowledge, plan).await?;
    bench.put_streams_back().await;
    bench.journal(JournalLine::End { at: job.clock.at(bench.now()), outcome: outcome(&knowledge).to_owned() }).await?;
    job.begun.set(false);
    job.closed.set(true);
    finish(&bench, knowledge, &known.settings, &unsaved_before)
}

/// The card that was named, else the craft's own.
fn named_card(job: &RunJob, record: &CraftRecord) -> Result<RadioCard, Fault> {
    if let Some(named) = &job.card {
        return Ok(named.card.clone());
    }
    let Some(text) = &record.radio_card else {
        return Ok(RadioCard { radio: format!("radio of {}", job.title), ..RadioCard::default() });
    };
    let file = record.folder.join(crate::record::folder::RADIO_CARD).display().to_string();
    radio_card_file::read(&file, text).map_err(|error| Fault::Plan(error.to_string()))
}

/// Carries the steps out; the plan is made again where a step says so.
async fn steps(bench: &Bench, job: &RunJob, knows: &mut Knowledge, mut plan: Plan) -> Result<(), Fault> {
    let mut done = 0;
    'planned: loop {
        let of = done + plan.steps.len();
        for step in &plan.steps {
            done += 1;
            bench.show(Shown::StepBegins {
                number: done,
                of,
                title: words::title(&step.act),
                turns_motors: step.effect == Effect::TurnsMotors,
            });
            bench.say_board_texts();
            match bench.carry_out(job, knows, step).await {
                Ok(false) => {}
                Ok(true) => {
                    bench.say_board_texts();
                    knows.progress.next = step.statement + 1;
                    plan = knows.plan(bench, job)?;
                    continue 'planned;
                }
                // A test that failed is told at the end; nothing that follows depends on it but the exit code.
                Err(Fault::Unproved(what)) if !matches!(step.act, Act::ProveSignal { .. }) => {
                    bench.line(Tone::Warning, format!("Not shown: {what}."));
                    knows.unproved.push(what);
                }
                Err(fault) => return Err(fault),
            }
            bench.say_board_texts();
        }
        return Ok(());
    }
}

impl Bench {
    /// Shows what the board said in words since the last time.
    pub fn say_board_texts(&self) {
        let mut said: Vec<(String, u32)> = Vec::new();
        for (_, text) in self.live.borrow_mut().texts.drain(..) {
            match said.iter_mut().find(|(known, _)| *known == text) {
                Some((_, times)) => *times += 1,
                None => said.push((text, 1)),
            }
        }
        for (text, times) in said {
            self.show(Shown::BoardSays { text, times });
        }
    }
}

fn say_interrupted(bench: &Bench, record: &CraftRecord) {
    let Some(was) = interrupted(record) else { return };
    bench.line(
        Tone::Warning,
        format!("The run of \"{}\" that began {} on this craft was cut off before its end.", was.recipe, was.at),
    );
    for (name, from, values) in open_settings(&was) {
        let now =
            bench.look(|live| live.settings.iter().find(|(known, _)| known.as_str() == name).map(|(_, value)| *value));
        let to = values.last().copied().unwrap_or(from);
        let state = match now {
            Some(now) if now.same(to) => "new".to_owned(),
            Some(now) if now.same(from) => "old".to_owned(),
            Some(now) if values.iter().any(|value| now.same(*value)) => format!("on its way: {now}"),
            Some(now) => format!("neither old nor new: {now}"),
            None => "unknown".to_owned(),
        };
        bench.line(Tone::Warning, format!("{name} was to go from {from} to {to}; it is {state}."));
    }
    say_unsaved(bench, record, &was);
    let snapshot = record.folder.join(&was.snapshot);
    bench.line(
        Tone::Warning,
        format!(
            "This run plans from what is on the board now. To go back instead: quadjig restore {}",
            snapshot.display()
        ),
    );
}

/// What the run wrote and read back, and did not come to keep: still on the board, or gone with a restart.
fn say_unsaved(bench: &Bench, record: &CraftRecord, was: &Interrupted) {
    let unsaved = unsaved(record);
    let (mut here, mut gone) = (BTreeSet::new(), BTreeSet::new());
    let done = was.intents.iter().filter(|intent| !intent.is_open()).flat_map(|intent| &intent.writes);
    for write in done {
        let Some(name) = unsaved.iter().find(|name| name.as_str() == write.name) else { continue };
        let is_here = bench.look(|live| live.settings.get(name).is_some_and(|now| now.same(write.to)));
        let (to, from) = if is_here { (&mut here, &mut gone) } else { (&mut gone, &mut here) };
        from.remove(name.as_str());
        to.insert(name.as_str());
    }
    let list = |names: BTreeSet<&str>| names.into_iter().collect::<Vec<_>>().join(", ");
    if !here.is_empty() {
        bench.line(
            Tone::Warning,
            format!("It wrote these, and did not come to keep them over a restart: {}.", list(here)),
        );
    }
    if !gone.is_empty() {
        bench.line(
            Tone::Warning,
            format!("It wrote these too, and they are not on the board any more: {}.", list(gone)),
        );
    }
}

/// Each setting of the open intents once, with its old value and all that were to be written, in order: a band
/// is closed first and opened last, so that a name may stand twice.
fn open_settings(was: &Interrupted) -> Vec<(&str, Number, Vec<Number>)> {
    let mut all: Vec<(&str, Number, Vec<Number>)> = Vec::new();
    for write in was.open().flat_map(|unfinished| &unfinished.writes) {
        match all.iter_mut().find(|(name, ..)| *name == write.name) {
            Some((_, _, values)) => values.push(write.to),
            None => all.push((&write.name, write.from, vec![write.to])),
        }
    }
    all
}

fn outcome(knows: &Knowledge) -> &'static str {
    if knows.unproved.is_empty() { "done" } else { "done, with tests that failed" }
}

/// `unsaved`: what earlier runs had written and not kept.
fn finish(bench: &Bench, knows: Knowledge, before: &Settings, unsaved: &BTreeSet<SettingName>) -> Result<(), Fault> {
    let changed = bench.look(|live| {
        live.settings.iter().filter(|(name, value)| before.get(*name).is_none_or(|was| !was.same(**value))).count()
    });
    let kept = bench.look(|live| {
        let same = |name: &&SettingName| {
            live.settings.get(*name).zip(before.get(*name)).is_some_and(|(now, was)| now.same(*was))
        };
        if knows.progress.unsaved.is_empty() { unsaved.iter().filter(same).count() } else { 0 }
    });
    let mut lines = vec![match changed {
        0 if kept > 0 => "No setting was changed on the board.".to_owned(),
        0 => "Nothing was changed on the board.".to_owned(),
        1 => "1 setting was changed, read back, and kept over a restart.".to_owned(),
        n => format!("{n} settings were changed, read back, and kept over a restart."),
    }];
    if kept > 0 {
        let settings = if kept == 1 { "1 setting".to_owned() } else { format!("{kept} settings") };
        lines.push(format!("{settings} of an earlier run, written and not kept then, kept over a restart now."));
    }
    if bench.pack() == Pack::In {
        lines.push("Take the battery out now, before the USB cable.".to_owned());
    }
    lines.extend(knows.measured);
    lines.extend(knows.unproved.iter().map(|what| format!("NOT SHOWN: {what}.")));
    bench.show(Shown::Closing { finished: knows.unproved.is_empty(), lines });
    match knows.unproved.into_iter().next() {
        None => Ok(()),
        Some(first) => Err(Fault::Unproved(first)),
    }
}
