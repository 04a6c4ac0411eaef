//! `quadjig craft compare`.

use super::super::board::{self, Besides, Looked};
use super::super::loaded;
use super::super::options::{BoardOptions, Reporting};
use super::super::output::{Format, Output};
use super::{craft, crafts, look, told};
use crate::board::identity;
use crate::board::sheet::{Settings, Sheet};
use crate::board::value::SettingName;
use crate::plan::effects;
use crate::record::crafts::compare::{Known, compare, counting, written};
use crate::record::crafts::runs::{Run, runs};
use crate::record::crafts::state::{self, LastState};
use crate::record::{CraftRecord, JournalLine, folder};
use crate::report::crafts::compare::{self as report, SideJson, Words};
use crate::seam::exit::Exit;
use std::collections::BTreeSet;
use std::path::Path;

/// Of so many runs at the end of a record the snapshots are read, to find what counts by itself.
const RUNS: usize = 20;

/// Compare the settings of two crafts as they were read last; or, with one, the board on the wire with its last record.
///
/// What belongs to the single craft, and what changes without being written, is told apart and is no difference.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig craft compare wren-1 wren-2\n  quadjig craft compare wren-1 --port /dev/ttyACM0"
)]
pub(super) struct Compare {
    /// A craft: its name, or its board's id.
    #[arg(value_name = "A")]
    left: String,
    /// Another one. Left out: the board on the wire, which has to be A.
    #[arg(value_name = "B")]
    right: Option<String>,
    #[command(flatten)]
    board: BoardOptions,
    #[command(flatten)]
    reporting: Reporting,
}

/// One side.
struct Side {
    called: String,
    state: LastState,
    counters: BTreeSet<SettingName>,
    written: BTreeSet<SettingName>,
}

impl Compare {
    pub(super) fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        let crafts = crafts(&self.board.records, out)?;
        let left = recorded(&crafts, &self.left, out)?;
        let (sheets, _) = loaded::sheets(&self.board.sheet, None, out)?;
        let right = match &self.right {
            Some(other) => recorded(&crafts, other, out)?,
            None => self.on_the_wire(&crafts, &sheets, out)?,
        };
        let sheet = identity::choose(&sheets, &right.state.board, &right.state.settings).ok();
        let one_craft = left.state.board.is_same_craft(&right.state.board);
        let own = sheet.filter(|_| !one_craft).map(|sheet| own(sheet, &right.state.settings)).unwrap_or_default();
        let firmwares = left.state.board.firmware != right.state.board.firmware;
        let known = Known {
            own,
            counters: left.counters.union(&right.counters).cloned().collect(),
            written: firmwares.then(|| left.written.union(&right.written).cloned().collect()),
        };
        let found = compare(&left.state.settings, &right.state.settings, &known);
        let words = Words { sheet, settings: &right.state.settings };
        let (left, right) = (left.json(), right.json());
        let exit = if found.differs() { Exit::Pending } else { Exit::Done };
        match self.reporting.format {
            Format::Json => out.json(&report::json(left, right, &found, words)),
            Format::Text => out.report(&report::text(&left, &right, &found, words, out.plain)),
        }
        Ok(exit)
    }

    fn on_the_wire(&self, crafts: &Path, sheets: &[Sheet], out: &mut Output) -> Result<Side, Exit> {
        let craft = craft(crafts, &self.left, out)?;
        let looked = board::look(&self.board.port, sheets, crafts, Besides::Again, out)?;
        let Looked { known, copy, .. } = looked;
        if known.identity.is_unique() && folder::of_board(crafts, &known.identity).ok().as_ref() != Some(&craft) {
            let words = format!("the board on the wire is {}, and not {}", known.identity.told(), self.left);
            out.error(&words, Some("plug that craft in, or name the one that is"));
            return Err(Exit::Link);
        }
        if !known.identity.is_unique() {
            out.message("This board gives no id that tells it from others: nothing shows that it is that craft.");
        }
        board::say_unsettled_of(crafts, &known, out);
        let counters = counting(&known.settings, &copy.settings, &BTreeSet::new());
        let state = LastState { at: copy.taken, board: known.identity, settings: copy.settings };
        Ok(Side { called: "the board on the wire".to_owned(), state, counters, written: BTreeSet::new() })
    }
}

impl Side {
    fn json(&self) -> SideJson {
        SideJson {
            name: self.called.clone(),
            is_virtual: self.state.board.is_virtual(),
            at: self.state.at.clone(),
            firmware: self.state.board.firmware.clone(),
        }
    }
}

/// A craft as its record knows it.
fn recorded(crafts: &Path, name: &str, out: &mut Output) -> Result<Side, Exit> {
    let craft = look(crafts, name, out)?;
    let record = CraftRecord::read(&craft.folder).map_err(|error| told(&error, out))?;
    let runs = runs(&record.journal);
    let begins = |line: &JournalLine| matches!(line, JournalLine::Begin { .. });
    let tail = record.journal.iter().rposition(begins).unwrap_or(0);
    let state = state::last(&craft.folder, runs.last().map(|run| (run, &record.journal[tail..])));
    let hint = "`quadjig snapshot` copies its settings into its record";
    match state {
        Ok(Some(state)) => Ok(Side {
            called: craft.called(),
            state,
            counters: counters(&craft.folder, &runs),
            written: written(&runs).into_keys().collect(),
        }),
        Ok(None) => {
            out.error(&format!("no settings of {} are kept", craft.called()), Some(hint));
            Err(Exit::Link)
        }
        Err(error) => {
            out.error(&error.to_string(), Some(hint));
            Err(Exit::Link)
        }
    }
}

/// What changed over a run that did not write it.
fn counters(craft: &Path, runs: &[Run]) -> BTreeSet<SettingName> {
    let ended = |run: &&Run| run.damaged == 0 && run.end.as_ref().is_some_and(|end| end.snapshot.is_some());
    let mut found = BTreeSet::new();
    for run in runs.iter().rev().filter(ended).take(RUNS) {
        let after = run.end.as_ref().and_then(|end| end.snapshot.as_ref());
        let both = after
            .and_then(|after| Some((state::snapshot(craft, &run.snapshot).ok()?, state::snapshot(craft, after).ok()?)));
        if let Some((before, after)) = both {
            let written = written([run]).into_keys().collect();
            found.extend(counting(&before.settings, &after.settings, &written));
        }
    }
    found
}

/// What belongs to the single craft, by the sheet.
fn own(sheet: &Sheet, settings: &Settings) -> BTreeSet<SettingName> {
    let own = |name: &&SettingName| effects::entry_of(sheet, name).is_some_and(|entry| entry.craft_own);
    settings.keys().filter(own).cloned().collect()
}
