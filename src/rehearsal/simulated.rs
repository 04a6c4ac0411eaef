//! The simulated world: a virtual board, a scripted operator and a disk in memory, on simulated time.
//!
//! Deterministic to the byte, and it always ends: a question that nobody answers and a run of a whole
//! day are ended as a closed terminal and a signal would. What leaves when is decided by the machines that the real
//! world pumps too. Must not be here: any rule of order or time beside those, what a session decides.

pub use super::disk::Disk;
use super::disk::{CRAFTS, RADIO_CARD};
use super::operator::{Deed, Operator};
use crate::board::vocabulary;
use crate::machines::mailbox::Lanes;
use crate::machines::writer::{Doing, Writer};
use crate::measure::time::Time;
use crate::record::files::{FileSystem, Files, Places};
use crate::seam::ui::{About, Question, Turned, UiEvent};
use crate::seam::{Effect, Event, Key, LineRead, PortInfo, RecipeAsked, SystemSignal, World};
use crate::virtual_board::World as VirtualWorld;
use std::borrow::Borrow;
use std::ops::Range;
use std::time::Duration;

/// A question that stands this long is one from which the operator walked away.
const UNANSWERED: Duration = Duration::from_secs(10 * 60);
/// No work at a bench takes longer; whatever still goes on then is told to end.
const LONGEST: Duration = Duration::from_secs(24 * 3600);

/// Something seen, for a transcript.
#[derive(Debug)]
pub enum TranscriptEvent<'a> {
    /// A question.
    Asked(&'a Question),
    /// Whether it was answered.
    Answered(bool),
    /// Something shown.
    Shown(&'a UiEvent),
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

/// See the module.
pub struct SimulatedWorld<'o, D = Disk> {
    board: VirtualWorld,
    operator: &'o mut dyn Operator,
    seen: &'o mut dyn FnMut(Time, TranscriptEvent<'_>),
    now: Time,
    mailbox: Lanes,
    deeds: Vec<(Time, u64, Deed)>,
    count: u64,
    /// Numbers of the deeds that answer the open question.
    answers: Range<u64>,
    open: bool,
    reopen: bool,
    line_open: bool,
    /// Of the wire, while it is open.
    writer: Option<Writer>,
    /// When it wants to be looked at again.
    write_at: Time,
    /// When the open question is given up.
    unanswered: Time,
    /// When the whole is told to end.
    ends: Time,
    files: Files,
    /// What was written.
    pub disk: D,
    /// Every byte that left for the board, for those who judge what was sent.
    pub spied: Option<Vec<(Time, Vec<u8>)>>,
}

impl<'o, D: FileSystem + Borrow<Disk>> SimulatedWorld<'o, D> {
    /// A world around a virtual board.
    pub fn new(
        board: VirtualWorld,
        operator: &'o mut dyn Operator,
        disk: D,
        seen: &'o mut dyn FnMut(Time, TranscriptEvent<'_>),
    ) -> Self {
        let now = board.now();
        Self {
            board,
            operator,
            seen,
            now,
            mailbox: Lanes::default(),
            deeds: Vec::new(),
            count: 0,
            answers: 0..0,
            open: false,
            reopen: false,
            line_open: false,
            writer: None,
            write_at: Time::NEVER,
            unanswered: Time::NEVER,
            ends: now + LONGEST,
            files: Files::new(Places {
                crafts: CRAFTS.into(),
                radio_card: Some(RADIO_CARD.into()),
                holder: "a rehearsal".to_owned(),
            }),
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
    pub fn into_parts(self) -> (VirtualWorld, D) {
        (self.board, self.disk)
    }

    fn plan(&mut self, deeds: Vec<(Duration, Deed)>) {
        for (after, deed) in deeds {
            self.count += 1;
            self.deeds.push((self.now + after, self.count, deed));
        }
        self.deeds.sort_by_key(|(at, count, _)| (*at, *count));
    }

    /// Nobody types on once the question is gone.
    fn stops_typing(&mut self) {
        let answers = std::mem::take(&mut self.answers);
        self.deeds.retain(|(_, number, deed)| !(matches!(deed, Deed::Key(_)) && answers.contains(number)));
    }

    fn send(&mut self, bytes: &[u8]) {
        if let Some(spied) = &mut self.spied {
            spied.push((self.now, bytes.to_vec()));
        }
        self.board.receive(self.now, bytes);
    }

    /// Before each start nothing has turned yet; at the first question about it, whoever was asked to look has seen it.
    fn looks(&mut self, question: &Question) {
        let of_it = matches!(question.about, About::Motor(_) | About::Told(_) | About::Turned(Turned::Corner(_)));
        if of_it {
            let mut seen = self.board.look_well();
            // Where all start together, whoever is asked of each sees which began after the others.
            if matches!(&question.about, About::Told(corners) if corners.len() > 1) {
                seen.retain(|(_, _, late)| !late);
            }
            let turned: Vec<_> = seen.into_iter().map(|(corner, clockwise, _)| (corner, clockwise)).collect();
            self.operator.sees(&turned);
        }
    }

    fn close(&mut self) {
        let now = self.now;
        self.tell(|writer| writer.close(now));
        self.open = false;
    }

    fn wire(&mut self) {
        let there = self.board.port_present();
        if self.open && !there {
            self.open = false;
            self.writer = None;
            let _lost_with_the_port = self.board.take_output();
            self.mailbox.post(self.now, Event::Lost);
        }
        if self.reopen && there {
            self.reopen = false;
            self.open = true;
            self.writer = Some(Writer::new(usize::MAX));
            let _from_before_it_was_opened = self.board.take_output();
            self.mailbox.post(self.now, Event::Opened(Ok(info())));
        }
        if self.open && self.mailbox.has_room() {
            let bytes = self.board.take_output();
            if !bytes.is_empty() {
                self.mailbox.post(self.now, Event::Bytes(bytes));
            }
        }
    }

    fn deeds_due(&mut self) {
        while self.deeds.first().is_some_and(|(at, ..)| *at <= self.now) {
            match self.deeds.remove(0).2 {
                Deed::Key(key) => {
                    (self.seen)(self.now, TranscriptEvent::Pressed(key));
                    self.mailbox.post(self.now, Event::Key(key));
                }
                Deed::Paste => {
                    (self.seen)(self.now, TranscriptEvent::Odd("pastes"));
                    self.mailbox.post(self.now, Event::Paste);
                }
                Deed::Line(line) => {
                    self.line_open = false;
                    (self.seen)(self.now, TranscriptEvent::Entered(&line));
                    self.mailbox.post(self.now, Event::Line(line));
                }
                Deed::Leave => self.leaves(),
                Deed::World(line) => {
                    // A line that the world does not know is a fault of the script; the run then times out
                    // and says what it waited for, and the transcript says why.
                    let answer = match self.board.line(self.now, &line) {
                        Ok(lines) => lines.join("\n"),
                        Err(error) => error.to_string(),
                    };
                    (self.seen)(self.now, TranscriptEvent::Moved { line: &line, answer: &answer });
                }
            }
        }
    }

    fn leaves(&mut self) {
        (self.seen)(self.now, TranscriptEvent::Odd("leaves"));
        self.mailbox.post(self.now, Event::EndOfInput);
    }

    /// What nobody ends is ended.
    fn given_up(&mut self) {
        if self.unanswered <= self.now {
            self.unanswered = Time::NEVER;
            self.leaves();
        }
        if self.ends <= self.now {
            self.ends = Time::NEVER;
            self.mailbox.post(self.now, Event::Signal(SystemSignal::Terminate));
        }
    }

    /// Says something to the writer, where there is one.
    fn tell(&mut self, what: impl FnOnce(&mut Writer)) {
        self.writer.as_mut().map(what);
        self.pump();
    }

    /// Does what the writer says; this wire takes everything at once.
    fn pump(&mut self) {
        self.write_at = Time::NEVER;
        while let Some(writer) = &mut self.writer {
            match writer.next(self.now, 0) {
                Doing::Write(bytes) => {
                    writer.wrote(self.now, bytes.len());
                    self.send(&bytes);
                }
                Doing::Wait(until) => {
                    self.write_at = until;
                    return;
                }
                Doing::End | Doing::Lost => self.writer = None,
            }
        }
    }
}

impl<D: FileSystem + Borrow<Disk>> World for SimulatedWorld<'_, D> {
    fn next(&mut self, until: Time) -> (Time, Event) {
        loop {
            if let Some(taken) = self.mailbox.take(self.now, until) {
                return taken;
            }
            let deed = self.deeds.first().map_or(Time::NEVER, |(at, ..)| *at);
            let given_up = self.unanswered.min(self.ends);
            self.now = until.min(deed).min(self.write_at).min(self.board.wake()).min(given_up).max(self.now);
            self.board.advance(self.now);
            if self.write_at <= self.now {
                self.pump();
            }
            self.deeds_due();
            self.given_up();
            self.wire();
        }
    }

    fn act(&mut self, effect: Effect) {
        match effect {
            Effect::Open(_) => {
                self.open = self.board.port_present();
                self.writer = self.open.then(|| Writer::new(usize::MAX));
                self.reopen = !self.open;
                if self.open {
                    self.mailbox.post(self.now, Event::Opened(Ok(info())));
                }
            }
            Effect::Reopen | Effect::NotThis { .. } => {
                self.close();
                self.reopen = true;
            }
            Effect::Close => self.close(),
            Effect::Send { bytes, by } => {
                self.tell(|writer| writer.send(bytes, by));
                self.wire();
            }
            Effect::Stop(bytes) => {
                self.tell(|writer| writer.stop(bytes));
                self.wire();
            }
            Effect::Hold(bytes, through) => self.tell(|writer| writer.hold(bytes, through)),
            Effect::Release => self.tell(Writer::release),
            Effect::Store(ticket, job) => {
                let stored = self.files.store(&mut self.disk, &job);
                self.mailbox.post(self.now, Event::Stored(ticket, stored));
            }
            Effect::OpenRecord(identity) => {
                let record = self.files.open_record(&mut self.disk, &identity);
                self.mailbox.post(self.now, Event::Record(Box::new(record)));
            }
            Effect::ReadRecipe(RecipeAsked { file, with }) => {
                let reading = vocabulary::read(&self.disk.borrow().texts(), &file, &with);
                self.mailbox.post(self.now, Event::Recipe(Box::new(reading)));
            }
            Effect::Ask(question) => {
                (self.seen)(self.now, TranscriptEvent::Asked(&question));
                self.unanswered = self.now + UNANSWERED;
                self.looks(&question);
                let deeds = self.operator.asked(&question);
                let first = self.count + 1;
                self.plan(deeds);
                self.answers = first..self.count + 1;
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
                self.stops_typing();
                (self.seen)(self.now, TranscriptEvent::Answered(answered));
            }
            Effect::Show(shown) => {
                (self.seen)(self.now, TranscriptEvent::Shown(&shown));
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
