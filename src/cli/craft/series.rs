//! `quadjig craft series`.

use super::super::options::{RecordsOption, Reporting};
use super::super::output::{Format, Output};
use super::super::series::{begun, own};
use super::{crafts, told};
use crate::record::series::rows::rows;
use crate::record::series::{self, SeriesName};
use crate::report::series::{Table, json, text};
use crate::seam::exit::Exit;

/// Show a series: its crafts, their figures side by side, and which of them stand far from the others.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  quadjig craft series wren-95\n  quadjig craft series wren-95 --format json")]
pub(super) struct Series {
    /// Its name, as `run --series` said it.
    #[arg(value_name = "NAME")]
    name: String,
    #[command(flatten)]
    records: RecordsOption,
    #[command(flatten)]
    reporting: Reporting,
}

impl Series {
    pub(super) fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        let crafts = crafts(&self.records, out)?;
        let name = SeriesName::read(&self.name);
        let common = match &name {
            Ok(name) => begun(&crafts, name, out)?,
            Err(_) => None,
        };
        let (Ok(name), Some(common)) = (name, common) else {
            let known = series::names(&crafts).map_err(|error| told(&error, out))?;
            let known: Vec<&str> = known.iter().map(SeriesName::as_str).collect();
            let hint = match known.as_slice() {
                [] => "there is none yet; `quadjig run RECIPE --series` begins one".to_owned(),
                known => format!("there are: {}", known.join(", ")),
            };
            out.error(&format!("there is no series called {}", self.name.escape_debug()), Some(&hint));
            return Err(Exit::Usage);
        };
        let own = own(&crafts, &name);
        let rows = rows(&crafts, &name, &own).map_err(|error| told(&error, out))?;
        let table = Table { name: &name, common: &common, rows: &rows };
        match self.reporting.format {
            Format::Json => out.json(&json(table)),
            Format::Text => out.report(&text(table, out.plain)),
        }
        Ok(Exit::Done)
    }
}
