//! `quadjig review sign`.

use super::super::completions;
use super::super::loaded;
use super::super::options::{RecordsOption, Reporting, SheetOption};
use super::super::output::{Format, Output};
use super::written;
use crate::board::sheet::Sheet;
use crate::board::vocabulary;
use crate::language::Reading;
use crate::language::canonical::recipe_hash;
use crate::language::sources::Disk;
use crate::plan::checks;
use crate::record::crafts::find::find;
use crate::record::crafts::runs::runs;
use crate::record::review::beside::{files, folder, text_file};
use crate::record::review::statement::{self, Reviewed, Statement, is_reviewer};
use crate::record::{CraftRecord, folder as records};
use crate::report::findings::Count;
use crate::seam::exit::Exit;
use crate::world::replace;
use clap_complete::engine::ArgValueCompleter;
use serde::Serialize;
use std::path::PathBuf;

/// State that you reviewed a recipe, and sign it.
///
/// The statement names the recipe by its hash, every file, and the board sheets; any change of them is told from then on.
/// Without --key it is written unsigned, with the command by which `ssh-keygen` signs it.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig review sign wren-95.jig --reviewer alba --key ~/.ssh/id_ed25519 --read --rehearsed 100\n  quadjig review sign wren-95.jig --reviewer alba --read --run-on wren-1"
)]
#[command(group = clap::ArgGroup::new("criteria").required(true).multiple(true).args(["read", "rehearsed", "run_on"]))]
pub(super) struct Sign {
    /// The recipe.
    #[arg(value_name = "RECIPE", add = ArgValueCompleter::new(completions::recipes))]
    recipe: PathBuf,
    /// Who you are, as allowed-signers files name you.
    #[arg(long, value_name = "NAME")]
    reviewer: String,
    /// A private key in OpenSSH's format, without a passphrase: ed25519, or ecdsa on nistp256.
    #[arg(long, value_name = "FILE")]
    key: Option<PathBuf>,
    /// You read every line of it, and of the sheets.
    #[arg(long)]
    read: bool,
    /// You rehearsed it on a fleet of so many.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    rehearsed: Option<u32>,
    /// You ran it to its end on this craft, as the craft's record shows.
    #[arg(long, value_name = "CRAFT")]
    run_on: Vec<String>,
    #[command(flatten)]
    sheet: SheetOption,
    #[command(flatten)]
    records: RecordsOption,
    #[command(flatten)]
    reporting: Reporting,
}

#[derive(Serialize)]
struct SignJson {
    schema: &'static str,
    file: String,
    signed: bool,
    recipe_hash: String,
}

impl Sign {
    pub(super) fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        if !is_reviewer(&self.reviewer) {
            let words = "a reviewer's name is one word of letters, digits and @._+-, at most 64";
            out.error(words, Some("write it as your allowed-signers file has it"));
            return Err(Exit::Usage);
        }
        let (reading, sheets) = self.recipe(out)?;
        let Some(recipe) = &reading.recipe else { return Err(Exit::Document) };
        let hash = recipe_hash(recipe);
        let criteria = self.criteria(&hash, out)?;
        let texts = files(&reading);
        let statement = Statement {
            schema: statement::SCHEMA.to_owned(),
            reviewer: self.reviewer.clone(),
            at: moment(),
            recipe: recipe.title.value.clone(),
            recipe_hash: hash.clone(),
            criteria,
            withdraws: Vec::new(),
            reason: None,
            files: texts.iter().map(|(file, _)| file.clone()).collect(),
            sheets: sheets
                .iter()
                .map(|sheet| Reviewed { name: sheet.board.clone(), sha256: sheet.hash.clone() })
                .collect(),
        };
        let file = written::write(&self.recipe, &statement, self.key.as_deref(), out)?;
        // The texts are for telling later what changed: by then they count only by their hashes.
        let folder = folder(&self.recipe);
        let kept = texts.iter().try_for_each(|(file, text)| {
            std::fs::create_dir_all(folder.join("texts"))?;
            replace::replace(&text_file(&folder, &file.sha256), text.as_bytes())
        });
        kept.map_err(|error| {
            out.error(&format!("the texts could not be kept in {}: {error}", folder.display()), None);
            Exit::Link
        })?;
        let signed = SignJson {
            schema: "quadjig.review-signed/1",
            file: file.display().to_string(),
            signed: self.key.is_some(),
            recipe_hash: hash,
        };
        match self.reporting.format {
            Format::Json => out.json(&signed),
            Format::Text => {
                let words = if signed.signed { "Signed" } else { "Written" };
                let text = format!("{words}: {}\n{}\n", signed.file, crate::report::review::NO_QUESTION_LESS);
                out.report(&crate::report::gate::lines(&text));
            }
        }
        Ok(Exit::Done)
    }

    fn recipe(&self, out: &mut Output) -> Result<(Reading, Vec<Sheet>), Exit> {
        let (reading, sheets) = read(&self.recipe, &self.sheet, out)?;
        let found = checks::reading(&reading, &sheets, None);
        if Count::of(&found).errors > 0 {
            out.findings(&reading.files, &found);
            out.message("A recipe with errors is not signed.");
            return Err(Exit::Document);
        }
        Ok((reading, sheets))
    }

    fn criteria(&self, hash: &str, out: &mut Output) -> Result<Vec<String>, Exit> {
        let mut criteria = Vec::new();
        criteria.extend(self.read.then(|| "read".to_owned()));
        criteria.extend(self.rehearsed.map(|count| format!("rehearsed on a fleet of {count}")));
        for craft in &self.run_on {
            criteria.push(self.ran_on(craft, hash, out)?);
        }
        Ok(criteria)
    }

    /// The last run of this recipe on a craft that came to its end.
    fn ran_on(&self, craft: &str, hash: &str, out: &mut Output) -> Result<String, Exit> {
        let mut told = |what: String| {
            out.error(&what, Some("`quadjig craft list` lists what was run on which craft"));
            Exit::Document
        };
        let crafts = match &self.records.records {
            Some(folder) => folder.clone(),
            None => records::crafts(|name| std::env::var_os(name)).map_err(|error| told(error.to_string()))?,
        };
        let folder = find(&crafts, craft).map_err(|error| told(error.to_string()))?;
        let record = CraftRecord::read(&folder).map_err(|error| told(error.to_string()))?;
        let runs = runs(&record.journal);
        let whole = runs.iter().rev().find(|run| {
            let of_it = run.provenance.as_ref().is_some_and(|made| made.recipe_hash.as_deref() == Some(hash));
            of_it && run.is_done()
        });
        let run =
            whole.ok_or_else(|| told(format!("this recipe was not run to its end on {craft} as it stands now")))?;
        let mark = if run.board.is_virtual() { " (VIRTUAL)" } else { "" };
        Ok(format!("run on {craft}{mark} on {}", run.at.get(..10).unwrap_or(&run.at)))
    }
}

/// A recipe, and the sheets of its boards.
pub(super) fn read(
    recipe: &std::path::Path,
    sheet: &SheetOption,
    out: &mut Output,
) -> Result<(Reading, Vec<Sheet>), Exit> {
    let reading = vocabulary::read(&Disk, recipe, &[]);
    let (sheets, _) = loaded::sheets(sheet, Some(&reading), out)?;
    Ok((reading, sheets))
}

/// Now, to the second.
pub(super) fn moment() -> String {
    let now = jiff::Timestamp::now();
    now.round(jiff::Unit::Second).unwrap_or(now).to_string()
}
