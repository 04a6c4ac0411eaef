//! `quadjig check`: reads and checks recipes; touches no board.

use super::documents;
use super::exit::Exit;
use super::options::{RadioOption, Reporting, SheetOption, WithOption};
use super::output::{Format, Output};
use crate::board::radio_card::RadioCard;
use crate::board::sheet::Sheet;
use crate::board::vocabulary;
use crate::language::finding::Finding;
use crate::language::recipe::File;
use crate::language::sources::Disk;
use crate::plan::checks;
use crate::report::findings::{self, Count, FindingJson};
use serde::Serialize;
use std::path::PathBuf;

/// Read and check recipes; touches no board.
///
/// Says what would go wrong at the bench, with the place in the recipe and what to do. Without
/// --sheet, the sheets that come with quadjig are used for the boards that a recipe names.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig check wren-95.jig\n  quadjig check wren-95.jig --radio bench --with idle-floor=1120us\n  quadjig check --format json wren-95.jig"
)]
pub struct Check {
    /// Recipes to check.
    #[arg(required = true, value_name = "RECIPE")]
    recipes: Vec<PathBuf>,
    #[command(flatten)]
    sheet: SheetOption,
    #[command(flatten)]
    radio: RadioOption,
    #[command(flatten)]
    with: WithOption,
    #[command(flatten)]
    reporting: Reporting,
}

#[derive(Serialize)]
struct Report {
    schema: &'static str,
    findings: Vec<FindingJson>,
}

impl Check {
    /// Checks, reports, and ends in [`Exit::Document`] where there is an error.
    pub fn run(self, out: &mut Output) -> Exit {
        let sheet = self.sheet.sheet.as_deref().map(documents::sheet).transpose();
        let card = self.radio.radio.as_deref().map(documents::radio_card).transpose();
        let (sheet, card) = match (sheet, card) {
            (Ok(sheet), Ok(card)) => (sheet, card),
            (sheet, card) => {
                for error in [sheet.err(), card.err()].into_iter().flatten() {
                    out.error(&error.to_string(), error.hint().as_deref());
                }
                return Exit::Document;
            }
        };
        let mut report = Report { schema: "quadjig.check/1", findings: Vec::new() };
        let mut count = Count::default();
        let look = out.look();
        for recipe in &self.recipes {
            let (files, found) = match self.one(recipe, sheet.as_ref(), card.as_ref()) {
                Ok(checked) => checked,
                Err(error) => {
                    out.error(&error.to_string(), None);
                    return Exit::Bug;
                }
            };
            count += Count::of(&found);
            match self.reporting.format {
                Format::Text => out.report(&findings::text(&files, &found, look)),
                Format::Json => report.findings.extend(findings::json(&files, &found)),
            }
        }
        match self.reporting.format {
            Format::Text => out.report(&format!("{}: {count}\n", findings::recipes(self.recipes.len()))),
            Format::Json => out.json(&report),
        }
        if count.errors > 0 { Exit::Document } else { Exit::Done }
    }

    fn one(
        &self,
        recipe: &std::path::Path,
        sheet: Option<&Sheet>,
        card: Option<&RadioCard>,
    ) -> Result<(Vec<File>, Vec<Finding>), crate::board::document::DocumentError> {
        let words: Vec<&str> = vocabulary::WORDS.iter().map(|word| word.word).collect();
        let reading = crate::language::read(&Disk, recipe, &self.with.pairs(), &words);
        let sheets = match (sheet, &reading.recipe) {
            (Some(sheet), _) => vec![sheet.clone()],
            (None, Some(recipe)) => documents::shipped_for(recipe)?,
            (None, None) => Vec::new(),
        };
        let found = checks::reading(&reading, &sheets, card);
        Ok((reading.files, found))
    }
}
