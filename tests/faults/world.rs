//! The world of one seed: two crafts, a wire, a computer and an operator, all of which may fail.
//!
//! Pumps the machines that the real world pumps (`Writer`, `Lanes`, `Files`), on simulated time; every fault falls at one
//! place, between writer and board. Promises: the same seed gives the same trace, to the byte. Must not be here: what is
//! right (see `judge`), what happens when (see `dice`).

use super::dice::{Dice, Kind, Moment};
use super::disk::Disk;
use super::fates::{Fate, fates, of_hands};
use super::hands::Hands;
use super::judge::Judge;
use super::outside::Outside;
use super::trace::Trace;
use super::typed::Speech;
use super::wire::{Side, Wire};
use quadjig::board::vocabulary;
use quadjig::interlock::Phase;
use quadjig::machines::mailbox::Lanes;
use quadjig::machines::writer::{Doing, Writer};
use quadjig::measure::time::Time;
use quadjig::record::files::{Files, Places};
use quadjig::rehearsal::operator::Deed;
use quadjig::seam::guardian::{GuardianEvent, GuardianOrder};
use quadjig::seam::ui::UiEvent;
use quadjig::seam::{Effect, Event, Key, PortInfo, RecipeAsked, World};
use quadjig::virtual_board::World as Craft;
use quadjig::world::guardian::machine::{GuardianInput, GuardianOutput};
use serde_json::json;
use std::collections::VecDeque;
use std::time::Duration;

/// A question that stands this long is one from which the operator walked away.
const UNANSWERED: Duration = Duration::from_secs(60);
/// Bytes that an operating system keeps for a program that sleeps: a terminal's input queue.
const KEPT: usize = 4096;

/// See the module.
pub struct FaultWorld {
    /// The one that the operator means, and another.
    pub crafts: [Craft; 2],
    /// Who is at the wire.
    pub at_wire: usize,
    /// The other is on the wire as well until then.
    beside_until: Time,
    pub dice: Dice,
    pub judge: Judge,
    /// For a judge of another hand.
    pub trace: Trace,
    pub disk: Disk,
    pub hands: Hands,
    wire: Wire,
    now: Time,
    mailbox: Lanes,
    /// Who said each bytes in it, which are in order.
    said_by: VecDeque<usize>,
    deeds: Vec<(Time, u64, Deed)>,
    /// Each with the place of its decision among all.
    fates: Vec<(Time, usize, Fate)>,
    count: u64,
    moments: u64,
    open: bool,
    reopen: bool,
    line_open: bool,
    out_until: Time,
    frozen_until: Time,
    /// The program is stopped, with its computer or without.
    asleep: bool,
    halted: bool,
    /// It was killed: what goes on is the guardian.
    pub dead: bool,
    /// How many effects it had so far, and the one, from 1, at which it is killed.
    pub effects: u64,
    /// How many at each frame that acts.
    pub acts: Vec<u64>,
    pub killed_at: Option<u64>,
    /// Its openings have a guardian.
    pub guarded: bool,
    guardian: Option<Outside>,
    writer: Option<Writer>,
    write_at: Time,
    unanswered: Time,
    files: Files,
    handed: (Time, u32),
    turned: bool,
    /// The program lets no time pass.
    pub stuck: bool,
    /// What happened, in words.
    pub did: Vec<(Time, String)>,
}

impl FaultWorld {
    pub fn new(crafts: [Craft; 2], dice: Dice, hands: Hands, judge: Judge) -> Self {
        let now = crafts[0].now();
        Self {
            crafts,
            at_wire: 0,
            beside_until: Time(0),
            wire: Wire::default(),
            dice,
            judge,
            trace: Trace::default(),
            disk: Disk::default(),
            hands,
            now,
            mailbox: Lanes::default(),
            said_by: VecDeque::new(),
            deeds: Vec::new(),
            fates: Vec::new(),
            count: 0,
            moments: 0,
            open: false,
            reopen: false,
            line_open: false,
            out_until: Time(0),
            frozen_until: Time(0),
            asleep: false,
            halted: false,
            dead: false,
            effects: 0,
            acts: Vec::new(),
            killed_at: None,
            guarded: true,
            guardian: None,
            writer: None,
            write_at: Time::NEVER,
            unanswered: Time::NEVER,
            files: Files::new(Places {
                crafts: "".into(),
                radio_card: Some("radio card".into()),
                holder: "a seed".to_owned(),
            }),
            handed: (Time(0), 0),
            turned: false,
            stuck: false,
            did: Vec::new(),
        }
    }

    /// How the wire is spoken on.
    pub fn speaks(&mut self, speech: Speech) {
        self.wire.speech = speech;
        self.judge.speech = speech;
    }

    /// Where its judge tells what happens, a trace is kept as well, with what an onlooker knows of it first.
    pub fn is_traced(&mut self, seed: u64, recipe: &str) {
        if !self.judge.tells {
            return;
        }
        let Judge { speech, nameless, alike, looks, prompt, senses, .. } = self.judge;
        let facts = json!({"nameless": nameless, "alike": alike, "looks": looks, "prompt": prompt, "senses": senses});
        self.trace.begin(seed, recipe, speech, &facts);
    }

    pub fn now(&self) -> Time {
        self.now
    }

    /// The wire stays so much behind, both ways.
    pub fn lag(&mut self, lag: Duration) {
        self.wire.lag = lag;
        self.judge.lag = lag;
    }

    fn note(&mut self, what: impl Into<String>) {
        self.did.push((self.now, what.into()));
    }

    /// A moment that matters, for what happens seldom.
    fn moment(&mut self, moment: Moment) {
        let eye = self.dice.eye();
        let meant = match eye {
            None => !matches!(moment, Moment::Opens | Moment::Stores),
            Some(Moment::Stops) => matches!(moment, Moment::Stops | Moment::Turning),
            Some(eye) => eye == moment,
        };
        self.moments += u64::from(meant);
        let (first, one_in) = match eye {
            None => (20, 6),
            Some(Moment::Turning) => (2, 2),
            Some(Moment::Opens | Moment::Stores) => (1, 2),
            Some(_) => (4, 2),
        };
        if !meant || self.moments <= self.dice.choose("from moment", first) {
            return;
        }
        for kind in Kind::ALL {
            if self.dice.has(*kind)
                && kind.rare()
                && !of_hands(*kind)
                && let Some(mut how) = self.dice.moment(*kind, one_in)
            {
                // A start is heard of first: before that nobody can be held to stopping it.
                let turning = moment == Moment::Turning && how.below(4) > 0;
                let at = self.now
                    + match moment {
                        _ if turning => how.ms(130, 1300),
                        Moment::Opens => how.ms(0, 900),
                        Moment::Stores => how.ms(0, 60),
                        _ => how.ms(0, 3000),
                    };
                let decision = self.dice.fired.len() - 1;
                self.fates.extend(fates(*kind, &mut how).into_iter().map(|(after, fate)| (at + after, decision, fate)));
            }
        }
    }

    /// The state that the program has come to.
    pub fn is_in(&mut self, phase: Phase) {
        let before = std::mem::replace(&mut self.dice.phase, phase);
        if phase == Phase::Storing && before != phase {
            self.moment(Moment::Stores);
        }
    }

    fn fates_due(&mut self) {
        while let Some(at) = self.fates.iter().position(|(at, ..)| *at <= self.now) {
            let (_, decision, fate) = self.fates.remove(at);
            self.note(format!("{fate:?}"));
            self.dice.fell(decision);
            self.befall(fate);
        }
    }

    fn befall(&mut self, fate: Fate) {
        match fate {
            Fate::Line(line) => self.move_world(&line),
            Fate::Key(key) => {
                self.judge.key(self.now, key);
                self.trace.key(self.now, key);
                self.mailbox.post(self.now, Event::Key(key));
            }
            Fate::Signal(signal) => {
                self.judge.signal(self.now);
                self.mailbox.post(self.now, Event::Signal(signal));
            }
            Fate::Paste => {
                self.judge.pasted(self.now);
                self.mailbox.post(self.now, Event::Paste);
            }
            Fate::Leave => self.leaves(),
            Fate::Unplug(wait, another) => {
                self.out_until = self.now + wait;
                self.move_world("usb out");
                self.judge.unplugged(&self.crafts);
                if another {
                    self.put_at_wire(1, Duration::ZERO);
                } else {
                    let last = self.dice.fired.len() - 1;
                    self.fates.push((self.out_until, last, Fate::Line("usb in".to_owned())));
                }
            }
            Fate::Swap(silent) if self.at_wire == 0 => {
                self.put_at_wire(1, silent);
                self.wire.silent_until = self.now + silent;
            }
            Fate::Swap(_) => {}
            Fate::Beside(wait) => {
                if self.at_wire == 0 {
                    self.crafts[1].advance(self.now);
                    let _said_to_nobody = self.crafts[1].take_output();
                    self.beside_until = self.now + wait;
                    self.judge.beside = Some(self.now);
                }
            }
            Fate::Back => {
                self.put_at_wire(0, Duration::ZERO);
                self.move_world("usb in");
            }
            Fate::Freeze(wait) => {
                self.frozen_until = self.now + wait;
                self.judge.frozen(self.now, self.frozen_until);
            }
            Fate::Suspend(wait) => self.sleep(wait),
            Fate::Kill => self.is_killed(),
            Fate::Halt(wait) => {
                self.halted = true;
                self.judge.halts(self.now, wait, self.guards());
                self.sleep(wait);
                self.halted = false;
            }
            Fate::GuardianKilled => {
                if self.guardian.take().is_some() {
                    self.judge.guardian_gone(self.now);
                    self.mailbox.post(self.now, Event::Guardian(GuardianEvent::Gone));
                }
            }
            Fate::GuardianStopped(wait) => {
                if let Some(guardian) = &mut self.guardian {
                    guardian.stops_until(self.now + wait);
                    self.judge.guardian_stopped(self.now, wait);
                }
            }
            Fate::Wire(kind, wait) => self.wire.begin(kind, self.now + wait),
        }
    }

    fn beside(&self) -> bool {
        self.now < self.beside_until && self.at_wire == 0
    }

    fn put_at_wire(&mut self, which: usize, silent: Duration) {
        self.crafts[which].advance(self.now);
        if self.at_wire != which {
            self.at_wire = which;
            self.wire.clear();
            let _said_to_nobody = self.crafts[which].take_output();
            self.judge.swapped(self.now, which, silent);
            self.trace.swapped(self.now, which, silent);
        }
    }

    /// Moves the world of the craft that the operator means.
    fn move_world(&mut self, line: &str) {
        // A line that cannot be done now, such as for a board without power, does nothing.
        let _answer = self.crafts[0].line(self.now, line);
        self.note(line.to_owned());
        self.judge.moved(self.now, line);
    }

    /// Nothing of ours runs; the crafts do.
    fn sleep(&mut self, wait: Duration) {
        let end = self.now + wait;
        if !self.halted {
            self.judge.sleeps(end);
        }
        self.asleep = true;
        let before = self.wire.waiting_for_host();
        while self.now < end {
            self.advance(end);
        }
        self.asleep = false;
        self.wire.keep_for_host(before + KEPT);
        self.frozen_until = self.now;
    }

    /// Whether a guardian is there, and runs.
    fn guards(&self) -> bool {
        self.guardian.as_ref().is_some_and(|guardian| guardian.runs(self.now))
    }

    /// The program ends at this moment, wherever it is.
    fn is_killed(&mut self) {
        if self.dead {
            return;
        }
        self.note("killed");
        self.dead = true;
        self.writer = None;
        self.frozen_until = Time(0);
        self.judge.killed(self.now, self.guardian.is_some(), &self.crafts);
        self.tell_guardian(GuardianInput::End);
    }

    /// After the program was killed: the world goes on for so long.
    pub fn outlives(&mut self, wait: Duration) {
        let end = self.now + wait;
        while self.now < end {
            self.advance(end);
        }
    }

    fn tell_guardian(&mut self, heard: GuardianInput) {
        let deeds = self.guardian.as_mut().map(|guardian| guardian.hears(self.now, heard));
        self.guarding(deeds.unwrap_or_default());
    }

    fn guarding(&mut self, deeds: Vec<GuardianOutput>) {
        for deed in deeds {
            match deed {
                GuardianOutput::Write(bytes) => {
                    let runs = !self.dead && !self.asleep && self.now >= self.frozen_until;
                    self.judge.guardian_left(self.now, &bytes, runs, self.at_wire);
                    self.trace.left(self.now, "guardian", runs, true, &bytes);
                    self.wire.carry(self.now, Side::Board, &bytes, &mut self.dice);
                }
                GuardianOutput::Tell(event) => self.mailbox.post(self.now, Event::Guardian(event)),
                GuardianOutput::Leave => self.guardian = None,
                GuardianOutput::Discard | GuardianOutput::Say => {}
            }
        }
    }

    fn leaves(&mut self) {
        self.judge.signal(self.now);
        self.mailbox.post(self.now, Event::EndOfInput);
    }

    fn plan(&mut self, deeds: Vec<(Duration, Deed)>) {
        for (after, deed) in deeds {
            self.count += 1;
            self.deeds.push((self.now + after, self.count, deed));
        }
        self.deeds.sort_by_key(|(at, count, _)| (*at, *count));
    }

    fn deeds_due(&mut self) {
        while self.deeds.first().is_some_and(|(at, ..)| *at <= self.now) {
            match self.deeds.remove(0).2 {
                Deed::Key(key) => {
                    self.judge.key(self.now, key);
                    self.trace.key(self.now, key);
                    self.mailbox.post(self.now, Event::Key(key));
                }
                Deed::Paste => self.mailbox.post(self.now, Event::Paste),
                Deed::Line(line) => {
                    self.line_open = false;
                    self.mailbox.post(self.now, Event::Line(line));
                }
                Deed::Leave => self.leaves(),
                Deed::World(line) => self.move_world(&line),
            }
        }
    }

    /// Whether a port is there.
    fn port(&self) -> bool {
        self.now >= self.out_until && self.crafts[self.at_wire].port_present()
    }

    fn ports(&mut self) {
        let there = self.port();
        if self.open && !there {
            self.open = false;
            self.writer = None;
            self.tell_guardian(GuardianInput::HungUp);
            self.guardian = None;
            self.wire.clear();
            self.judge.closed(self.now);
            self.trace.opened(self.now, false);
            self.mailbox.post(self.now, Event::Lost);
        }
        if self.reopen && there && !self.dead {
            self.reopen = false;
            self.opens();
        }
    }

    fn opens(&mut self) {
        self.open = true;
        self.writer = Some(Writer::new(usize::MAX));
        self.guardian = self.guarded.then(Outside::default);
        self.wire.clear();
        let _from_before_it_was_opened = self.crafts[self.at_wire].take_output();
        self.judge.opened(self.now, self.at_wire);
        self.trace.opened(self.now, true);
        let port = PortInfo { name: "virtual".to_owned(), guarded: self.guarded, ..PortInfo::default() };
        self.mailbox.post(self.now, Event::Opened(Ok(port)));
        self.moment(Moment::Opens);
    }

    /// Carries bytes both ways, as far as they have come by now.
    fn carry(&mut self) {
        let said = self.crafts[self.at_wire].take_output();
        if self.open {
            self.wire.carry(self.now, Side::Host, &said, &mut self.dice);
            if self.beside() {
                let said = self.crafts[1].take_output();
                self.judge.says_besides(&said);
                self.wire.carry(self.now, Side::Host, &said, &mut self.dice);
            }
        }
        for bytes in self.wire.come(self.now, Side::Board) {
            self.crafts[self.at_wire].receive(self.now, &bytes);
            if self.beside() {
                self.crafts[1].receive(self.now, &bytes);
            }
        }
        if self.open && self.mailbox.has_room() && !self.asleep {
            let come = self.wire.come(self.now, Side::Host);
            for bytes in come {
                self.mailbox.post(self.now, Event::Bytes(bytes));
                self.said_by.push_back(self.at_wire);
            }
        }
    }

    fn pump(&mut self) {
        self.write_at = Time::NEVER;
        while let Some(writer) = self.writer.as_mut().filter(|_| !self.asleep) {
            match writer.next(self.now, 0) {
                Doing::Write(bytes) => {
                    writer.wrote(self.now, bytes.len());
                    let there = self.out_until <= self.now && self.crafts[self.at_wire].link_present();
                    self.trace.left(self.now, "program", true, there, &bytes);
                    let acts = self.judge.left(self.now, &bytes, there, &self.crafts, self.at_wire);
                    self.wire.carry(self.now, Side::Board, &bytes, &mut self.dice);
                    if acts {
                        self.acts.push(self.effects);
                        self.moment(Moment::Acts);
                    }
                }
                Doing::Wait(until) => {
                    self.write_at = until;
                    return;
                }
                Doing::End | Doing::Lost => self.writer = None,
            }
        }
    }

    /// The program ended in 0: what that claims of the craft, and what was asked for it.
    pub fn ends_well(&mut self, recipe: &str) {
        if !self.judge.nameless {
            self.judge.ends_well(self.now, &self.crafts);
        }
        if self.judge.calm {
            self.judge.asked_as_planned(self.now, recipe);
        }
    }

    /// Lets time pass, at most to a moment.
    fn advance(&mut self, until: Time) {
        let deed = self.deeds.first().map_or(Time::NEVER, |(at, ..)| *at);
        let fate = self.fates.iter().map(|(at, ..)| *at).min().filter(|_| !self.asleep).unwrap_or(Time::NEVER);
        let takes = self.open && !self.asleep && self.mailbox.has_room();
        let out = if self.out_until > self.now { self.out_until } else { Time::NEVER };
        let write_at = if self.asleep { Time::NEVER } else { self.write_at };
        let next = until.min(deed).min(fate).min(out).min(write_at).min(self.unanswered);
        // A computer that sleeps lets nothing of its own run; a program that is stopped lets its guardian.
        let guardian =
            self.guardian.as_ref().filter(|_| !self.asleep || self.halted).map_or(Time::NEVER, Outside::wake);
        let next = next.min(guardian).min(self.wire.wake(takes)).min(self.crafts[self.at_wire].wake());
        let next = if self.beside() { next.min(self.crafts[1].wake()) } else { next };
        self.now = next.max(self.now);
        let now = self.now;
        self.crafts[self.at_wire].advance(now);
        if self.at_wire != 0 {
            self.crafts[0].advance(now);
        }
        if self.beside() {
            self.crafts[1].advance(now);
        } else {
            self.judge.beside = None;
        }
        self.pump();
        if guardian <= now {
            let deeds = self.guardian.as_mut().map(|guardian| guardian.works(now));
            self.guarding(deeds.unwrap_or_default());
        }
        self.deeds_due();
        if !self.asleep {
            self.fates_due();
        }
        if self.unanswered <= now {
            self.unanswered = Time::NEVER;
            self.leaves();
        }
        self.ports();
        self.carry();
        let turns = self.judge.look(now, &self.crafts, self.at_wire);
        self.trace.look(now, &self.crafts, self.at_wire, self.beside());
        if turns && !self.turned {
            self.moment(Moment::Turning);
        }
        self.turned = turns;
    }
}

impl World for FaultWorld {
    fn next(&mut self, until: Time) -> (Time, Event) {
        loop {
            if self.dead {
                return (self.now, Event::Tick);
            }
            if self.now >= self.frozen_until
                && let Some((at, event)) = self.mailbox.take(self.now, until)
            {
                self.handed = if self.handed.0 == self.now { (self.now, self.handed.1 + 1) } else { (self.now, 0) };
                self.stuck |= self.handed.1 > 10_000;
                let by = matches!(event, Event::Bytes(_)).then(|| self.said_by.pop_front()).flatten();
                self.judge.handed(self.now, &event, by.unwrap_or(self.at_wire));
                self.trace.handed(self.now, &event);
                return (at, event);
            }
            self.advance(if self.now < self.frozen_until { self.frozen_until } else { until });
        }
    }

    fn act(&mut self, effect: Effect) {
        if self.dead {
            return;
        }
        self.effects += 1;
        if self.killed_at == Some(self.effects) {
            return self.is_killed();
        }
        self.judge.effect(self.now, &effect, &self.crafts, self.at_wire);
        self.trace.effect(self.now, &effect);
        match effect {
            Effect::Open(..) => {
                if self.port() {
                    self.opens();
                } else {
                    self.reopen = true;
                }
            }
            Effect::Reopen | Effect::NotThis { .. } => {
                self.close();
                self.reopen = true;
            }
            Effect::Close => self.close(),
            Effect::Send { bytes, by } => self.tell(|writer| writer.send(bytes, by)),
            Effect::Stop(bytes) => self.tell(|writer| writer.stop(bytes)),
            Effect::Hold(bytes, through) => self.tell(|writer| writer.hold(bytes, through)),
            Effect::Release => self.tell(Writer::release),
            Effect::Store(ticket, job) => {
                let stored = self.files.store(&mut self.disk, &job);
                if self.disk.killed() {
                    return self.is_killed();
                }
                if let Err(error) = &stored {
                    self.did.push((self.now, format!("{error}")));
                    self.judge.not_stored(self.now, &job.place);
                }
                self.mailbox.post(self.now, Event::Stored(ticket, stored));
            }
            Effect::OpenRecord(identity) => {
                let record = self.files.open_record(&mut self.disk, &identity);
                if self.disk.killed() {
                    return self.is_killed();
                }
                self.mailbox.post(self.now, Event::Record(Box::new(record)));
            }
            Effect::ReadRecipe(RecipeAsked { file, with }) => {
                let reading = vocabulary::read(&self.disk.texts(), &file, &with);
                self.mailbox.post(self.now, Event::Recipe(Box::new(reading)));
            }
            Effect::Ask(question) => {
                self.moment(Moment::Asked);
                self.unanswered = self.now + UNANSWERED;
                let deeds = self.hands.answer(&question, &mut self.dice);
                self.plan(deeds);
            }
            Effect::Guard(order) => self.tell_guardian(match order {
                GuardianOrder::Prepare(frames) => GuardianInput::Prepare(frames),
                GuardianOrder::Renew(number) => GuardianInput::Renew(number, self.now),
                GuardianOrder::Release => GuardianInput::Release,
            }),
            Effect::Echo(_) => {}
            Effect::ReadLine(_) if self.line_open => {}
            Effect::ReadLine(_) => {
                self.line_open = true;
                let (after, line) = self.hands.line(&mut self.dice);
                self.plan(vec![(after, Deed::Line(line))]);
            }
            Effect::Asked(answered) => {
                self.unanswered = Time::NEVER;
                if answered {
                    self.moment(Moment::Answered);
                }
            }
            Effect::Show(shown) => match &shown {
                UiEvent::Invite(gesture, ..) => {
                    self.moment(Moment::Invited);
                    let deeds = self.hands.follow(gesture, &mut self.dice);
                    self.plan(deeds);
                }
                UiEvent::StopBegins { .. } => self.moment(Moment::Stops),
                // Nobody else can end what no stop ends: whatever else a hand does, it does this, and in the end it leaves.
                UiEvent::PullTheBattery => {
                    let deed = |after, line: &str| (Duration::from_secs(after), Deed::World(line.to_owned()));
                    self.plan(vec![deed(6, "flip B 0"), deed(8, "battery out")]);
                    // Once: each may begin a stop, and with it bring this on again.
                    if !self.deeds.iter().any(|(_, _, deed)| matches!(deed, Deed::Key(Key::Interrupt))) {
                        self.plan(vec![(Duration::from_secs(60), Deed::Key(Key::Interrupt))]);
                    }
                }
                UiEvent::StepBegins { .. } | UiEvent::Board { .. } => self.moment(Moment::Step),
                _ => {}
            },
        }
    }
}

impl FaultWorld {
    fn close(&mut self) {
        let now = self.now;
        self.tell(|writer| writer.close(now));
        // What is on its way to it comes before the end of its pipe.
        self.tell_guardian(GuardianInput::End);
        self.guardian = None;
        self.open = false;
        self.wire.clear();
        self.judge.closed(now);
        self.trace.opened(now, false);
    }

    fn tell(&mut self, what: impl FnOnce(&mut Writer)) {
        self.writer.as_mut().map(what);
        self.pump();
        self.carry();
    }
}
