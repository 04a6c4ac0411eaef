//! What a run is given: read and checked documents, never files.

use crate::board::radio_card::RadioCard;
use crate::board::sheet::{Settings, Sheet};
use crate::board::signals::Identity;
use crate::language::recipe::Recipe;
use crate::measure::time::Time;
use crate::plan::trial::SheetTrial;
use crate::record::Snapshot;
use crate::seam::PortName;
use std::cell::{Cell, OnceCell};
use std::rc::Rc;

/// Turns the bench's clock into dates.
#[derive(Debug, Clone, Copy)]
pub struct WallClock {
    /// The date at time zero of the bench's clock.
    pub started: jiff::Timestamp,
}

impl WallClock {
    /// The date of a moment, RFC 3339, to the millisecond.
    #[must_use]
    pub fn at(&self, now: Time) -> String {
        let micros = i64::try_from(now.0).unwrap_or(i64::MAX);
        let at = self.started.saturating_add(jiff::SignedDuration::from_micros(micros)).unwrap_or(self.started);
        at.round(jiff::Unit::Millisecond).unwrap_or(at).to_string()
    }
}

/// What a run does.
#[derive(Debug)]
pub enum Task {
    /// Carries out a recipe without errors.
    Recipe(Box<Recipe>),
    /// The same at the bench prompt, where an idle may be stepped by hand.
    FromPrompt(Box<Recipe>),
    /// Carries out the last statement of a recipe, the others said before; more may follow.
    Statement(Box<Recipe>),
    /// Brings a copy of all settings back.
    Restore(Box<Snapshot>),
    /// Gives some settings the values that they had.
    TakeBack(Settings),
    /// Tries on the craft what its sheet claims; nothing is written.
    Trial(Box<SheetTried>),
}

impl Task {
    /// The recipe whose statements are carried out.
    #[must_use]
    pub fn recipe(&self) -> Option<&Recipe> {
        match self {
            Self::Recipe(recipe) | Self::FromPrompt(recipe) | Self::Statement(recipe) => Some(recipe),
            Self::Restore(_) | Self::TakeBack(_) | Self::Trial(_) => None,
        }
    }
}

/// What of a sheet is tried.
#[derive(Debug)]
pub struct SheetTried {
    /// Which claim.
    pub what: SheetTrial,
    /// The sheet as it is written; guards take another.
    pub sheet: Sheet,
    /// Since when its start is under way.
    pub began: Cell<Option<Time>>,
}

/// The series that a run belongs to.
#[derive(Debug, Clone, Default)]
pub struct InSeries {
    /// Its name.
    pub name: String,
    /// Crafts that are done.
    pub done: Vec<Identity>,
    /// Which craft it is from 1, if it is none that was met before.
    pub number: usize,
    /// The first one, once there is another.
    pub first: Option<FirstCraft>,
}

/// The first craft of a series, as it was before its run.
#[derive(Debug, Clone)]
pub struct FirstCraft {
    /// What it is called.
    pub called: String,
    /// Its board.
    pub board: Identity,
    /// All settings.
    pub before: Settings,
}

impl InSeries {
    /// A run of it that is finished by itself.
    #[must_use]
    pub fn finished(name: String) -> Self {
        Self { name, ..Self::default() }
    }
}

/// A radio card that was named on the command line.
#[derive(Debug, Clone, Default)]
pub struct NamedCard {
    /// The card, empty where its file is still to be made.
    pub card: RadioCard,
    /// The text of its file, for writing it back with its comments.
    pub text: Option<String>,
    /// Whether it has a file that finds are written to; a shipped card and one of a collection are only read.
    pub file: bool,
}

/// What was said on the command line, for the record.
#[derive(Debug, Clone, Default)]
pub struct RunOptions {
    /// Parameters as they were given.
    pub with: Vec<String>,
    /// Who sits at the bench.
    pub operator: Option<String>,
    /// The radio card as it was named.
    pub radio: Option<String>,
    /// The series that it is a craft of.
    pub series: Option<InSeries>,
}

/// See the module.
#[derive(Debug)]
pub struct RunJob {
    /// What it is called: the recipe's title, or what is brought back.
    pub title: String,
    /// What is to be done.
    pub task: Task,
    /// Sheets to choose from by what the board says of itself.
    pub sheets: Vec<Sheet>,
    /// The radio card that was named; `None`: the craft's own, in its record.
    pub card: Option<NamedCard>,
    /// Where the board is.
    pub port: PortName,
    /// Dates.
    pub clock: WallClock,
    /// What was said on the command line.
    pub options: RunOptions,
    /// Name of the run, for the journal.
    pub name: String,
    /// Whether a run has begun in the journal, so that an end belongs into it.
    pub begun: Cell<bool>,
    /// Whether the closing words were said.
    pub closed: Cell<bool>,
}

/// A job as it was asked for, and the one that was chosen at the bench in its place.
#[derive(Debug)]
pub struct AskedJob {
    asked: Rc<RunJob>,
    chosen: OnceCell<Rc<RunJob>>,
}

impl AskedJob {
    /// Nothing is chosen yet.
    #[must_use]
    pub fn new(asked: RunJob) -> Self {
        Self { asked: Rc::new(asked), chosen: OnceCell::new() }
    }

    /// The job that goes on.
    #[must_use]
    pub fn job(&self) -> Rc<RunJob> {
        Rc::clone(self.chosen.get().unwrap_or(&self.asked))
    }

    /// A job in place of the one that was asked for.
    pub(super) fn instead(&self, title: String, task: Task, options: RunOptions) -> RunJob {
        let asked = &self.asked;
        RunJob {
            title,
            task,
            sheets: asked.sheets.clone(),
            card: asked.card.clone(),
            port: asked.port.clone(),
            clock: asked.clock,
            options,
            name: asked.name.clone(),
            begun: Cell::new(false),
            closed: Cell::new(false),
        }
    }

    /// Chooses it; the first one that is chosen stays.
    pub(super) fn choose(&self, job: RunJob) -> Rc<RunJob> {
        Rc::clone(self.chosen.get_or_init(|| Rc::new(job)))
    }
}
