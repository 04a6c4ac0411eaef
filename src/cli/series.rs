//! `quadjig run --series`: a recipe on craft after craft, at one sitting or over several days.
//!
//! Promises: each craft is a session of its own, made anew from nothing: its own link, its own interlock without contact,
//! answers, proofs or stop authority. What goes from craft to craft is the recipe with its parameters, and the radio card as
//! it lies on the disk; nothing else is handed on, so nothing that was said or shown of one craft stands for another.
//! Must not be here: what is asked of a craft (see the interlock), the table's words.

use super::attend::{attend, has_terminal, job};
use super::board::{self, Sitting};
use super::craft::told;
use super::loaded::{self, Loaded};
use super::options::{PortOptions, RadioOption};
use super::output::Output;
use super::peer::Peer;
use crate::bench::attended::{FirstCraft, InSeries, RunOptions, Task, next_craft};
use crate::bench::session::context::SessionContext;
use crate::board::sheet::Sheet;
use crate::board::sheet_file;
use crate::board::value::SettingName;
use crate::language::canonical::recipe_hash;
use crate::plan::effects;
use crate::record::crafts::state;
use crate::record::folder;
use crate::record::series::rows::{Row, rows};
use crate::record::series::{self, Common, Line, SCHEMA, SeriesName};
use crate::report::series::{Table, text};
use crate::seam::exit::Exit;
use crate::seam::fault::Fault;
use crate::world::{files, replace};
use std::path::{Path, PathBuf};
use std::rc::Rc;

/// A series that is being gone through.
pub(super) struct Series<'o> {
    /// Its name.
    pub name: SeriesName,
    /// Where craft records are.
    pub crafts: PathBuf,
    /// The recipe and its documents, the same for each craft.
    pub loaded: Loaded,
    /// Where the boards are plugged in.
    pub port: &'o PortOptions,
    /// The radio card that was named.
    pub radio: &'o RadioOption,
    /// Parameters as they were given.
    pub with: Vec<String>,
    /// Who sits there.
    pub operator: Option<String>,
}

/// What a series was begun with; nothing where it is new.
pub(super) fn begun(crafts: &Path, name: &SeriesName, out: &mut Output) -> Result<Option<Common>, Exit> {
    let file = name.file(crafts);
    let read = folder::bytes(&file).and_then(|bytes| bytes.map(|bytes| series::parse(&file, &bytes)).transpose());
    read.map_err(|error| told(&error, out))
}

/// What the first craft's sheet says belongs to a single craft, by the text that its record keeps.
pub(super) fn own(crafts: &Path, name: &SeriesName) -> Box<dyn Fn(&SettingName) -> bool> {
    let sheet = rows(crafts, name, &|_| false).ok().and_then(|rows| kept_sheet(rows.first()?));
    Box::new(move |name| {
        let entry = sheet.as_ref().and_then(|sheet| effects::entry_of(sheet, name));
        entry.is_some_and(|entry| entry.craft_own)
    })
}

fn kept_sheet(row: &Row) -> Option<Sheet> {
    let made = row.runs.first()?.provenance.as_ref()?;
    sheet_file::read(&made.sheet.name, &folder::input(&row.folder, &made.sheet)?).ok()
}

impl Series<'_> {
    /// Goes through it, craft after craft, until it is stopped.
    pub(super) fn go(self, out: &mut Output) -> Result<Exit, Exit> {
        has_terminal(out)?;
        self.begin_or_go_on(out)?;
        let mut exit = Exit::Done;
        let mut first = true;
        loop {
            // The first time, the craft is plugged in as for any run.
            if !std::mem::take(&mut first) && !self.next(out)? {
                self.add(&Line::Stopped { at: now() }, out)?;
                out.message(&format!("The series {} goes on by the same command, on any day.", self.name));
                return Ok(exit);
            }
            let of_this = self.craft(out)?;
            if of_this != Exit::Done {
                exit = of_this;
            }
            let rows = self.rows(out)?;
            let common = begun(&self.crafts, &self.name, out)?.unwrap_or_else(|| self.common());
            out.report(&text(Table { name: &self.name, common: &common, rows: &rows }, out.plain));
        }
    }

    fn common(&self) -> Common {
        Common {
            schema: SCHEMA.to_owned(),
            at: now(),
            program: env!("CARGO_PKG_VERSION").to_owned(),
            recipe: self.loaded.recipe.title.value.clone(),
            recipe_hash: recipe_hash(&self.loaded.recipe),
            with: self.with.clone(),
        }
    }

    fn begin_or_go_on(&self, out: &mut Output) -> Result<(), Exit> {
        let ours = self.common();
        let Some(common) = begun(&self.crafts, &self.name, out)? else {
            std::fs::create_dir_all(&self.crafts).map_err(|error| told(&files::sorted(&self.crafts, &error), out))?;
            out.message(&format!("The series {} begins.", self.name));
            return self.add(&Line::Begin(ours), out);
        };
        if common.recipe_hash != ours.recipe_hash || common.with != ours.with {
            let what = if common.recipe_hash == ours.recipe_hash { "other parameters" } else { "another recipe" };
            out.error(
                &format!("the series {} was begun with {what}, and its crafts would not be alike", self.name),
                Some("begin another one: --series NAME"),
            );
            return Err(Exit::Usage);
        }
        let rows = self.rows(out)?;
        out.message(&format!("The series {} goes on.", self.name));
        out.report(&text(Table { name: &self.name, common: &common, rows: &rows }, out.plain));
        self.add(&Line::GoesOn { at: now() }, out)
    }

    fn rows(&self, out: &mut Output) -> Result<Vec<Row>, Exit> {
        let own = own(&self.crafts, &self.name);
        rows(&self.crafts, &self.name, &own).map_err(|error| told(&error, out))
    }

    /// Adds a line to the series' file.
    fn add(&self, line: &Line, out: &mut Output) -> Result<(), Exit> {
        let file = self.name.file(&self.crafts);
        let mut bytes = folder::bytes(&file).map_err(|error| told(&error, out))?.unwrap_or_default();
        bytes.extend(line.bytes().map_err(|error| told(&error, out))?);
        replace::replace(&file, &bytes).map_err(|error| told(&files::sorted(&file, &error), out))
    }

    /// Asks for the next craft; `false`: the series stops here.
    fn next(&self, out: &mut Output) -> Result<bool, Exit> {
        let lines = vec![
            "Battery out and cable out of the one before. Props are off, the antenna is on, and no other craft is on this \
             radio: that is asked of each craft anew."
                .to_owned(),
        ];
        let bench = Rc::new(SessionContext::default());
        let script = Box::pin(next_craft(Rc::clone(&bench), self.name.to_string(), lines));
        // Nothing is opened and nothing of a craft's record is read or written here.
        let sitting = Sitting { crafts: PathBuf::from("."), ..Sitting::default() };
        match board::look_at_terminal(sitting, &bench, script, out) {
            Ok(()) => Ok(true),
            Err(Fault::Declined { .. } | Fault::Interrupted) => Ok(false),
            Err(fault) => Err(board::ended(&fault, out)),
        }
    }

    /// One craft, as any run: it meets an interlock that knows of no other.
    fn craft(&self, out: &mut Output) -> Result<Exit, Exit> {
        let peer = Peer::of(self.port, &self.loaded.sheets, out)?;
        let Ok(port) = board::port(self.port, out) else { return Ok(Exit::Link) };
        // Read anew: what was found of the radio on the craft before stands in the card's file, and nowhere else.
        let file = self.loaded.card_file.as_ref().map(|file| file.display().to_string());
        let named = file.or_else(|| self.radio.radio.clone());
        let card = named.unwrap_or_else(|| self.name.card(&self.crafts).display().to_string());
        let (card, card_file) = loaded::card(&RadioOption { radio: Some(card.clone()) }, Path::new("."), out)
            .map(|(named, file)| (named.map(|named| (named, card)), file))?;
        let (named, radio) = card.unzip();
        let rows = self.rows(out)?;
        let options = RunOptions {
            with: self.with.clone(),
            operator: self.operator.clone(),
            radio,
            series: Some(in_series(&self.name, &rows)),
        };
        let what = (self.loaded.recipe.title.value.clone(), Task::Recipe(Box::new(self.loaded.recipe.clone())));
        let job = job(what, self.loaded.sheets.clone(), named, port, options);
        // Where this craft was not run, the series goes on with the next.
        Ok(attend(job, self.crafts.clone(), card_file, peer, out).unwrap_or_else(|exit| exit))
    }
}

/// What a run is told of the series.
fn in_series(name: &SeriesName, rows: &[Row]) -> InSeries {
    let first = rows.first().and_then(|row| {
        let before = state::snapshot(&row.folder, &row.runs.first()?.snapshot).ok()?;
        Some(FirstCraft { called: row.called.clone(), board: before.board, before: before.settings })
    });
    let done = rows.iter().filter(|row| row.is_done()).map(|row| row.board.clone()).collect();
    InSeries { name: name.to_string(), done, number: rows.len() + 1, first }
}

fn now() -> String {
    board::clock().started.to_string()
}
