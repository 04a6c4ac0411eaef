//! `quadjig craft show`.

use super::super::options::{RecordsOption, Reporting};
use super::super::output::{Format, Output};
use super::{crafts, look, told};
use crate::record::crafts::runs::runs;
use crate::record::{CraftRecord, journal};
use crate::report::crafts::story::{self, Story};
use crate::seam::exit::Exit;

/// Show all that is kept of one craft: its runs, what was shown and what has voided it, repairs, what is not settled.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  quadjig craft show wren-1\n  quadjig craft show 7669727400000001 --format json")]
pub(super) struct Show {
    /// The craft: its name, or its board's id.
    #[arg(value_name = "NAME")]
    name: String,
    #[command(flatten)]
    records: RecordsOption,
    #[command(flatten)]
    reporting: Reporting,
}

impl Show {
    pub(super) fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        let mut craft = look(&crafts(&self.records, out)?, &self.name, out)?;
        let record = CraftRecord::read(&craft.folder).map_err(|error| told(&error, out))?;
        let damage = record.damage.iter().cloned().chain(journal::damaged(&record.journal));
        for damage in damage.map(|damage| damage.to_string()) {
            if !craft.damage.contains(&damage) {
                craft.damage.push(damage);
            }
        }
        let runs = runs(&record.journal);
        let told = Story { craft: &craft, record: &record, runs: &runs };
        match self.reporting.format {
            Format::Json => out.json(&story::json(told)),
            Format::Text => out.report(&story::text(told, out.plain)),
        }
        Ok(Exit::Done)
    }
}
