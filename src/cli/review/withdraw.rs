//! `quadjig review withdraw`.

use super::super::completions;
use super::super::options::Reporting;
use super::super::options::one_line;
use super::super::output::{Format, Output};
use super::beside::{Beside, trusted};
use super::sign::moment;
use super::written;
use crate::record::review::statement::{self, Statement, is_reviewer};
use crate::seam::exit::Exit;
use clap_complete::engine::ArgValueCompleter;
use serde::Serialize;
use std::path::PathBuf;

/// Withdraw reviews of a recipe, with a reason that is shown to whoever runs it.
///
/// The reviews stay where they are; the withdrawal is a statement beside them, signed like them.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig review withdraw wren-95.jig --reviewer alba --key ~/.ssh/id_ed25519 --reason \"the buzzer's band is too wide\""
)]
pub(super) struct Withdraw {
    /// The recipe.
    #[arg(value_name = "RECIPE", add = ArgValueCompleter::new(completions::recipes))]
    recipe: PathBuf,
    /// Who you are, as allowed-signers files name you.
    #[arg(long, value_name = "NAME")]
    reviewer: String,
    /// Why.
    #[arg(long, value_name = "TEXT", value_parser = one_line)]
    reason: String,
    /// Whose reviews; left out: your own.
    #[arg(long, value_name = "NAME")]
    of: Option<String>,
    /// A private key in OpenSSH's format, without a passphrase.
    #[arg(long, value_name = "FILE")]
    key: Option<PathBuf>,
    #[command(flatten)]
    reporting: Reporting,
}

#[derive(Serialize)]
struct Withdrawal {
    schema: &'static str,
    file: String,
    signed: bool,
    withdrawn: usize,
}

impl Withdraw {
    pub(super) fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        if !is_reviewer(&self.reviewer) {
            out.error("a reviewer's name is one word of letters, digits and @._+-, at most 64", None);
            return Err(Exit::Usage);
        }
        let of = self.of.as_ref().unwrap_or(&self.reviewer);
        let beside = Beside::read(&self.recipe, &trusted(None));
        let meant: Vec<_> = beside
            .reviews()
            .iter()
            .filter(|review| review.statement.reviewer == *of && review.withdrawn.is_none())
            .collect();
        let Some(last) = meant.last() else {
            let words = format!("there is no review of this recipe by {of} that stands");
            out.error(&words, Some("`quadjig review show` shows those that there are"));
            return Err(Exit::Document);
        };
        let statement = Statement {
            schema: statement::SCHEMA.to_owned(),
            reviewer: self.reviewer.clone(),
            at: moment(),
            recipe: last.statement.recipe.clone(),
            recipe_hash: last.statement.recipe_hash.clone(),
            criteria: Vec::new(),
            withdraws: meant.iter().map(|review| review.sha256.clone()).collect(),
            reason: Some(self.reason.clone()),
            files: Vec::new(),
            sheets: Vec::new(),
        };
        let file = written::write(&self.recipe, &statement, self.key.as_deref(), out)?;
        let done = Withdrawal {
            schema: "quadjig.review-withdrawn/1",
            file: file.display().to_string(),
            signed: self.key.is_some(),
            withdrawn: meant.len(),
        };
        match self.reporting.format {
            Format::Json => out.json(&done),
            Format::Text => {
                let count = crate::plan::titles::count(done.withdrawn, "review");
                let text = format!("Withdrawn: {count} by {of}, in {}\n", done.file);
                out.report(&crate::report::gate::lines(&text));
            }
        }
        Ok(Exit::Done)
    }
}
