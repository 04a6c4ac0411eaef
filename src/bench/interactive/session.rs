//! What a bench session knows and keeps over its scripts: a stop or a lost wire ends a script, never the session.
//!
//! Must not be here: the course of anything.

use crate::bench::attended::{NamedCard, RunJob, RunOptions, RunState, Task, WallClock};
use crate::bench::interactive::draft::{Draft, Kept};
use crate::bench::interactive::under_way::UnderWay;
use crate::bench::session::context::SessionContext;
use crate::board::sheet::{Settings, Sheet};
use crate::board::value::{Number, SettingName};
use crate::seam::PortName;
use crate::seam::ui::Beside;
use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::rc::Rc;

/// What a bench session is given.
#[derive(Debug)]
pub struct InteractiveJob {
    /// What the recipe will be called, and the craft on every question; `None`: after the kind of board.
    pub title: Option<String>,
    /// Sheets to choose from by what the board says of itself.
    pub sheets: Vec<Sheet>,
    /// The radio card that was named; `None`: the craft's own, in its record.
    pub card: Option<NamedCard>,
    /// Where the board is.
    pub port: PortName,
    /// Dates.
    pub clock: WallClock,
    /// Name of the session, for the journal.
    pub name: String,
    /// Who sits at the bench, if said.
    pub operator: Option<String>,
    /// Starts of another craft that this one's are compared with.
    pub beside: Option<Beside>,
}

/// A session, shared between its scripts. See the module.
#[derive(Debug)]
pub struct InteractiveSession {
    pub(in crate::bench) bench: Rc<SessionContext>,
    pub(in crate::bench) job: InteractiveJob,
    pub(in crate::bench) state: RefCell<Option<SessionState>>,
    /// Whether the board on the wire is known to be ours, and its settings are as they were read last.
    pub(in crate::bench) settled: Cell<bool>,
    /// The prompt that stands before the open line.
    pub(in crate::bench) prompted: RefCell<String>,
    /// The statement being carried out.
    pub(in crate::bench) current: RefCell<Option<Current>>,
}

/// What is known since the board was met.
#[derive(Debug, Clone)]
pub(in crate::bench) struct SessionState {
    pub title: String,
    pub knows: RunState,
    pub draft: Draft,
    /// The recipe that was run last.
    pub under_way: Option<UnderWay>,
    /// Changes that can be taken back, the last one last.
    pub changes: Vec<Changed>,
    /// Every setting as it was when the session began.
    pub begun: Settings,
    /// Every setting as it was read last.
    pub held: Settings,
    /// The snapshot of the beginning.
    pub snapshot: PathBuf,
    /// What was done, for `look journal`.
    pub log: Vec<Logged>,
    /// How long the log was when the session was written out last.
    pub written: usize,
}

/// A statement under way, with the settings before it.
#[derive(Debug, Clone)]
pub(in crate::bench) struct Current {
    pub text: String,
    pub before: Settings,
}

/// A statement that changed the board.
#[derive(Debug, Clone)]
pub(in crate::bench) struct Changed {
    pub text: String,
    /// What stood in the draft before it.
    pub stood: Vec<Kept>,
    pub values: Values,
    /// Whether it has been kept over a restart since.
    pub kept: bool,
}

/// Settings that changed, each with its value before and after.
pub(in crate::bench) type Values = BTreeMap<SettingName, (Number, Number)>;

/// One line of the session's own journal.
#[derive(Debug, Clone)]
pub(in crate::bench) struct Logged {
    pub at: String,
    pub text: String,
    pub outcome: String,
}

impl InteractiveSession {
    /// A session that has not begun.
    #[must_use]
    pub fn new(bench: Rc<SessionContext>, job: InteractiveJob) -> Self {
        Self {
            bench,
            job,
            state: RefCell::default(),
            settled: Cell::new(false),
            prompted: RefCell::default(),
            current: RefCell::default(),
        }
    }

    /// A job of the run's own kind, for one task of this session.
    pub(in crate::bench) fn run_job(&self, title: &str, task: Task) -> RunJob {
        RunJob {
            title: title.to_owned(),
            task,
            sheets: Vec::new(),
            card: self.job.card.clone(),
            port: self.job.port.clone(),
            clock: self.job.clock,
            options: RunOptions { operator: self.job.operator.clone(), ..RunOptions::default() },
            name: self.job.name.clone(),
            begun: Cell::new(self.state.borrow().is_some()),
            closed: Cell::new(false),
        }
    }

    /// The state, once there is one.
    pub(in crate::bench) fn with<T>(&self, look: impl FnOnce(&mut SessionState) -> T) -> Option<T> {
        self.state.borrow_mut().as_mut().map(look)
    }

    /// Its title, and what it knows, of a session that has begun.
    pub(in crate::bench) fn title_and_knows(&self) -> Option<(String, RunState)> {
        self.with(|state| (state.title.clone(), state.knows.clone()))
    }

    /// The moment as a date.
    pub(in crate::bench) fn now(&self) -> String {
        self.job.clock.at(self.bench.now())
    }

    /// Writes down what was done.
    pub(in crate::bench) fn log(&self, text: &str, outcome: impl Into<String>) {
        let logged = Logged { at: self.now(), text: text.to_owned(), outcome: outcome.into() };
        self.with(|state| state.log.push(logged));
    }
}

/// Settings that differ, each with its value in both.
pub(in crate::bench) fn differing(before: &Settings, after: &Settings) -> Values {
    let both = before.iter().filter_map(|(name, was)| after.get(name).map(|now| (name, *was, *now)));
    both.filter(|(_, was, now)| !was.same(*now)).map(|(name, was, now)| (name.clone(), (was, now))).collect()
}
