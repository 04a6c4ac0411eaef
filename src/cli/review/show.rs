//! `quadjig review show`.

use super::super::completions;
use super::super::options::{Reporting, SheetOption};
use super::super::output::{Format, Output};
use super::beside::{Beside, trusted};
use super::sign::read;
use crate::report::review::ReviewJson;
use crate::seam::exit::Exit;
use clap_complete::engine::ArgValueCompleter;
use serde::Serialize;
use std::path::PathBuf;

/// Show the reviews of a recipe: by whom, what was done, whether they count, and what changed since.
///
/// Ends in 3 where none counts.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig review show wren-95.jig\n  quadjig review show wren-95.jig --trusted allowed_signers"
)]
pub(super) struct Show {
    /// The recipe.
    #[arg(value_name = "RECIPE", add = ArgValueCompleter::new(completions::recipes))]
    recipe: PathBuf,
    /// Allowed-signers file; left out: `quadjig/allowed_signers` in your configuration folder.
    #[arg(long, value_name = "FILE")]
    trusted: Option<PathBuf>,
    #[command(flatten)]
    sheet: SheetOption,
    #[command(flatten)]
    reporting: Reporting,
}

#[derive(Serialize)]
struct Shown {
    schema: &'static str,
    recipe: String,
    reviews: Vec<ReviewJson>,
    unreadable: Vec<String>,
}

impl Show {
    pub(super) fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        let (reading, sheets) = read(&self.recipe, &self.sheet, out)?;
        if reading.has_errors() {
            out.findings(&reading.files, &reading.findings);
            out.error("a recipe with errors is not compared with its reviews", None);
            return Err(Exit::Document);
        }
        let beside = Beside::read(&self.recipe, &trusted(self.trusted));
        let told = beside.told(&reading, &sheets);
        let unreadable = beside.unread();
        let counts = told.iter().any(crate::report::review::ReviewReport::counts);
        match self.reporting.format {
            Format::Json => out.json(&Shown {
                schema: "quadjig.review-show/1",
                recipe: self.recipe.display().to_string(),
                reviews: told.iter().map(crate::report::review::ReviewReport::json).collect(),
                unreadable,
            }),
            Format::Text => {
                let mut lines: Vec<String> = told.iter().flat_map(crate::report::review::ReviewReport::lines).collect();
                lines.extend(unreadable.iter().map(|line| crate::report::gate::line(line).into_owned()));
                if lines.is_empty() {
                    lines.push("There is no review of this recipe.".to_owned());
                }
                out.report(&(lines.join("\n") + "\n"));
            }
        }
        Ok(if counts { Exit::Done } else { Exit::Pending })
    }
}
