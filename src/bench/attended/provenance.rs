//! Keeping what a run was made from, and what it saw and was told.
//!
//! Promises: every text that a run was made from is on the disk under its hash before the run begins. Must not be here:
//! what of it is shown.

use crate::bench::attended::job::RunJob;
use crate::bench::attended::run_state::RunState;
use crate::bench::session::context::SessionContext;
use crate::language::canonical::{filled_hash, recipe_hash};
use crate::record::provenance::{Input, Provenance};
use crate::record::run_log::{self, LogEntry};
use crate::seam::fault::Fault;

impl SessionContext {
    /// Keeps the inputs of a run, and says what they are.
    ///
    /// # Errors
    /// The disk's reason.
    pub(in crate::bench) async fn keep_inputs(&self, job: &RunJob, knows: &RunState) -> Result<Provenance, Fault> {
        let recipe = job.task.recipe();
        let card = job.card.as_ref().map_or(knows.record.radio_card.as_ref(), |named| named.text.as_ref());
        let mut texts: Vec<(Input, String)> = Vec::new();
        let mut keep = |name: &str, text: &str| {
            let input = Input::of(name, text);
            texts.push((input.clone(), text.to_owned()));
            input
        };
        let files = recipe.map_or(&[][..], |recipe| recipe.files.as_slice());
        let provenance = Provenance {
            program: env!("CARGO_PKG_VERSION").to_owned(),
            operator: job.options.operator.clone(),
            recipe_hash: recipe.map(recipe_hash),
            filled_hash: recipe.and_then(|recipe| filled_hash(recipe, &[&knows.sheet.hash])),
            files: files.iter().map(|file| keep(&file.name, &file.text)).collect(),
            radio_card: card.map(|text| keep(&knows.card.radio, text)),
            sheet: keep(&knows.sheet.origin, &knows.sheet.text),
            radio: job.options.radio.clone(),
            with: job.options.with.clone(),
            series: job.options.series.as_ref().map(|series| series.name.clone()),
            log: run_log::file(&job.name),
        };
        for (input, text) in texts {
            self.store(input.store(&text)).await?;
        }
        Ok(provenance)
    }

    /// Writes down what was seen and said since the last time.
    ///
    /// # Errors
    /// The disk's reason.
    pub async fn keep_log(&self, job: &RunJob) -> Result<(), Fault> {
        let witnessed = self.witness().take();
        if witnessed.is_empty() || !job.begun.get() {
            return Ok(());
        }
        let entry = |(at, seen)| LogEntry { schema: run_log::SCHEMA.to_owned(), at: job.clock.at(at), seen };
        let entries: Vec<LogEntry> = witnessed.into_iter().map(entry).collect();
        self.store(run_log::store(&run_log::file(&job.name), &entries)?).await
    }
}
