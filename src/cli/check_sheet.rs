//! `quadjig check-sheet`: reads a board sheet strictly; with a port, tries each reading on a board.
//!
//! Promises: without a port nothing is opened; with one nothing is written, and props off and battery out are attested
//! at a terminal before it is opened. Must not be here: what is tried, how it is told.

use super::board::{self, Sitting};
use super::completions;
use super::documents::{self, ChosenError};
use super::exit::Exit;
use super::input;
use super::options::{PortOptions, Reporting};
use super::output::{Format, Output};
use super::peer::Peer;
use crate::bench::monitor::sheet_trial::{Trial, try_sheet};
use crate::bench::session::context::SessionContext;
use crate::board::document::load::LoadError;
use crate::board::sheet::Sheet;
use crate::report::sheet as report;
use crate::world::terminal::Terminal;
use clap_complete::engine::ArgValueCompleter;
use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::rc::Rc;

/// Check a board sheet; with --port, try each of its readings on a board.
///
/// Says what is wrong with the sheet, each with its place, what was left of a template and what the sheet leaves out; how to
/// see each fact that a board does not tell; and what recipes can and can't do on the board. On a board, with the propellers
/// off and the battery out, it shows what was understood of each answer, and what the board says otherwise than the sheet.
/// It writes nothing.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig check-sheet my-board.toml\n  quadjig check-sheet my-board.toml --port /dev/ttyACM0\n  quadjig check-sheet finch-c --format json"
)]
pub struct CheckSheet {
    /// Board sheet: a file, or the name of a shipped sheet such as `finch` or of one in `boards/` at the root.
    #[arg(value_name = "FILE|NAME", add = ArgValueCompleter::new(completions::sheets))]
    sheet: String,
    #[command(flatten)]
    port: PortOptions,
    #[command(flatten)]
    reporting: Reporting,
}

impl CheckSheet {
    /// Checks, tries if asked to, and reports; ends in [`Exit::Document`] where the sheet is wrong.
    pub fn run(self, out: &mut Output) -> Exit {
        self.go(out).unwrap_or_else(|exit| exit)
    }

    fn go(self, out: &mut Output) -> Result<Exit, Exit> {
        let sheet = self.read(out)?;
        let trial = match self.port.port {
            None => None,
            Some(_) => Some(self.tried(&sheet, out)?),
        };
        match self.reporting.format {
            Format::Json => out.json(&report::json(&sheet, trial.as_ref())),
            Format::Text => out.report(&report::text(&sheet, trial.as_ref())),
        }
        Ok(if report::errors(&sheet, trial.as_ref()) == 0 { Exit::Done } else { Exit::Document })
    }

    fn read(&self, out: &mut Output) -> Result<Sheet, Exit> {
        documents::sheet(&self.sheet, &input::root(Path::new("-"))).map_err(|error| {
            match &error {
                ChosenError::Load(LoadError::Document(wrong)) => match self.reporting.format {
                    Format::Json => out.json(&report::wrong_json(wrong)),
                    Format::Text => out.report(&report::wrong_text(wrong)),
                },
                other => out.error(&other.to_string(), other.hint().as_deref()),
            }
            Exit::Document
        })
    }

    fn tried(&self, sheet: &Sheet, out: &mut Output) -> Result<Trial, Exit> {
        if Terminal::controlling().is_none() {
            out.error(
                "trying a sheet on a board needs a terminal with a person at it, who takes the propellers and the \
                 battery off first; no port was opened and nothing was sent",
                Some("start it in a terminal, in the foreground; without --port the sheet alone is checked"),
            );
            return Err(Exit::Stopped);
        }
        let port = board::port(&self.port, out)?;
        let peer = Peer::of(&self.port, std::slice::from_ref(sheet), out)?;
        let bench = Rc::new(SessionContext::default());
        let found = Rc::new(RefCell::new(None));
        let (there, here, known) = (Rc::clone(&found), Rc::clone(&bench), sheet.clone());
        let script = Box::pin(async move {
            let trial = try_sheet(&here, &port, &known).await?;
            *there.borrow_mut() = Some(trial);
            Ok(())
        });
        // Nothing of a craft's record is read or written here.
        let sitting = Sitting { crafts: PathBuf::from("."), peer, ..Sitting::default() };
        board::look_at_terminal(sitting, &bench, script, out).map_err(|fault| {
            out.message("Nothing was written to the board.");
            board::ended(&fault, out)
        })?;
        found.borrow_mut().take().ok_or(Exit::Bug)
    }
}
