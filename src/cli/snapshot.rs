//! `quadjig snapshot`: copies all settings of a board into a file. Sends only requests and heartbeats.

use super::board::{self, Sitting};
use super::exit::Exit;
use super::options::{PortOptions, RecordsOption, Reporting};
use super::output::{Format, Output};
use crate::bench::fault::Fault;
use crate::bench::handle::Bench;
use crate::bench::run::{Connected, WallClock, connect};
use crate::bench::seam::PortName;
use crate::record::{Snapshot, folder};
use crate::world::replace;
use serde::Serialize;
use std::cell::RefCell;
use std::path::PathBuf;
use std::rc::Rc;

/// Copy all settings of a board into a file; writes nothing to the board.
///
/// Works on any board that speaks MAVLink, without a sheet.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  quadjig snapshot --port /dev/ttyACM0\n  quadjig snapshot --output before.json")]
pub struct TakeSnapshot {
    /// File to write; left out: the craft's own record.
    #[arg(long, value_name = "FILE")]
    output: Option<PathBuf>,
    #[command(flatten)]
    port: PortOptions,
    #[command(flatten)]
    records: RecordsOption,
    #[command(flatten)]
    reporting: Reporting,
}

#[derive(Serialize)]
struct Report {
    schema: &'static str,
    file: String,
    board: crate::board::signals::Identity,
    settings: usize,
}

async fn look(
    bench: Rc<Bench>,
    port: PortName,
    clock: WallClock,
    found: Rc<RefCell<Option<(Connected, String)>>>,
) -> Result<(), Fault> {
    let known = connect(&bench, &port).await?;
    let at = clock.at(bench.now());
    *found.borrow_mut() = Some((known, at));
    bench.close();
    Ok(())
}

impl TakeSnapshot {
    /// Reads, writes the file, and says where.
    pub fn run(self, out: &mut Output) -> Exit {
        self.go(out).unwrap_or_else(|exit| exit)
    }

    fn go(self, out: &mut Output) -> Result<Exit, Exit> {
        let port = board::port(&self.port, out)?;
        let crafts = board::crafts(&self.records, out)?;
        let bench = Rc::new(Bench::default());
        let found = Rc::new(RefCell::new(None));
        let script = Box::pin(look(Rc::clone(&bench), port, board::clock(), Rc::clone(&found)));
        let sitting = Sitting {
            crafts: crafts.clone(),
            radio_card: None,
            name: "snapshot".to_owned(),
            vehicle: self.port.vehicle,
            looks_only: true,
        };
        board::sit(sitting, &bench, script, |_| Box::pin(async { Ok(()) }), out).map_err(|fault| told(&fault, out))?;
        let Some((known, at)) = found.borrow_mut().take() else { return Err(Exit::Bug) };
        let snapshot = Snapshot::new(at, known.identity.clone(), known.settings);
        let file = match self.output {
            Some(file) => file,
            None => folder::of_craft(&crafts, &known.identity.id).map(|craft| craft.join(snapshot.file())).map_err(
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
            out.error(
                &format!("{} could not be written: {error}", file.display()),
                Some("nothing was changed on the board"),
            );
            Exit::Link
        })?;
        let report = Report {
            schema: "quadjig.snapshot-taken/1",
            file: file.display().to_string(),
            board: known.identity,
            settings: snapshot.settings.len(),
        };
        match self.reporting.format {
            Format::Json => out.json(&report),
            Format::Text => out.report(&format!("{} settings copied into {}\n", report.settings, report.file)),
        }
        Ok(Exit::Done)
    }
}

/// Tells a fault of a command that only looks.
pub fn told(fault: &Fault, out: &mut Output) -> Exit {
    out.error(&fault.to_string(), Some("nothing was written to the board"));
    board::exit(fault)
}
