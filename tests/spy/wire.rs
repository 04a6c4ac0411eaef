//! The wire with the spy on it, as the world of a session: simulated, to the byte alike each time.
//!
//! Bytes both ways pass here a frame at a time, late, lost or doubled as was asked for; the dead man's hold is kept
//! here, as the real writer keeps it, so that its bytes are seen as well. Must not be here: what is right.

use super::frames::{Class, Heard, heard, line_classes, mavlink_classes, split};
use super::log::{Craft, Log, Seen, Sent, Truth, Weathered};
use super::packets::packet_classes;
use super::script::{Act, Do, Of, View, Weather};
use quadjig::measure::time::Time;
use quadjig::rehearsal::simulated::{Disk, SimulatedWorld};
use quadjig::seam::{Effect, Event, World};
use quadjig::virtual_board::{BoardKind, World as VirtualWorld};
use std::collections::VecDeque;
use std::ops::Range;
use std::time::Duration;

/// How often truth and conditions are looked at.
const LOOK: Duration = Duration::from_millis(5);
/// How often the held bytes are sent once the hold was not renewed.
const HELD: Duration = Duration::from_millis(20);
/// Bytes that an operating system keeps for a program that sleeps: a terminal's input queue.
const KEPT: usize = 4096;

/// See the module.
pub struct Spy<'a, 'o> {
    inner: SimulatedWorld<'o>,
    aside: Option<VirtualWorld>,
    on_wire: Craft,
    /// Both crafts are on the wire.
    both: bool,
    speaks: Speaks,
    acts: Vec<Act<'a>>,
    events: VecDeque<Event>,
    /// Keys that came while the program was frozen, each with its own moment, as the mailbox keeps them.
    typed: VecDeque<(Time, Event)>,
    frozen: bool,
    event: usize,
    to_board: VecDeque<(Time, Vec<u8>, usize)>,
    to_session: VecDeque<(Time, Vec<u8>)>,
    lag: Duration,
    silent: bool,
    lose: Vec<(usize, Of<Class>)>,
    lose_heard: Vec<(usize, Of<Heard>)>,
    weather: Weather,
    dice: u64,
    hold: Option<(Range<Time>, Vec<u8>)>,
    lost_until: Option<Time>,
    looked: Time,
    handed: (Time, usize),
    pub log: Log,
}

/// How the board on the wire speaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Speaks {
    Mavlink,
    Lines,
    Packets,
    StuffedPackets,
}

impl Speaks {
    pub fn of(board: BoardKind) -> Self {
        match board {
            BoardKind::Finch | BoardKind::FinchR => Self::Mavlink,
            BoardKind::FinchC => Self::Lines,
            BoardKind::FinchP => Self::Packets,
            BoardKind::FinchQ => Self::StuffedPackets,
        }
    }

    fn classes(self, bytes: &[u8]) -> Vec<Class> {
        match self {
            Self::Mavlink => mavlink_classes(bytes),
            Self::Lines => line_classes(bytes),
            Self::Packets => packet_classes(bytes, false),
            Self::StuffedPackets => packet_classes(bytes, true),
        }
    }
}

/// Of what a spy is made.
pub struct Made<'a> {
    pub aside: Option<VirtualWorld>,
    pub speaks: Speaks,
    pub lag: Duration,
    pub weather: Weather,
    pub acts: Vec<Act<'a>>,
}

impl<'a, 'o> Spy<'a, 'o> {
    pub fn new(inner: SimulatedWorld<'o>, made: Made<'a>) -> Self {
        Self {
            inner,
            aside: made.aside,
            on_wire: Craft::A,
            both: false,
            speaks: made.speaks,
            acts: made.acts,
            events: VecDeque::new(),
            typed: VecDeque::new(),
            frozen: false,
            event: 0,
            to_board: VecDeque::new(),
            to_session: VecDeque::new(),
            lag: made.lag,
            silent: false,
            lose: Vec::new(),
            lose_heard: Vec::new(),
            dice: made.weather.seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1,
            weather: made.weather,
            hold: None,
            lost_until: None,
            looked: Time(0),
            handed: (Time(0), 0),
            log: Log::default(),
        }
    }

    fn now(&self) -> Time {
        self.inner.now()
    }

    fn note(&mut self, seen: Seen) {
        self.log.seen.push((self.inner.now(), self.event, seen));
    }

    /// A number from 0 to 1, by xorshift.
    fn chance(&mut self) -> f64 {
        self.dice ^= self.dice << 13;
        self.dice ^= self.dice >> 7;
        self.dice ^= self.dice << 17;
        f64::from(u32::try_from(self.dice >> 32).unwrap_or(0)) / f64::from(u32::MAX)
    }

    /// Whether a frame is lost by chance, and how late it comes.
    fn weathered(&mut self) -> (usize, Duration) {
        let Weather { loss, doubled, jitter, .. } = self.weather;
        let chance = self.chance();
        let times = if chance < loss { 0 } else { 1 + usize::from(chance > 1.0 - doubled) };
        (times, self.lag + jitter.mul_f64(self.chance()))
    }

    /// One frame to a board, or from one.
    fn chanced(&mut self, flag: bool, of: fn(&mut Log) -> &mut Weathered) -> (usize, Duration) {
        let (times, late) = self.weathered();
        let (all, lost) = (of(&mut self.log), usize::from(times == 0));
        all.frames += 1;
        all.lost += lost;
        all.flags_lost += if flag { lost } else { 0 };
        all.longest = all.longest.max(late);
        (times, late)
    }

    fn leaves(&mut self, bytes: &[u8], held: bool) {
        let parts: Vec<Vec<u8>> = if self.speaks == Speaks::Mavlink {
            split(bytes).into_iter().map(|range| bytes[range].to_vec()).collect()
        } else {
            vec![bytes.to_vec()]
        };
        for part in parts {
            let classes = self.speaks.classes(&part);
            let first = self.log.sent.len();
            let (mut times, late) = self.chanced(false, |log| &mut log.to_board);
            for class in classes {
                if let Some((left, _)) = self.lose.iter_mut().find(|(left, is)| *left > 0 && is(&class)) {
                    *left -= 1;
                    times = 0;
                }
                let (at, to) = (self.now(), self.on_wire);
                self.log.sent.push(Sent { at, reached: None, to, held, class });
            }
            let due = self.to_board.back().map_or(Time(0), |(due, ..)| *due).max(self.now() + late);
            for _ in 0..times {
                self.to_board.push_back((due, part.clone(), first));
            }
        }
        self.deliver();
    }

    /// Hands to the board what has come to it by now.
    fn deliver(&mut self) {
        while self.to_board.front().is_some_and(|(due, ..)| *due <= self.now()) {
            let Some((_, bytes, first)) = self.to_board.pop_front() else { return };
            if self.silent || self.lost_until.is_some() || !self.inner.board().link_present() {
                continue;
            }
            let (now, to) = (self.now(), self.on_wire);
            let count = if self.speaks == Speaks::Mavlink { 1 } else { self.speaks.classes(&bytes).len() };
            for sent in self.log.sent.iter_mut().skip(first).take(count) {
                sent.reached = Some(now);
                sent.to = to;
            }
            self.inner.board_mut().receive(now, &bytes);
            if let Some(aside) = self.aside.as_mut().filter(|_| self.both) {
                aside.receive(now, &bytes);
                let classes = self.speaks.classes(&bytes);
                for class in classes {
                    let (at, to) = (now, other(to));
                    self.log.sent.push(Sent { at, reached: Some(now), to, held: false, class });
                }
            }
        }
    }

    fn comes(&mut self, bytes: Vec<u8>) {
        if self.silent || self.lost_until.is_some() {
            return;
        }
        if self.speaks != Speaks::Mavlink {
            let (_, late) = self.weathered();
            let due = self.to_session.back().map_or(Time(0), |(due, _)| *due).max(self.now() + late);
            self.to_session.push_back((due, bytes));
            return;
        }
        for range in split(&bytes) {
            let part = bytes[range].to_vec();
            let all = heard(&part);
            let flag = all.iter().any(|said| matches!(said, Heard::Flag(_)));
            let (mut times, late) = self.chanced(flag, |log| &mut log.from_board);
            for said in all {
                if let Some((left, _)) = self.lose_heard.iter_mut().find(|(left, is)| *left > 0 && is(&said)) {
                    *left -= 1;
                    times = 0;
                }
            }
            let due = self.to_session.back().map_or(Time(0), |(due, _)| *due).max(self.now() + late);
            for _ in 0..times {
                self.to_session.push_back((due, part.clone()));
            }
        }
    }

    fn arrived(&mut self) {
        let mut all = Vec::new();
        while self.to_session.front().is_some_and(|(due, _)| *due <= self.now()) {
            all.extend(self.to_session.pop_front().map(|(_, bytes)| bytes).unwrap_or_default());
        }
        if !all.is_empty() {
            self.events.push_back(Event::Bytes(all));
        }
    }

    fn took(&mut self, event: Event) {
        match event {
            Event::Bytes(bytes) => self.comes(bytes),
            Event::Lost | Event::Opened(..) if self.lost_until.is_some() => {}
            Event::Tick => {}
            key @ Event::Key(_) if self.frozen => self.typed.push_back((self.now(), key)),
            event => self.events.push_back(event),
        }
    }

    fn look(&mut self) {
        let now = self.now();
        if let Some(aside) = &mut self.aside {
            aside.advance(now);
            let said = aside.take_output();
            if self.both {
                self.comes(said);
            }
        }
        let craft = self.on_wire;
        self.log.truth.push(truth(now, craft, self.inner.board()));
        if let Some(aside) = &self.aside {
            self.log.truth.push(truth(now, other(craft), aside));
        }
        if let Some((through, bytes)) = self.hold.clone()
            && through.contains(&now)
        {
            self.hold = Some((now + HELD..through.end, bytes.clone()));
            self.leaves(&bytes, true);
        }
        if self.lost_until.is_some_and(|until| until <= now) {
            self.lost_until = None;
            self.inner.act(Effect::Reopen);
        }
        self.deliver();
        self.act_now();
    }

    fn act_now(&mut self) {
        let mut due = Vec::new();
        let view = View { now: self.inner.now(), board: self.inner.board(), held: self.hold.is_some(), log: &self.log };
        for act in &mut self.acts {
            if act.since.is_none() && (act.when)(&view) {
                act.since = Some(view.now);
            }
            if act.since.is_some_and(|since| view.now.since(since) >= act.after) {
                due.append(&mut act.what);
            }
        }
        for what in due {
            self.do_it(what);
        }
    }

    fn do_it(&mut self, what: Do) {
        let now = self.now();
        match what {
            Do::Line(line) => self.line(line),
            Do::Event(event) => self.events.push_back(event),
            Do::Swap => {
                self.note(Seen::Did("the other craft speaks on the wire".to_owned()));
                self.swap();
            }
            Do::Join => {
                self.note(Seen::Did("the other craft speaks beside this one".to_owned()));
                self.both = true;
                self.log.first_of_b.get_or_insert(now);
            }
            Do::Replug(ms) => {
                self.note(Seen::Did("the cable goes to the other craft".to_owned()));
                self.events.push_back(Event::Lost);
                self.lost_until = Some(now + Duration::from_millis(ms));
                self.inner.act(Effect::Close);
                self.swap();
            }
            Do::Silent(silent) => {
                self.note(Seen::Did(if silent { "silence" } else { "no silence any more" }.to_owned()));
                self.silent = silent;
            }
            Do::Lag(ms) => {
                self.note(Seen::Did(format!("a lag of {ms} ms each way")));
                self.lag = Duration::from_millis(ms);
            }
            Do::Lose(count, is) => self.lose.push((count, is)),
            Do::LoseHeard(count, is) => self.lose_heard.push((count, is)),
            Do::Freeze(ms) => {
                self.note(Seen::Did(format!("the program is frozen for {ms} ms")));
                let end = now + Duration::from_millis(ms);
                self.frozen = true;
                // A key that came just before is before those that come meanwhile.
                let (keys, others) =
                    std::mem::take(&mut self.events).into_iter().partition(|e| matches!(e, Event::Key(_)));
                self.events = others;
                self.typed.extend(VecDeque::into_iter(keys).map(|key| (now, key)));
                while self.now() < end {
                    self.step(end);
                }
                self.frozen = false;
            }
            Do::Suspend(seconds) => {
                self.note(Seen::Did(format!("the computer sleeps for {seconds} s")));
                self.sleep(Duration::from_secs(seconds));
            }
        }
    }

    /// Nothing of ours runs; the crafts do.
    fn sleep(&mut self, wait: Duration) {
        let (end, hold) = (self.now() + wait, self.hold.take());
        let mut kept = Vec::new();
        while self.now() < end {
            let until = (self.now() + Duration::from_secs(1)).min(end);
            match self.inner.next(until).1 {
                Event::Bytes(bytes) => {
                    let room = KEPT.saturating_sub(kept.len()).min(bytes.len());
                    kept.extend_from_slice(&bytes[..room]);
                }
                other => self.took(other),
            }
        }
        let now = self.now();
        self.hold = hold.map(|(through, bytes)| (through.start.max(now)..through.end, bytes));
        let craft = self.on_wire;
        self.log.truth.push(truth(now, craft, self.inner.board()));
        if !kept.is_empty() {
            self.events.push_back(Event::Bytes(kept));
        }
        self.events.push_back(Event::Tick);
    }

    fn swap(&mut self) {
        let now = self.now();
        if let Some(aside) = &mut self.aside {
            aside.advance(now);
            std::mem::swap(self.inner.board_mut(), aside);
            self.on_wire = other(self.on_wire);
            // What was on its way between the two reaches nobody.
            self.to_board.clear();
            self.to_session.clear();
            let _what_it_said_to_nobody = self.inner.board_mut().take_output();
        }
    }

    fn line(&mut self, line: &str) {
        let now = self.now();
        self.inner.board_mut().line(now, line).unwrap_or_else(|error| panic!("{line}: {error}"));
        self.note(Seen::Did(line.to_owned()));
    }

    /// Lets a little time pass, and everything that belongs to it.
    fn step(&mut self, until: Time) {
        let due = [self.to_board.front().map(|(due, ..)| *due), self.to_session.front().map(|(due, _)| *due)];
        let until = until.min(self.now() + LOOK);
        let until = due.into_iter().flatten().fold(until, |a, b| a.min(b.max(self.inner.now())));
        let (_, event) = self.inner.next(until);
        self.took(event);
        let now = self.now();
        if now.since(self.looked) >= LOOK {
            self.looked = now;
            self.look();
        }
        self.deliver();
        self.arrived();
    }

    /// Lets time pass without a program.
    pub fn let_pass(&mut self, wait: Duration) {
        self.hold = None;
        let end = self.now() + wait;
        while self.now() < end {
            self.step(end);
        }
    }

    pub fn into_parts(self) -> (Log, VirtualWorld, Disk) {
        let (board, disk) = self.inner.into_parts();
        (self.log, board, disk)
    }

    fn hand(&mut self, event: Event) -> (Time, Event) {
        self.event += 1;
        let now = self.now();
        self.handed = if self.handed.0 == now { (now, self.handed.1 + 1) } else { (now, 0) };
        assert!(self.handed.1 < 10_000, "the session lets no time pass\n{}", self.log.tail());
        match &event {
            Event::Bytes(bytes) => {
                if self.speaks == Speaks::Lines {
                    self.log.told.push((now, String::from_utf8_lossy(bytes).into_owned()));
                }
                let one_of_b = !bytes.is_empty() && self.on_wire == Craft::B;
                if one_of_b && self.log.first_of_b.is_none() {
                    self.log.first_of_b = Some(now);
                }
            }
            Event::Tick => {}
            other => {
                let words = format!("{other:?}");
                self.note(Seen::Event(words));
            }
        }
        (now, event)
    }
}

impl World for Spy<'_, '_> {
    fn next(&mut self, until: Time) -> (Time, Event) {
        loop {
            if let Some((at, key)) = self.typed.pop_front() {
                return (at, self.hand(key).1);
            }
            if let Some(event) = self.events.pop_front() {
                return self.hand(event);
            }
            if until <= self.now() {
                return self.hand(Event::Tick);
            }
            self.step(until);
        }
    }

    fn act(&mut self, effect: Effect) {
        match effect {
            Effect::Send { bytes, .. } => self.leaves(&bytes, false),
            Effect::Stop(bytes) => {
                // It overtakes everything queued here, which has not left yet; a lag further on is nobody's queue.
                self.leaves(&bytes, false);
            }
            Effect::Hold(bytes, through) => self.hold = Some((through, bytes)),
            Effect::Release => self.hold = None,
            other => {
                match &other {
                    Effect::Ask(question) => self.note(Seen::Asked(question.clone())),
                    Effect::Show(shown) => self.note(Seen::Shown(Box::new(shown.clone()))),
                    Effect::Store(_, job) => {
                        self.note(Seen::Stored(String::from_utf8_lossy(&job.bytes).into_owned()));
                    }
                    _ => {}
                }
                self.inner.act(other);
            }
        }
    }
}

fn other(craft: Craft) -> Craft {
    match craft {
        Craft::A => Craft::B,
        Craft::B => Craft::A,
    }
}

fn truth(at: Time, craft: Craft, board: &VirtualWorld) -> Truth {
    Truth {
        at,
        craft,
        armed: board.armed(),
        fastest: board.speeds().into_iter().fold(0.0, f64::max),
        highest: board.outputs().iter().copied().max().unwrap_or(0),
        powered: board.pack_volts() > 1.0,
    }
}
