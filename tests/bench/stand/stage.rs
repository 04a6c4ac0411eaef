//! The world of a stand: the simulated one, spied on, with plots that it knows nothing of.

use super::log::{Did, Entry, Log, Truth, classed};
use crate::faults::disk::Disk;
use quadjig::measure::time::Time;
use quadjig::record::{RecordError, StorePlace};
use quadjig::rehearsal::simulated::SimulatedWorld;
use quadjig::seam::{Effect, Event, World};
use quadjig::virtual_board::World as VirtualWorld;
use std::collections::VecDeque;
use std::time::Duration;

/// How often the truth is looked at.
const LOOK: Duration = Duration::from_millis(5);

/// What happens in a plot.
pub enum Then {
    /// A line moves the world.
    Line(&'static str),
    /// An event comes to the session.
    Event(Event),
    /// Another board sits on the wire.
    Another(Box<VirtualWorld>),
    /// The program dies.
    Die,
    /// The program sleeps for so many milliseconds; what came meanwhile is handed over after it, all at once.
    Gap(u64),
}

type When<'a> = Box<dyn FnMut(&VirtualWorld, &Log) -> bool + 'a>;

/// Something that happens once, some time after a condition first holds.
pub struct Plot<'a> {
    when: When<'a>,
    after: Duration,
    since: Option<Time>,
    then: Vec<Then>,
}

impl<'a> Plot<'a> {
    /// A condition on what really is and on what was seen so far.
    pub fn when(when: impl FnMut(&VirtualWorld, &Log) -> bool + 'a, after_ms: u64, then: Vec<Then>) -> Self {
        Self { when: Box::new(when), after: Duration::from_millis(after_ms), since: None, then }
    }

    /// While motors turn.
    pub fn turning(after_ms: u64, then: Vec<Then>) -> Self {
        Self::when(|board, _| board.speeds().iter().any(|rpm| *rpm > 1000.0), after_ms, then)
    }
}

/// See the module.
pub struct Stage<'a, 'o> {
    inner: SimulatedWorld<'o, Disk>,
    plots: Vec<Plot<'a>>,
    queue: VecDeque<Event>,
    event: usize,
    /// Events handed over at one moment: a session that wants to be woken in the past would stand still there.
    handed_at: Time,
    at_this_moment: usize,
    pub effects: usize,
    stores: usize,
    disk_fails_at: Option<usize>,
    dies_at: Option<usize>,
    /// The program has died: no effect of it takes place any more.
    pub dead: bool,
    pub log: Log,
}

impl<'a, 'o> Stage<'a, 'o> {
    pub fn new(
        inner: SimulatedWorld<'o, Disk>,
        plots: Vec<Plot<'a>>,
        disk_fails_at: Option<usize>,
        dies_at: Option<usize>,
    ) -> Self {
        let log = Log::default();
        Self {
            inner,
            plots,
            queue: VecDeque::new(),
            event: 0,
            handed_at: Time(0),
            at_this_moment: 0,
            effects: 0,
            stores: 0,
            disk_fails_at,
            dies_at,
            dead: false,
            log,
        }
    }

    fn note(&mut self, did: Did) {
        self.log.entries.push(Entry { at: self.inner.now(), event: self.event, did });
    }

    fn look(&mut self) {
        let board = self.inner.board();
        self.log.truth.push(Truth {
            at: self.inner.now(),
            fastest: board.speeds().into_iter().fold(0.0, f64::max),
            highest: board.outputs().iter().copied().max().unwrap_or(0),
            armed: board.armed(),
        });
    }

    fn plots(&mut self) {
        let now = self.inner.now();
        let mut due = Vec::new();
        for plot in &mut self.plots {
            if plot.since.is_none() && (plot.when)(self.inner.board(), &self.log) {
                plot.since = Some(now);
            }
            if plot.since.is_some_and(|since| now.since(since) >= plot.after) {
                due.append(&mut plot.then);
            }
        }
        for then in due {
            match then {
                Then::Line(line) => {
                    self.inner.board_mut().line(now, line).unwrap();
                }
                Then::Event(event) => self.queue.push_back(event),
                Then::Another(mut board) => {
                    board.advance(now);
                    *self.inner.board_mut() = *board;
                }
                Then::Die => self.dead = true,
                Then::Gap(ms) => {
                    let end = self.inner.now() + Duration::from_millis(ms);
                    while self.inner.now() < end {
                        let (_, event) = self.inner.next(end);
                        if !matches!(event, Event::Tick) {
                            self.queue.push_back(event);
                        }
                    }
                    self.queue.push_back(Event::Tick);
                }
            }
        }
    }

    /// Lets time pass without a program.
    pub fn let_pass(&mut self, wait: Duration) {
        let end = self.inner.now() + wait;
        while self.inner.now() < end {
            let until = (self.inner.now() + LOOK).min(end);
            let _nobody_there = self.inner.next(until);
            self.look();
        }
    }

    pub fn into_parts(mut self) -> (Log, VirtualWorld, Disk) {
        self.log.spied = self.inner.spied.take().unwrap_or_default();
        let (board, disk) = self.inner.into_parts();
        (self.log, board, disk)
    }

    fn handed(&mut self, event: Event) -> (Time, Event) {
        self.event += 1;
        let now = self.inner.now();
        self.at_this_moment = if self.handed_at == now { self.at_this_moment + 1 } else { 0 };
        self.handed_at = now;
        assert!(self.at_this_moment < 10_000, "the session lets no time pass\n{}", self.log.tail());
        if !matches!(event, Event::Tick | Event::Bytes(..)) {
            self.note(Did::Event(format!("{event:?}")));
        }
        (self.inner.now(), event)
    }

    fn frames(&mut self, bytes: &[u8], overtaking: bool) {
        let all: Vec<_> = classed(bytes).collect();
        for (class, forced, bytes) in all {
            self.note(Did::Frame { class, forced, overtaking, bytes });
        }
    }
}

impl World for Stage<'_, '_> {
    fn next(&mut self, until: Time) -> (Time, Event) {
        loop {
            if let Some(event) = self.queue.pop_front() {
                return self.handed(event);
            }
            let step = until.min(self.inner.now() + LOOK);
            let (_, event) = self.inner.next(step);
            self.look();
            self.plots();
            if self.dead {
                return (self.inner.now(), Event::Tick);
            }
            if !matches!(event, Event::Tick) || step == until || until <= self.inner.now() {
                return self.handed(event);
            }
        }
    }

    fn act(&mut self, effect: Effect) {
        if self.dies_at == Some(self.effects) {
            self.dead = true;
        }
        if self.dead {
            return;
        }
        self.effects += 1;
        match &effect {
            Effect::Send { bytes, .. } => self.frames(bytes, false),
            Effect::Stop(bytes) => self.frames(bytes, true),
            Effect::Hold(..) => self.note(Did::Hold),
            Effect::Release => self.note(Did::Release),
            Effect::Ask(question) => self.note(Did::Asked((**question).clone())),
            Effect::Asked(_) => self.note(Did::Closed),
            Effect::Show(shown) => self.note(Did::UiEvent(shown.clone())),
            Effect::Store(ticket, job) => {
                let place = match &job.place {
                    StorePlace::Craft(path) | StorePlace::Once(path) => path.display().to_string(),
                    StorePlace::RadioCard => "radio card".to_owned(),
                    StorePlace::New(file) => file.display().to_string(),
                };
                let failed = self.disk_fails_at.is_some_and(|at| self.stores >= at);
                self.stores += 1;
                let text = String::from_utf8_lossy(&job.bytes).into_owned();
                self.note(Did::Store { text, failed });
                if failed {
                    self.queue.push_back(Event::Stored(*ticket, Err(RecordError::Full(place.into()))));
                    return;
                }
            }
            _ => self.note(Did::Other),
        }
        self.inner.act(effect);
        self.dead |= self.inner.disk.killed();
    }
}
