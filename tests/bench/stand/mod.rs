//! A test stand: plays a recipe on a virtual craft with an operator who may do anything, and writes down everything.
//!
//! Every event and effect is kept in order, every frame by its class, and the world's own truth every few
//! milliseconds. A run that does not end within simulated time fails. Must not be here: what is right.

mod hands;
mod log;
mod recipes;
mod stage;

pub use hands::{Deeds, Hands, keys};
pub use log::{Did, Entry, Log, classed, is_start};
pub use recipes::{ARM_ONLY, CUT, FAILSAFE, IDLE, SIGNAL, START};
pub use stage::{Plot, Stage, Then};

use crate::faults::disk::Disk;
use crate::pace::gives_way;
use quadjig::bench::attended::{
    AskedJob, InSeries, NamedCard, RunJob, RunOptions, Task, WallClock, close, recover, run,
};
use quadjig::bench::session::context::SessionContext;
use quadjig::bench::session::{Script, Session};
use quadjig::board::radio_card::RadioCard;
use quadjig::board::sheet::Sheet;
use quadjig::board::{link_detector, shipped, vocabulary};
use quadjig::language::recipe::Recipe;
use quadjig::language::sources::Memory;
use quadjig::measure::time::Time;
use quadjig::record::Snapshot;
use quadjig::rehearsal::simulated::{SimulatedWorld, TranscriptEvent};
use quadjig::seam::fault::Fault;
use quadjig::seam::{PortName, World as _};
use quadjig::virtual_board::{World, WorldConfig};
use std::cell::Cell;
use std::path::Path;
use std::rc::Rc;
use std::time::Duration;

/// What is played.
pub struct Stand<'a> {
    /// The recipe's text.
    pub recipe: &'a str,
    /// Its parameters, as they are given on the command line.
    pub with: &'a [(&'a str, &'a str)],
    /// The series that it is a craft of.
    pub series: Option<&'a str>,
    /// The sheet of the board.
    pub sheet: Sheet,
    /// What is brought back instead of the recipe.
    pub copy: Option<Snapshot>,
    /// What was cut off is recovered, instead.
    pub recovers: bool,
    /// The moment at which the program's clock stands at the beginning.
    pub clock: jiff::Timestamp,
    /// The board and everything around it.
    pub board: World,
    /// What is on the disk.
    pub disk: Disk,
    /// The radio card that was named.
    pub card: Option<RadioCard>,
    /// Who sits at the bench.
    pub hands: Hands<'a>,
    /// What else happens.
    pub plots: Vec<Plot<'a>>,
    /// The store that fails, from 0; it and every later one.
    pub disk_fails_at: Option<usize>,
    /// The effect before which the program dies, from 0.
    pub dies_at: Option<usize>,
    /// How long the world is watched after the end.
    pub after: Duration,
    /// Longest simulated time of the run.
    pub longest: Duration,
}

/// How it went.
pub struct Played {
    /// How the run ended; `None`: the program died.
    pub result: Option<Result<(), Fault>>,
    /// Everything.
    pub log: Log,
    /// The board as it was left.
    pub board: World,
    /// The disk as it was left.
    pub disk: Disk,
    /// How many effects there were.
    pub effects: usize,
}

impl Played {
    /// The fault that ended it.
    #[track_caller]
    pub fn fault(&self) -> &Fault {
        match &self.result {
            Some(Err(fault)) => fault,
            other => panic!("it ended as {other:?}\n{}", self.log.tail()),
        }
    }

    /// The exit code of its end.
    #[track_caller]
    pub fn code(&self) -> u8 {
        match &self.result {
            Some(Ok(())) => 0,
            Some(Err(fault)) => fault.exit().code(),
            None => panic!("the program died"),
        }
    }
}

impl<'a> Stand<'a> {
    /// The default craft, a willing operator, an empty disk.
    pub fn new(recipe: &'a str) -> Self {
        Self::on(recipe, WorldConfig::default())
    }

    /// The same on another craft.
    pub fn on(recipe: &'a str, config: WorldConfig) -> Self {
        Self {
            recipe,
            with: &[],
            series: None,
            sheet: shipped::sheet(config.board.name()).unwrap().unwrap(),
            copy: None,
            recovers: false,
            clock: jiff::Timestamp::UNIX_EPOCH,
            hands: Hands::willing(&config),
            board: World::new(config),
            disk: Disk::default(),
            card: None,
            plots: Vec::new(),
            disk_fails_at: None,
            dies_at: None,
            after: Duration::ZERO,
            longest: Duration::from_secs(1800),
        }
    }

    /// With one more thing that happens.
    pub fn plot(mut self, plot: Plot<'a>) -> Self {
        self.plots.push(plot);
        self
    }

    /// Plays it.
    pub fn play(self) -> Played {
        gives_way();
        let link = link_detector::link(std::slice::from_ref(&self.sheet), None);
        let mut job = job(self.recipe, self.card, self.copy, vec![self.sheet]);
        job.clock = WallClock { started: self.clock };
        if !self.with.is_empty() {
            job.task = Task::Recipe(Box::new(recipe_with(self.recipe, self.with)));
            job.options.with = self.with.iter().map(|(name, value)| format!("{name}={value}")).collect();
        }
        job.options.series = self.series.map(|name| InSeries::finished(name.to_owned()));
        let bench = Rc::new(SessionContext::default());
        let asked = Rc::new(AskedJob::new(job));
        let script: Script = if self.recovers {
            Box::pin(recover(Rc::clone(&bench), Rc::clone(&asked)))
        } else {
            Box::pin(run(Rc::clone(&bench), Rc::clone(&asked)))
        };
        let closing = Rc::clone(&bench);
        let mut session = Session::new(link, Rc::clone(&bench), script, false)
            .closing_or_going_on(move |fault| Box::pin(close(Rc::clone(&closing), asked.job(), fault)));
        let mut hands = self.hands;
        let mut seen = |_: Time, _: TranscriptEvent<'_>| {};
        let began = self.board.now();
        let mut inner = SimulatedWorld::new(self.board, &mut hands, self.disk, &mut seen);
        inner.spied = Some(Vec::new());
        let mut stage = Stage::new(inner, self.plots, self.disk_fails_at, self.dies_at);
        let result = loop {
            let (now, event) = stage.next(session.wake());
            assert!(now.since(began) < self.longest, "the run does not end\n{}", stage.log.tail());
            session.handle(now, event, &mut |effect| stage.act(effect));
            if stage.dead {
                break None;
            }
            if let Some(result) = session.ended() {
                break Some(result.clone());
            }
        };
        drop(session);
        stage.let_pass(self.after);
        let effects = stage.effects;
        let (log, board, disk) = stage.into_parts();
        Played { result, log, board, disk, effects }
    }
}

/// The recipe, read; anything wrong with it fails.
pub fn recipe(text: &str) -> Recipe {
    recipe_with(text, &[])
}

fn recipe_with(text: &str, with: &[(&str, &str)]) -> Recipe {
    let with: Vec<(String, String)> = with.iter().map(|(name, value)| ((*name).into(), (*value).into())).collect();
    let words: Vec<&str> = vocabulary::WORDS.iter().map(|word| word.word).collect();
    let reading = quadjig::language::read(&Memory::of([("stand.jig", text)]), Path::new("stand.jig"), &with, &words);
    let errors: Vec<_> =
        reading.findings.iter().filter(|f| f.severity == quadjig::language::finding::Severity::Error).collect();
    assert!(errors.is_empty(), "{errors:#?}");
    reading.recipe.unwrap()
}

/// A run of a recipe, or of bringing a copy back.
pub fn job(text: &str, card: Option<RadioCard>, copy: Option<Snapshot>, sheets: Vec<Sheet>) -> RunJob {
    let recipe = recipe(text);
    RunJob {
        title: recipe.title.value.clone(),
        task: copy.map_or_else(|| Task::Recipe(Box::new(recipe)), |copy| Task::Restore(Box::new(copy))),
        sheets,
        card: card.map(|card| NamedCard { card, text: None, file: true }),
        port: PortName::Virtual(None),
        clock: WallClock { started: jiff::Timestamp::UNIX_EPOCH },
        options: RunOptions::default(),
        name: "stand".to_owned(),
        begun: Cell::new(false),
        closed: Cell::new(false),
    }
}
