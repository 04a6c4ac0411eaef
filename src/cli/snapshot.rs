//! `quadjig snapshot`: copies all settings of a board into a file. Sends only requests and heartbeats.

use super::board::{self, Besides, Looked};
use super::craft;
use super::loaded;
use super::options::{BoardOptions, Reporting};
use super::output::{Format, Output};
use crate::board::value::{NoValue, SettingName};
use crate::language::characters::shell_word;
use crate::record::folder;
use crate::seam::exit::Exit;
use crate::world::{files, replace};
use serde::Serialize;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Copy all settings of a board into a file; writes nothing to the board.
///
/// Works on any board that speaks MAVLink, without a sheet; a board with a console needs the sheet that describes it.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  quadjig snapshot --port /dev/ttyACM0\n  quadjig snapshot --output before.json")]
pub struct TakeSnapshot {
    /// File to write; left out: the craft's own record.
    #[arg(long, value_name = "FILE")]
    output: Option<PathBuf>,
    #[command(flatten)]
    board: BoardOptions,
    #[command(flatten)]
    reporting: Reporting,
}

#[derive(Serialize)]
struct Report {
    schema: &'static str,
    file: String,
    board: crate::board::signals::Identity,
    settings: usize,
    /// Settings that the board has and of which no value could be copied: then it is no way back.
    lacking: BTreeMap<SettingName, NoValue>,
}

impl TakeSnapshot {
    /// Reads, writes the file, and says where.
    pub fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        if let Some(file) = self.output.as_ref().filter(|file| file.exists()) {
            out.error(
                &format!("{} is there already, and a copy of settings is never written over", file.display()),
                Some("give another name"),
            );
            return Err(Exit::Usage);
        }
        let (sheets, _) = loaded::sheets(&self.board.sheet, None, out)?;
        let crafts = craft::crafts(&self.board.records, out)?;
        let looked = board::look(&self.board.port, &sheets, &crafts, Besides::Nothing, out)?;
        let Looked { known, copy: snapshot, .. } = looked;
        board::say_unsettled_of(&crafts, &known, out);
        let file = match self.output {
            Some(file) => file,
            None => folder::of_board(&crafts, &known.identity).map(|craft| craft.join(snapshot.file())).map_err(
                |error| {
                    out.error(&error.to_string(), Some("name a file with --output FILE"));
                    Exit::Link
                },
            )?,
        };
        let text = serde_json::to_string_pretty(&snapshot).map_err(|_| Exit::Bug)? + "\n";
        let folder = file.parent().filter(|folder| !folder.as_os_str().is_empty());
        let written =
            folder.map_or(Ok(()), std::fs::create_dir_all).and_then(|()| replace::replace(&file, text.as_bytes()));
        written.map_err(|error| {
            let error = files::sorted(&file, &error);
            out.error(&error.to_string(), error.hint());
            out.message("Nothing was written to the board.");
            Exit::Link
        })?;
        let report = Report {
            schema: "quadjig.snapshot-taken/1",
            file: file.display().to_string(),
            board: known.identity,
            settings: snapshot.settings.len(),
            lacking: snapshot.lacking.clone(),
        };
        match self.reporting.format {
            Format::Json => out.json(&report),
            Format::Text => {
                out.report(&format!("{} settings copied into `{}`\n", report.settings, shell_word(&file)));
            }
        }
        let Some(why) = snapshot.not_whole() else { return Ok(Exit::Done) };
        out.error(
            &format!("the copy is not whole, and no way back: {why}"),
            Some("it can be compared and planned against; `quadjig restore` refuses it"),
        );
        Ok(Exit::Link)
    }
}
