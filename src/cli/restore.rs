//! `quadjig restore`: brings a copy of all settings back; planned, shown and verified like a run.

use super::attend::{attend, job};
use super::board;
use super::completions;
use super::craft;
use super::input;
use super::loaded;
use super::options::{BoardOptions, OperatorOption, RadioOption};
use super::output::Output;
use super::peer::Peer;
use crate::bench::attended::{RunOptions, Task};
use crate::board::document::load;
use crate::record::Snapshot;
use crate::seam::exit::Exit;
use clap_complete::engine::ArgValueCompleter;
use std::path::{Path, PathBuf};

/// Bring a copy of all settings back: planned, shown, written, kept and read back like a run.
///
/// The battery has to be out. What belongs to a single craft is never carried to another. `quadjig dry-run SNAPSHOT` shows
/// all of it beforehand: every setting, and which switch would arm afterwards.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig dry-run before.json\n  quadjig restore before.json\n  quadjig restore before.json --port /dev/ttyACM0"
)]
pub struct Restore {
    /// The snapshot, as `quadjig snapshot` or a run wrote it.
    #[arg(value_name = "SNAPSHOT", add = ArgValueCompleter::new(completions::snapshots))]
    snapshot: PathBuf,
    #[command(flatten)]
    board: BoardOptions,
    #[command(flatten)]
    radio: RadioOption,
    #[command(flatten)]
    operator: OperatorOption,
}

/// Reads a snapshot file, which is no longer than a snapshot can be.
///
/// # Errors
/// [`Exit::Document`], after what is wrong was told.
pub fn snapshot(path: &Path, out: &mut Output) -> Result<Snapshot, Exit> {
    let text = load::text(path).map_err(|error| {
        out.error(&error.to_string(), Some("name a snapshot that `quadjig snapshot` wrote"));
        Exit::Document
    })?;
    Snapshot::parse(path, text.as_bytes()).map_err(|error| {
        out.error(&error.to_string(), Some("name a snapshot that `quadjig snapshot` wrote"));
        Exit::Document
    })
}

/// What bringing a copy back is called.
pub fn title(snapshot: &Snapshot) -> String {
    format!("settings of {}", snapshot.taken)
}

impl Restore {
    /// Loads, runs, and says how it ended.
    pub fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        let snapshot = snapshot(&self.snapshot, out)?;
        let (sheets, _) = loaded::sheets(&self.board.sheet, None, out)?;
        let (card, _) = loaded::card(&self.radio, &input::here(), out)?;
        let peer = Peer::of(&self.board.port, &sheets, out)?;
        let port = board::port(&self.board.port, out)?;
        let crafts = craft::crafts(&self.board.records, out)?;
        let what = (title(&snapshot), Task::Restore(Box::new(snapshot)));
        let options = RunOptions { operator: self.operator.operator, radio: self.radio.radio, ..RunOptions::default() };
        attend(job(what, sheets, card, port, options), crafts, None, peer, out)
    }
}
