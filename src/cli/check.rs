//! `quadjig check`: reads and checks recipes, sheets and cards; touches no board.

use super::collection::{self, Item};
use super::completions;
use super::documents;
use super::input;
use super::options::ReadingOptions;
use super::output::Output;
use super::review::beside::{Beside, trusted};
use crate::board::document::DocumentError;
use crate::board::document::kind::DocumentKind;
use crate::board::document::load::LoadError;
use crate::board::radio_card::RadioCard;
use crate::board::sheet::Sheet;
use crate::board::{radio_card_file, sheet_file, vocabulary};
use crate::language::Reading;
use crate::language::finding::{self, Finding};
use crate::language::recipe::File;
use crate::plan::checks;
use crate::record::review::beside::Signers;
use crate::report::checked::{CheckJson, Checked, Hashes};
use crate::report::findings::{self, Count};
use crate::report::review::ReviewReport;
use crate::report::{gate, sarif};
use crate::seam::exit::Exit;
use clap_complete::engine::ArgValueCompleter;
use std::path::{Path, PathBuf};

/// Read and check recipes, board sheets and radio cards; touches no board.
///
/// Says what would go wrong at the bench, with the place in the recipe and what to do. Of a folder, every recipe, sheet
/// and card in it is checked. Without --sheet, the sheets that are checked along and those that come with quadjig are
/// used for the boards that a recipe names. Of a recipe without errors two hashes are told: the recipe hash, which stays
/// while parameters are only filled in, and for each sheet the filled hash.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig check wren-95.jig\n  quadjig check --strict recipes/\n  quadjig check - < wren-95.jig\n  quadjig check wren-95.jig --radio bench --with idle-floor=1120us\n  quadjig check --format json wren-95.jig"
)]
pub struct Check {
    /// Recipes, sheets and cards to check, folders of them, or `-` for a recipe on standard input.
    #[arg(required = true, value_name = "RECIPE", add = ArgValueCompleter::new(completions::recipes))]
    recipes: Vec<PathBuf>,
    #[command(flatten)]
    reading: ReadingOptions,
    /// Warnings count as errors: for collections that others rely on.
    #[arg(long)]
    strict: bool,
    /// How to report: for people, JSON for programs, or SARIF 2.1.0 for tools that gather findings.
    #[arg(long, value_enum, default_value_t = Form::Text, value_name = "FORM")]
    format: Form,
}

/// How a check is reported.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
enum Form {
    /// For people.
    #[default]
    Text,
    /// For programs, with a `schema` field.
    Json,
    /// The interchange format of analysis tools.
    Sarif,
}

/// What was found so far.
struct Report<'o> {
    form: Form,
    out: &'o mut Output,
    json: CheckJson,
    count: Count,
    checked: Checked,
}

impl Report<'_> {
    fn take(&mut self, files: &[File], found: &[Finding]) {
        self.count += Count::of(found);
        match self.form {
            Form::Text => self.out.report(&findings::text(files, found, self.out.look())),
            Form::Json | Form::Sarif => self.json.findings.extend(findings::json(files, found)),
        }
    }

    fn hashes(&mut self, hashes: Hashes) {
        match self.form {
            Form::Text => self.out.report(&hashes.text(self.out.plain)),
            Form::Json | Form::Sarif => self.json.recipes.push(hashes),
        }
    }

    fn reviews(&mut self, lines: impl Iterator<Item = String>) {
        for line in lines {
            match self.form {
                Form::Text if self.out.plain => self.out.report(&format!("review: {}\n", gate::line(&line))),
                Form::Text => self.out.report(&format!("  {}\n", gate::line(&line))),
                Form::Json | Form::Sarif => {}
            }
        }
    }

    fn close(self) -> Count {
        let Self { form, out, json, count, checked } = self;
        match form {
            Form::Text => out.report(&format!("{checked}: {count}\n")),
            Form::Json => out.json(&json),
            Form::Sarif => out.json(&sarif::log(&json.findings)),
        }
        count
    }
}

impl Check {
    /// Checks, reports, and ends in [`Exit::Document`] where there is an error.
    pub fn run(self, out: &mut Output) -> Exit {
        if let Some(why) = input::named_twice(&self.recipes) {
            out.error(why, None);
            return Exit::Usage;
        }
        let root = input::root(&self.recipes[0]);
        let sheet = self.reading.sheet.sheet.as_deref().map(|name| documents::sheet(name, &root)).transpose();
        let card = self.reading.radio.radio.as_deref().map(|name| documents::radio_card(name, &root)).transpose();
        let (sheet, card) = match (sheet, card) {
            (Ok(sheet), Ok(card)) => (sheet, card.map(|(card, _)| card)),
            (sheet, card) => {
                for error in [sheet.err(), card.err()].into_iter().flatten() {
                    out.error(&error.to_string(), error.hint().as_deref());
                }
                return Exit::Document;
            }
        };
        let items = match collection::gather(&self.recipes) {
            Ok(items) => items,
            Err(error) => {
                out.error(&error.to_string(), None);
                return Exit::Document;
            }
        };
        let json = CheckJson { schema: "quadjig.check/1", findings: Vec::new(), recipes: Vec::new() };
        let mut report = Report { form: self.format, out, json, count: Count::default(), checked: Checked::default() };
        // Documents first: a recipe is checked with the sheets that lie beside it.
        let mut own = Vec::new();
        for (kind, path) in items
            .iter()
            .filter_map(|item| if let Item::Document(kind, path) = item { Some((*kind, path)) } else { None })
        {
            own.extend(document(kind, path, &mut report));
        }
        let signers = trusted(None);
        let mut last = None;
        for path in items.iter().filter_map(|item| if let Item::Recipe(path) = item { Some(path) } else { None }) {
            match self.recipe(path, sheet.as_ref(), &own, (card.as_ref(), &signers), &mut report) {
                Ok(reading) => last = Some(reading),
                Err(error) => {
                    report.out.error(&error.to_string(), None);
                    return Exit::Bug;
                }
            }
        }
        // It goes with the process, at once; to take ten thousand statements apart first takes a millisecond.
        std::mem::forget(last);
        let count = report.close();
        if count.errors > 0 || (self.strict && count.warnings > 0) { Exit::Document } else { Exit::Done }
    }

    fn recipe(
        &self,
        path: &Path,
        sheet: Option<&Sheet>,
        own: &[Sheet],
        (card, signers): (Option<&RadioCard>, &Signers),
        report: &mut Report<'_>,
    ) -> Result<Reading, DocumentError> {
        let (sources, name) = input::source(path);
        let reading = vocabulary::read(sources, &name, &self.reading.with.pairs());
        let (sheets, wrong) = match (sheet, &reading.recipe) {
            (Some(sheet), _) => (vec![sheet.clone()], Vec::new()),
            (None, Some(recipe)) => documents::sheets_for(recipe, &reading.root, own)?,
            (None, None) => Default::default(),
        };
        let mut found = checks::reading(&reading, &sheets, card);
        found.extend(wrong);
        finding::sort(&mut found);
        report.checked.recipes += 1;
        report.take(&reading.files, &found);
        let good = reading.recipe.as_ref().filter(|_| Count::of(&found).errors == 0);
        let mut hashes = Hashes::of(&name.display().to_string(), good, &sheets);
        let beside = Beside::read(path, signers);
        let told = if good.is_some() { beside.told(&reading, &sheets) } else { Vec::new() };
        hashes.reviews = told.iter().map(ReviewReport::json).collect();
        report.hashes(hashes);
        report.reviews(told.iter().flat_map(ReviewReport::lines).chain(beside.unread()));
        Ok(reading)
    }
}

/// Checks a document; gives its sheet where it is a good one.
fn document(kind: DocumentKind, path: &Path, report: &mut Report<'_>) -> Option<Sheet> {
    let read = match kind {
        DocumentKind::Sheet => {
            report.checked.sheets += 1;
            sheet_file::load(path).map(Some)
        }
        DocumentKind::Card => {
            report.checked.cards += 1;
            radio_card_file::load(path).map(|_| None)
        }
    };
    read.unwrap_or_else(|error: LoadError| {
        let file = collection::file(path);
        let found = findings::of_document(kind.code(), &file, &error);
        report.take(&[file], &found);
        None
    })
}
