//! `quadjig craft`: the records of crafts, listed, told and compared.

mod changed;
#[cfg(unix)]
mod compare;
mod list;
mod name;
mod page;
mod report;
#[cfg(unix)]
mod series;
mod show;

use super::options::RecordsOption;
use super::output::Output;
use crate::record::RecordError;
use crate::record::crafts::find::{NotFound, find};
use crate::record::crafts::glance::{Glance, glance};
use crate::record::folder;
use crate::seam::exit::Exit;
use std::path::{Path, PathBuf};

/// The records of crafts: list, name, show, compare and report them, show a series, or note a repair.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  quadjig craft list\n  quadjig craft show wren-1")]
pub struct Craft {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    List(list::List),
    Name(name::Name),
    Show(show::Show),
    #[cfg(unix)]
    Compare(compare::Compare),
    Changed(changed::Changed),
    Report(report::Report),
    #[cfg(unix)]
    Series(series::Series),
}

impl Craft {
    /// Does what is asked.
    pub fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        match self.command {
            Command::List(list) => list.run(out),
            Command::Name(name) => name.run(out),
            Command::Show(show) => show.run(out),
            #[cfg(unix)]
            Command::Compare(compare) => compare.run(out),
            Command::Changed(changed) => changed.run(out),
            Command::Report(report) => report.run(out),
            #[cfg(unix)]
            Command::Series(series) => series.run(out),
        }
    }
}

/// Where craft records are.
pub(super) fn crafts(option: &RecordsOption, out: &mut Output) -> Result<PathBuf, Exit> {
    match &option.records {
        Some(folder) => Ok(folder.clone()),
        None => folder::crafts(|name| std::env::var_os(name)).map_err(|error| {
            out.error(&error.to_string(), Some("name a folder with --records DIR"));
            Exit::Link
        }),
    }
}

/// The craft that is meant.
pub(super) fn craft(crafts: &Path, words: &str, out: &mut Output) -> Result<PathBuf, Exit> {
    find(crafts, words).map_err(|error| match &error {
        NotFound::None(_) => {
            out.error(&error.to_string(), Some("`quadjig craft list` lists those that there are"));
            Exit::Usage
        }
        NotFound::Several { .. } => {
            out.error(&error.to_string(), Some("name it by its board's id or its folder's name"));
            Exit::Usage
        }
        NotFound::Record(record) => told(record, out),
    })
}

/// A look at the craft that is meant.
fn look(crafts: &Path, words: &str, out: &mut Output) -> Result<Glance, Exit> {
    let folder = craft(crafts, words, out)?;
    glance(&folder).map_err(|error| told(&error, out))
}

/// Says which runs of a craft were cut off and are not settled.
fn say_open(craft: &Glance, out: &mut Output) {
    for run in crate::report::crafts::open(craft) {
        out.message(&format!("mind this: the run of {run}"));
    }
}

/// Says what is wrong with a record.
pub(super) fn told(error: &RecordError, out: &mut Output) -> Exit {
    out.error(&error.to_string(), error.hint());
    Exit::Link
}
