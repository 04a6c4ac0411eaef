//! The simulated world: a virtual board, a scripted operator and a disk in memory, on simulated time.
//!
//! Deterministic to the byte, and it always ends: a question that nobody answers and a run of a whole
//! day are ended as a closed terminal and a signal would. The dead man's hold is kept as the real
//! writer keeps it. Must not be here: what a session decides.

use super::operator::{Deed, Operator};
use crate::bench::session::context::PORT;
use crate::measure::time::Time;
use crate::record::folder::Contents;
use crate::record::{CraftRecord, RecordError, StoreJob, StorePlace};
use crate::seam::ui::{Question, UiEvent};
use crate::seam::{Effect, Event, Key, LineRead, PortInfo, SystemSignal, World};
use crate::virtual_board::World as VirtualWorld;
use std::collections::{BTreeMap, VecDeque};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How often the held bytes are sent once the hold was not renewed.
const HELD: Duration = Duration::from_millis(20);
/// A question that stands this long is one from which the operator walked away.
const UNANSWERED: Duration = Duration::from_secs(10 * 60);
/// No work at a bench takes longer; whatever still goes on then is told to end.
const LONGEST: Duration = Duration::from_secs(24 * 3600);

/// Something seen, for a transcript.
#[derive(Debug)]
pub enum Seen<'a> {
    /// A question.
    Asked(&'a Question),
    /// Whether it was answered.
    Answered(bool),
    /// Something shown.
    UiEvent(&'a UiEvent),
    /// The operator pressed a key.
    Pressed(Key),
    /// The operator entered a line at the bench prompt.
    Entered(&'a LineRead),
    /// The operator pasted, or left the terminal; in words.
    Odd(&'a str),
    /// The operator moved the world by this line, with its answer, or why it could not be done.
    Moved {
        /// The line.
        line: &'a str,
        /// One line or several.
        answer: &'a str,
    },
}

/// A disk in memory.
#[derive(Debug, Clone, Default)]
pub struct Disk {
    /// Files of the craft's folder.
    pub craft: BTreeMap<PathBuf, Vec<u8>>,
    /// The radio card, if one was written.
    pub radio_card: Option<Vec<u8>>,
    /// Files that the operator named.
    pub named: BTreeMap<PathBuf, Vec<u8>>,
}

impl Disk {
    fn store(&mut self, job: StoreJob) -> Result<(), RecordError> {
        match job.place {
            StorePlace::RadioCard => self.radio_card = Some(job.bytes),
            StorePlace::New(path) if self.named.contains_key(&path) => return Err(RecordError::Exists(path)),
            StorePlace::New(path) => {
                self.named.insert(path, job.bytes);
            }
            StorePlace::Craft(path) if job.append => self.craft.entry(path).or_default().extend(job.bytes),
            StorePlace::Craft(path) => {
                self.craft.insert(path, job.bytes);
            }
        }
        Ok(())
    }

    fn contents(&self) -> Contents {
        let file = |name: &str| self.craft.get(Path::new(name)).cloned();
        Contents {
            journal: file(crate::record::journal::FILE),
            proofs: file(crate::record::proof::FILE),
            link_loss: file(crate::record::link_loss::FILE),
            radio_card: file(crate::record::folder::RADIO_CARD),
        }
    }
}

/// See the module.
pub struct SimulatedWorld<'o> {
    board: VirtualWorld,
    operator: &'o mut dyn Operator,
    seen: &'o mut dyn FnMut(Time, Seen<'_>),
    now: Time,
    events: VecDeque<Event>,
    deeds: Vec<(Time, u64, Deed)>,
    count: u64,
    open: bool,
    reopen: bool,
    line_open: bool,
    hold: Option<(Time, Vec<u8>)>,
    /// When the open question is given up.
    unanswered: Time,
    /// When the whole is told to end.
    ends: Time,
    /// What was written.
    pub disk: Disk,
    /// Every byte that left for the board, for those who judge what was sent.
    pub spied: Option<Vec<(Time, Vec<u8>)>>,
}

impl<'o> SimulatedWorld<'o> {
    /// A world around a virtual board.
    pub fn new(
        board: VirtualWorld,
        operator: &'o mut dyn Operator,
        disk: Disk,
        seen: &'o mut dyn FnMut(Time, Seen<'_>),
    ) -> Self {
        let now = board.now();
        Self {
            board,
            operator,
            seen,
            now,
            events: VecDeque::new(),
            deeds: Vec::new(),
            count: 0,
            open: false,
            reopen: false,
            line_open: false,
            hold: None,
            unanswered: Time::NEVER,
            ends: now + LONGEST,
            disk,
            spied: None,
        }
    }

    /// The moment it stands at.
    #[must_use]
    pub fn now(&self) -> Time {
        self.now
    }

    /// The virtual board, with the world's own truth.
    #[must_use]
    pub fn board(&self) -> &VirtualWorld {
        &self.board
    }

    /// The virtual board, for moving its world by hand or putting another in its place.
    pub fn board_mut(&mut self) -> &mut VirtualWorld {
        &mut self.board
    }

    /// Gives the board back, for another run on the same craft.
    #[must_use]
    pub fn into_parts(self) -> (VirtualWorld, Disk) {
        (self.board, self.disk)
    }

    fn plan(&mut self, deeds: Vec<(Duration, Deed)>) {
        for (after, deed) in deeds {
            self.count += 1;
            self.deeds.push((self.now + after, self.count, deed));
        }
        self.deeds.sort_by_key(|(at, count, _)| (*at, *count));
    }

    fn send(&mut self, bytes: &[u8]) {
        if let Some(spied) = &mut self.spied {
            spied.push((self.now, bytes.to_vec()));
        }
        self.board.receive(self.now, bytes);
    }

    fn wire(&mut self) {
        let there = self.board.link_present();
        if self.open && !there {
            self.open = false;
            let _lost_with_the_port = self.board.take_output();
            self.events.push_back(Event::Lost(PORT));
        }
        if self.reopen && there {
            self.reopen = false;
            self.open = true;
            let _from_before_it_was_opened = self.board.take_output();
            self.events.push_back(Event::Opened(PORT, Ok(info())));
        }
        if self.open {
            let bytes = self.board.take_output();
            if !bytes.is_empty() {
                self.events.push_back(Event::Bytes(PORT, bytes));
            }
        }
    }

    fn deeds_due(&mut self) {
        while self.deeds.first().is_some_and(|(at, ..)| *at <= self.now) {
            match self.deeds.remove(0).2 {
                Deed::Key(key) => {
                    (self.seen)(self.now, Seen::Pressed(key));
                    self.events.push_back(Event::Key(key));
                }
                Deed::Paste => {
                    (self.seen)(self.now, Seen::Odd("pastes"));
                    self.events.push_back(Event::Paste);
                }
                Deed::Line(line) => {
                    self.line_open = false;
                    (self.seen)(self.now, Seen::Entered(&line));
                    self.events.push_back(Event::Line(line));
                }
                Deed::Leave => self.leaves(),
                Deed::World(line) => {
                    // A line that the world does not know is a fault of the script; the run then times out
                    // and says what it waited for, and the transcript says why.
                    let answer = match self.board.line(self.now, &line) {
                        Ok(lines) => lines.join("\n"),
                        Err(error) => error.to_string(),
                    };
                    (self.seen)(self.now, Seen::Moved { line: &line, answer: &answer });
                }
            }
        }
    }

    fn leaves(&mut self) {
        (self.seen)(self.now, Seen::Odd("leaves"));
        self.events.push_back(Event::EndOfInput);
    }

    /// What nobody ends is ended.
    fn given_up(&mut self) {
        if self.unanswered <= self.now {
            self.unanswered = Time::NEVER;
            self.leaves();
        }
        if self.ends <= self.now {
            self.ends = Time::NEVER;
            self.events.push_back(Event::Signal(SystemSignal::Terminate));
        }
    }

    fn held(&mut self) {
        if let Some((due, bytes)) = self.hold.clone()
            && due <= self.now
        {
            self.send(&bytes);
            self.hold = Some((self.now + HELD, bytes));
        }
    }
}

impl World for SimulatedWorld<'_> {
    fn next(&mut self, until: Time) -> (Time, Event) {
        loop {
            if let Some(event) = self.events.pop_front() {
                return (self.now, event);
            }
            if until <= self.now {
                return (self.now, Event::Tick);
            }
            let deed = self.deeds.first().map_or(Time::NEVER, |(at, ..)| *at);
            let held = self.hold.as_ref().map_or(Time::NEVER, |(at, _)| *at);
            let given_up = self.unanswered.min(self.ends);
            self.now = until.min(deed).min(held).min(self.board.wake()).min(given_up).max(self.now);
            self.board.advance(self.now);
            self.held();
            self.deeds_due();
            self.given_up();
            self.wire();
        }
    }

    fn act(&mut self, effect: Effect) {
        match effect {
            Effect::Open(port, _) => {
                self.open = self.board.link_present();
                self.reopen = !self.open;
                if self.open {
                    self.events.push_back(Event::Opened(port, Ok(info())));
                }
            }
            Effect::Reopen(_) | Effect::NotThis { .. } => self.reopen = true,
            Effect::Close(_) => self.open = false,
            Effect::Send(_, bytes) | Effect::Stop(_, bytes) => {
                self.send(&bytes);
                self.wire();
            }
            Effect::Hold(_, bytes, until) => self.hold = Some((until, bytes)),
            Effect::Release(_) => self.hold = None,
            Effect::Store(ticket, job) => {
                let stored = self.disk.store(job);
                self.events.push_back(Event::Stored(ticket, stored));
            }
            Effect::OpenRecord(identity) => {
                let folder = PathBuf::from(&identity.id);
                let record = CraftRecord::from_contents(&folder, &self.disk.contents());
                self.events.push_back(Event::Record(Box::new(record)));
            }
            Effect::Ask(question) => {
                (self.seen)(self.now, Seen::Asked(&question));
                self.unanswered = self.now + UNANSWERED;
                let deeds = self.operator.asked(&question);
                self.plan(deeds);
            }
            // Nothing is outside this process that could outlive it, and nobody looks at a terminal.
            Effect::Guard(..) | Effect::Echo(_) => {}
            Effect::ReadLine(_) if self.line_open => {}
            Effect::ReadLine(asked) => {
                self.line_open = true;
                let (after, line) = self.operator.line(&asked);
                self.plan(vec![(after, Deed::Line(line))]);
                let meanwhile = self.operator.meanwhile();
                self.plan(meanwhile);
            }
            Effect::Asked(answered) => {
                self.unanswered = Time::NEVER;
                (self.seen)(self.now, Seen::Answered(answered));
            }
            Effect::Show(shown) => {
                (self.seen)(self.now, Seen::UiEvent(&shown));
                if let UiEvent::Invite(gesture, ..) = &shown {
                    let deeds = self.operator.invited(gesture);
                    self.plan(deeds);
                }
            }
        }
    }
}

fn info() -> PortInfo {
    PortInfo { name: "virtual".to_owned(), ..PortInfo::default() }
}
