//! `quadjig craft list`.

use super::super::options::{RecordsOption, Reporting};
use super::super::output::{Format, Output};
use super::{crafts, told};
use crate::record::crafts::glance;
use crate::report::crafts::list;
use crate::seam::exit::Exit;

/// List every craft: what it is called, its last run and how that ended, what was shown of it, and what has voided that.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  quadjig craft list\n  quadjig craft list --format json")]
pub(super) struct List {
    #[command(flatten)]
    records: RecordsOption,
    #[command(flatten)]
    reporting: Reporting,
}

impl List {
    pub(super) fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        let crafts = glance::all(&crafts(&self.records, out)?).map_err(|error| told(&error, out))?;
        match self.reporting.format {
            Format::Json => out.json(&list::json(&crafts)),
            Format::Text => out.report(&list::text(&crafts, out.plain)),
        }
        let unreadable = crafts.iter().any(|(_, craft)| craft.is_err());
        Ok(if unreadable { Exit::Link } else { Exit::Done })
    }
}
