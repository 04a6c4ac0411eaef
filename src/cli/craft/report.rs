//! `quadjig craft report`.

use super::super::options::{PageReporting, RecordsOption};
use super::super::output::{Output, PageFormat};
use super::{crafts, look, page, told};
use crate::plan::titles::count;
use crate::record::CraftRecord;
use crate::record::crafts::compare::{Known, compare};
use crate::record::crafts::runs::{Run, runs};
use crate::record::crafts::state;
use crate::record::run_log;
use crate::report::crafts::run::{self as report, RunReport};
use crate::seam::exit::Exit;
use std::path::Path;

/// Report one run of a craft: what it was made from, what was measured and said, what it changed.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig craft report wren-1\n  quadjig craft report wren-1 --run 2\n  quadjig craft report wren-1 --format html > wren-1.html"
)]
pub(super) struct Report {
    /// The craft: its name, or its board's id.
    #[arg(value_name = "NAME")]
    name: String,
    /// Which run, from 1, as `craft show` numbers them. Left out: the last.
    #[arg(long, value_name = "N")]
    run: Option<usize>,
    #[command(flatten)]
    records: RecordsOption,
    #[command(flatten)]
    reporting: PageReporting,
}

impl Report {
    pub(super) fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        let craft = look(&crafts(&self.records, out)?, &self.name, out)?;
        let record = CraftRecord::read(&craft.folder).map_err(|error| told(&error, out))?;
        let runs = runs(&record.journal);
        let number = self.run.unwrap_or(runs.len());
        let Some(run) = number.checked_sub(1).and_then(|at| runs.get(at)) else {
            out.error(&format!("there is no run {number} of this craft, of {}", runs.len()), None);
            return Err(Exit::Usage);
        };
        let mut damage: Vec<String> = record.damage.iter().map(ToString::to_string).collect();
        let lines = count(run.damaged, "line");
        damage.extend(
            (run.damaged > 0).then(|| format!("{lines} of the run's journal damaged: what was said there is unknown")),
        );
        let log =
            match run.provenance.as_ref().map_or(Ok((Vec::new(), true)), |made| run_log::of_run(&craft.folder, made)) {
                Ok((log, whole)) => {
                    damage.extend((!whole).then(|| "the run's log is damaged in parts".to_owned()));
                    log
                }
                Err(error) => {
                    damage.push(error.to_string());
                    Vec::new()
                }
            };
        let changed = changed(&craft.folder, run, &mut damage);
        let name = craft.called();
        let number = (number, runs.len());
        let told = RunReport { craft: &name, run, number, changed: changed.as_ref(), log: &log, damage: &damage };
        match self.reporting.format {
            PageFormat::Json => out.json(&report::json(told)),
            PageFormat::Text => out.report(&report::text(told, out.plain)),
            PageFormat::Html => out.verbatim(&page::html(&craft, &record, told)),
        }
        Ok(Exit::Done)
    }
}

fn changed(craft: &Path, run: &Run, damage: &mut Vec<String>) -> Option<crate::record::crafts::compare::Comparison> {
    let after = run.end.as_ref()?.snapshot.as_ref()?;
    match (state::snapshot(craft, &run.snapshot), state::snapshot(craft, after)) {
        (Ok(before), Ok(after)) => Some(compare(&before.settings, &after.settings, &Known::default())),
        (before, after) => {
            damage.extend([before.err(), after.err()].into_iter().flatten().map(|error| error.to_string()));
            None
        }
    }
}
