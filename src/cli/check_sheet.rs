//! `quadjig check-sheet`: reads a board sheet strictly; with a port, tries each reading on a board.
//!
//! Promises: without a port nothing is opened; with one nothing is written, and props off and battery out are attested
//! at a terminal before it is opened; a claim is tried only where that was asked for, by an attended run. Must not be here:
//! what is tried, how it is told.

use super::attend::{attend, job};
use super::board::{self, Sitting};
use super::completions;
use super::craft;
use super::documents::{self, ChosenError};
use super::input;
use super::loaded;
use super::options::{PortOptions, RadioOption, RecordsOption, Reporting};
use super::output::{Format, Output};
use super::peer::Peer;
use crate::bench::attended::{RunOptions, SheetTried, Task};
use crate::bench::monitor::sheet_trial::try_sheet;
use crate::bench::session::context::SessionContext;
use crate::board::document::load::LoadError;
use crate::board::sheet::Sheet;
use crate::plan::trial::{SheetTrial, distrusted, possible};
use crate::report::sheet as report;
use crate::seam::PortName;
use crate::seam::exit::Exit;
use crate::seam::sheet_trial::Trial;
use crate::world::terminal::Terminal;
use clap_complete::engine::ArgValueCompleter;
use std::cell::{Cell, RefCell};
use std::path::PathBuf;
use std::rc::Rc;

/// Check a board sheet; with --port, try each of its readings on a board.
///
/// Says what is wrong with the sheet, each with its place, what was left of a template and what the sheet leaves out; how to
/// see each fact that a board does not tell; and what recipes can and can't do on the board. On a board, with the propellers
/// off and the battery out, it shows what was understood of each answer, and what the board says otherwise than the sheet.
/// It writes nothing. With --try it goes on, as an attended run that asks before anything can turn, to try a claim on the craft.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig check-sheet my-board.toml\n  quadjig check-sheet my-board.toml --port /dev/ttyACM0\n  quadjig check-sheet my-board.toml --port /dev/ttyACM0 --try usb\n  quadjig check-sheet my-board.toml --port /dev/ttyACM0 --try cable\n  quadjig check-sheet finch-c --format json"
)]
pub struct CheckSheet {
    /// Board sheet: a file, or the name of a shipped sheet such as `finch` or of one in `boards/` at the root.
    #[arg(value_name = "FILE|NAME", add = ArgValueCompleter::new(completions::sheets))]
    sheet: String,
    #[command(flatten)]
    port: PortOptions,
    /// Show each answer's bytes as well, and what each field of the sheet reads there; of a console, its lines.
    #[arg(long, requires = "port", conflicts_with = "format")]
    fields: bool,
    /// Once each reading was understood, try this claim on the craft, propellers off. usb: does it arm by its switch with the
    /// battery out, and does a motor turn then? motor-run: does a motor that is run by command stop by itself? cable: the same,
    /// and then once more with the cable pulled out while it turns, one hand at the battery plug.
    #[arg(long = "try", value_name = "CLAIM", value_enum, requires = "port", conflicts_with = "format")]
    claim: Option<Claim>,
    #[command(flatten)]
    radio: RadioOption,
    #[command(flatten)]
    records: RecordsOption,
    #[command(flatten)]
    reporting: Reporting,
}

/// A claim that is tried on the craft.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum Claim {
    Usb,
    MotorRun,
    Cable,
}

impl From<Claim> for SheetTrial {
    fn from(claim: Claim) -> Self {
        match claim {
            Claim::Usb => Self::Usb,
            Claim::MotorRun => Self::MotorRun,
            Claim::Cable => Self::Cable,
        }
    }
}

impl CheckSheet {
    /// Checks, tries if asked to, and reports; ends in [`Exit::Document`] where the sheet is wrong.
    pub fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        let sheet = self.read(out)?;
        let claim = self.claim.map(SheetTrial::from);
        if let Some(Err(why)) = claim.map(|claim| possible(claim, &sheet)) {
            out.error(&format!("there is nothing to try: {why}"), Some(why.hint()));
            return Err(Exit::Document);
        }
        if claim == Some(SheetTrial::Cable) && self.port.port.is_some() && !self.has_cable(out)? {
            let hint = "name the board's own port, such as /dev/ttyACM0";
            out.error("there is nothing to try: a network address has no cable that can be pulled out", Some(hint));
            return Err(Exit::Document);
        }
        let trial = match self.port.port {
            None => None,
            Some(_) => Some(self.tried(&sheet, out)?),
        };
        match self.reporting.format {
            Format::Json => out.json(&report::json(&sheet, trial.as_ref())),
            Format::Text => out.report(&report::text(&sheet, trial.as_ref(), self.fields)),
        }
        match (report::errors(&sheet, trial.as_ref()), claim) {
            (0, None) => Ok(Exit::Done),
            (0, Some(claim)) => self.on_the_craft(sheet, claim, out),
            (_, None) => Ok(Exit::Document),
            (_, Some(_)) => {
                out.message("Nothing was tried on the craft: put right first what is wrong above.");
                Ok(Exit::Document)
            }
        }
    }

    /// The claim tried by an attended run, whose guards do not believe it.
    fn on_the_craft(&self, sheet: Sheet, what: SheetTrial, out: &mut Output) -> Result<Exit, Exit> {
        let (card, card_file) = loaded::card(&self.radio, &input::here(), out)?;
        let sheets = vec![distrusted(&sheet)];
        let peer = Peer::of(&self.port, &sheets, out)?;
        let port = board::port(&self.port, out)?;
        let crafts = craft::crafts(&self.records, out)?;
        let title = format!("trial of {}", sheet.board);
        let task = Task::Trial(Box::new(SheetTried { what, sheet, began: Cell::new(None) }));
        let options = RunOptions { radio: self.radio.radio.clone(), ..RunOptions::default() };
        attend(job((title, task), sheets, card, port, options), crafts, card_file, peer, out)
    }

    fn has_cable(&self, out: &mut Output) -> Result<bool, Exit> {
        Ok(!matches!(board::port(&self.port, out)?, PortName::Tcp(_) | PortName::Udp(_)))
    }

    fn read(&self, out: &mut Output) -> Result<Sheet, Exit> {
        documents::sheet(&self.sheet, &input::here()).map_err(|error| {
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
