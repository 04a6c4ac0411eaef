//! The abstract world: two crafts, a wire, a guardian, a program that does anything at any time, an operator who may lie.
//!
//! Pumps the real interlock, writer and guardian, as the session and the world do. What a program would decide is left to
//! whoever explores: any door is tried at any moment, and tokens are kept as long as they can be. Must not be here: what is
//! right (see `judge`), which of it is explored (see `explore`).

use super::act::Act;
use super::craft::{Craft, Frame, IDS, LEASE, TICK, identity};
use super::judge::{Asked, Judge};
use crate::interlock::room;
use quadjig::board::shipped;
use quadjig::board::signals::{LinkEvent, Outgoing};
use quadjig::board::value::{Number, SettingName};
use quadjig::interlock::{
    Breaks, ChangeStep, Clearance, Confirmed, FrameVerdict, Interlock, Order, Phase, RestartSeen, Stillness,
};
use quadjig::machines::writer::{Doing, Writer};
use quadjig::measure::time::Time;
use quadjig::plan::step::Guard;
use quadjig::seam::PortInfo;
use quadjig::seam::guardian::{GuardianEvent, GuardianOrder};
use quadjig::seam::ui::{About, BoardChange, MotorStep, Motors, StartedBy, UiEvent};
use quadjig::world::guardian::machine::{Guardian, GuardianInput, GuardianOutput};
use std::cell::RefCell;
use std::rc::Rc;
use std::time::Duration;

const HOLD: Duration = Duration::from_millis(200);
const LEAVE_AFTER: Duration = Duration::from_secs(3);

/// How it begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Begin {
    /// An open wire, and ours at rest on it.
    Open,
    /// The same, and ours is armed.
    OpenArmed,
    /// Ours was seen at rest, its propellers said to be off.
    Ready,
    /// The same, and its battery was measured out.
    Unplugged,
    /// A board without a sensor: its battery is out by a word alone, and is in.
    SaidOut,
}

/// What comes to the program.
#[derive(Debug, Clone)]
enum Comes {
    Event(usize, LinkEvent),
    Fresh,
}

/// Who does not run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Runs {
    All,
    /// All but the core.
    NoCore,
    /// The guardian alone.
    Guardian,
}

/// What has been spent of the world's bounds.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Spent {
    pub moments: u8,
    pub deeds: u8,
    pub faults: u8,
}

/// See the module.
#[derive(Debug, Clone)]
pub struct Scene {
    pub now: Time,
    pub interlock: Interlock,
    writer: Writer,
    guardian: Guardian,
    pub crafts: [Craft; 2],
    pub at: usize,
    pub beside: bool,
    pub mute: bool,
    pub plugged: bool,
    pub alive: bool,
    answers: Vec<Comes>,
    said: Vec<GuardianEvent>,
    deaf: bool,
    still: Option<Rc<Stillness>>,
    clearance: Option<Rc<RefCell<Clearance>>>,
    /// Answers that were used up: no door takes them again.
    used: Option<Rc<RefCell<Confirmed>>>,
    pub asked: Option<(Asked, Time)>,
    pub judge: Judge,
    pub spent: Spent,
    /// What happened in the last act.
    pub did: Vec<&'static str>,
}

fn step(asked: Asked) -> MotorStep {
    match asked {
        Asked::Run => room::one_motor(),
        Asked::Start => room::step(Motors::All),
        Asked::Change => room::of_change(change()),
        Asked::Other => {
            room::of_change(BoardChange { writes: vec![(name("IDLE_US"), Number::Whole(1110))], ..change() })
        }
        Asked::Worked => MotorStep { by: StartedBy::WorkedSwitch, ..room::step(Motors::None) },
    }
}

fn name(text: &str) -> SettingName {
    SettingName::new(text).unwrap()
}

fn change() -> BoardChange {
    let writes = vec![(name("IDLE_US"), Number::Whole(1120)), (name("ARM_FROM"), Number::Whole(904))];
    BoardChange { writes, store: true, restart: true }
}

fn outgoing(frame: Frame) -> Outgoing {
    match frame {
        Frame::Identify => Outgoing::Identify,
        Frame::Ask => Outgoing::Ask,
        Frame::Disarm => Outgoing::Disarm { force: false },
        Frame::Forced => Outgoing::Disarm { force: true },
        Frame::Idle => Outgoing::Write { name: name("IDLE_US"), value: Some(Number::Whole(1120)) },
        Frame::Band => Outgoing::Write { name: name("ARM_FROM"), value: Some(Number::Whole(904)) },
        Frame::Store => Outgoing::Store,
        Frame::Restart => Outgoing::Restart,
        Frame::Motor => Outgoing::Motor { motor: 2, pulse: 1150, lease: LEASE },
    }
}

fn port() -> PortInfo {
    PortInfo { guarded: true, ..room::adapter() }
}

impl Scene {
    pub fn new(begin: Begin, alike: bool) -> Self {
        let sensor = begin != Begin::SaidOut;
        let mut scene = Self {
            now: Time(100_000_000),
            interlock: Interlock::default(),
            writer: Writer::new(256),
            guardian: Guardian::default(),
            crafts: [Craft::ours(sensor), Craft::other(alike)],
            at: 0,
            beside: false,
            mute: false,
            plugged: true,
            alive: true,
            answers: Vec::new(),
            said: Vec::new(),
            deaf: false,
            still: None,
            clearance: None,
            used: None,
            asked: None,
            judge: Judge::default(),
            spent: Spent::default(),
            did: Vec::new(),
        };
        if begin == Begin::OpenArmed {
            scene.crafts[0].switch = true;
            scene.crafts[0].advance(scene.now);
            scene.judge.disturbed = true;
        }
        scene.interlock.wakes(scene.now, scene.now);
        scene.interlock.opened(&port());
        for (setting, value) in [("ARM_CHANNEL", 6), ("ARM_FROM", 1750), ("ARM_TO", 2100), ("IDLE_US", 1150)] {
            let value = Number::Whole(value);
            scene.interlock.hear(&LinkEvent::Setting { name: name(setting), value, index: None });
        }
        if matches!(begin, Begin::Open | Begin::OpenArmed) {
            return scene;
        }
        let so = |scene: &mut Self, act| assert!(scene.does(act), "{act:?}");
        so(&mut scene, Act::Ask);
        so(&mut scene, Act::Pass(40));
        so(&mut scene, Act::TakeIn);
        so(&mut scene, Act::Work);
        if begin == Begin::Unplugged {
            scene.crafts[0].battery = false;
            so(&mut scene, Act::Pass(15));
        }
        so(&mut scene, Act::Props);
        if begin == Begin::SaidOut {
            so(&mut scene, Act::SayOut);
        }
        so(&mut scene, Act::Pass(10));
        assert_eq!(scene.interlock.phase(), Phase::Still, "{begin:?}");
        assert!(scene.judge.broken.is_empty(), "{:?}", scene.judge.broken);
        scene.spent = Spent::default();
        scene
    }

    /// So many ticks pass, with this running.
    pub fn pass(&mut self, ticks: u16, runs: Runs) {
        let began = self.now;
        let mut waits = Vec::new();
        for _ in 0..ticks {
            self.now = self.now + TICK;
            self.crafts.iter_mut().for_each(|craft| craft.advance(self.now));
            let mut comes = std::mem::take(&mut self.answers);
            for who in 0..2 {
                if who == self.at || self.beside {
                    comes.extend(self.crafts[who].tells(self.now).into_iter().map(|event| Comes::Event(who, event)));
                }
            }
            if self.mute || !self.plugged {
                comes.clear();
            }
            let deeds = self.guardian.work(self.now, true);
            self.guards(deeds);
            match runs {
                _ if !self.alive => {}
                Runs::All => self.wake(self.now, comes),
                Runs::NoCore => {
                    waits.extend(comes);
                    self.pump();
                }
                Runs::Guardian => waits.extend(comes),
            }
            if runs != Runs::All || !self.alive {
                self.judge.owed_in_time(self.now);
            }
        }
        if runs != Runs::All && self.alive {
            self.judge.slept(self.now, self.now.since(began));
            self.wake(began, waits);
        }
    }

    /// One event of the session.
    fn wake(&mut self, due: Time, comes: Vec<Comes>) {
        if self.interlock.wakes(self.now, due) {
            self.deaf = true;
            self.interlock.is_deaf(true);
        }
        self.interlock.encoding(true);
        for event in std::mem::take(&mut self.said) {
            self.interlock.guardian().hear(event);
        }
        for one in comes {
            match one {
                Comes::Event(who, event) => {
                    self.judge.reads(self.now, who, &event);
                    self.interlock.hear(&event);
                }
                Comes::Fresh => {
                    self.deaf = false;
                    self.interlock.is_deaf(false);
                }
            }
        }
        self.judge.owes_for_an_unexpected_start(self.now);
        self.interlock.judge();
        self.obey();
        if self.deaf {
            self.send(Frame::Ask);
        }
        self.settle();
        self.judge.stands(self.now, self.interlock.could_turn());
        let hold = [
            Guard::Disarmed,
            Guard::ArmSwitchOff,
            Guard::OutputsAtRest,
            Guard::PropsOff,
            Guard::BatteryOut,
            Guard::ThrottleLow,
        ]
        .map(|guard| self.holds(guard));
        self.judge.guards(self.now, hold);
    }

    pub fn holds(&self, guard: Guard) -> bool {
        self.interlock.all_hold(&[guard], None).is_ok()
    }

    /// What the session does after its script, in every event.
    fn settle(&mut self) {
        self.interlock.judge_hold();
        self.obey();
        self.pump();
    }

    fn obey(&mut self) {
        loop {
            let orders = self.interlock.orders();
            if orders.is_empty() {
                return;
            }
            for order in orders {
                self.carry_out(&order);
            }
        }
    }

    fn carry_out(&mut self, order: &Order) {
        match order {
            Order::Stop { force } => {
                let frame = if *force { Frame::Forced } else { Frame::Disarm };
                self.did.push(if *force { "forced" } else { "stop" });
                self.writer.stop(frame.bytes());
                self.pump();
            }
            Order::Hold => {
                self.writer.hold(Frame::Disarm.bytes(), self.now + HOLD..Time::NEVER);
                let now = self.now;
                let guardian = self.interlock.guardian();
                let prepare = guardian.wants_stops(now).map(|_| guardian.prepare(now, vec![Frame::Disarm.bytes()]));
                let renew = guardian.renew(now);
                prepare.into_iter().chain(renew).for_each(|order| self.guard(order));
            }
            Order::Release => {
                self.writer.release();
                if let Some(order) = self.interlock.guardian().release() {
                    self.guard(order);
                }
            }
            Order::Identify => {
                self.send(Frame::Identify);
            }
            Order::ArmedFlag | Order::Streams => {
                self.send(Frame::Ask);
            }
            Order::StopBegan => {
                self.asked = None;
                self.judge.stop_begins(self.now);
            }
            Order::Say(UiEvent::StopConfirmed) => {
                self.did.push("confirmed");
                self.judge.stop_ends(true, &self.crafts[0], self.now);
            }
            Order::Ends(_) if self.interlock.phase() == Phase::Stopping => {}
            Order::Reopen | Order::Say(_) => {}
            Order::Ends(_) => {
                self.interlock.latch();
                self.judge.latches();
            }
        }
    }

    fn guard(&mut self, order: GuardianOrder) {
        let heard = match order {
            GuardianOrder::Prepare(frames) => GuardianInput::Prepare(frames),
            GuardianOrder::Renew(number) => GuardianInput::Renew(number, self.now),
            GuardianOrder::Release => GuardianInput::Release,
        };
        let deeds = self.guardian.hear(self.now, heard);
        self.guards(deeds);
    }

    fn guards(&mut self, deeds: Vec<GuardianOutput>) {
        for deed in deeds {
            match deed {
                GuardianOutput::Tell(event) => self.said.push(event),
                GuardianOutput::Write(bytes) => {
                    self.did.push("guardian");
                    self.judge.stopped_outside();
                    self.arrives(Frame::of(&bytes));
                }
                GuardianOutput::Discard | GuardianOutput::Say | GuardianOutput::Leave => {}
            }
        }
    }

    /// A frame of the program, judged as it leaves; whether it does.
    pub fn send(&mut self, frame: Frame) -> bool {
        let outgoing = outgoing(frame);
        let FrameVerdict::Leaves(by) = self.interlock.judge_frame(&outgoing) else { return false };
        if !self.interlock.link_up() {
            return false;
        }
        self.interlock.asks(&outgoing);
        self.writer.send(frame.bytes(), by);
        self.pump();
        true
    }

    /// Whether this frame would leave now.
    pub fn lets(&self, frame: Frame) -> bool {
        matches!(self.interlock.judge_frame(&outgoing(frame)), FrameVerdict::Leaves(_))
    }

    pub fn enters_store(&mut self) -> bool {
        let change = BoardChange { store: true, ..BoardChange::default() };
        let entered = ChangeStep { change, ..ChangeStep::default() };
        let Ok(still) = self.interlock.enter_change(entered, None) else { return false };
        self.judge.only_stores();
        self.still = Some(Rc::new(still));
        true
    }

    pub fn has_leave(&self) -> bool {
        self.still.is_some()
    }

    fn pump(&mut self) {
        while let Doing::Write(bytes) = self.writer.next(self.now, 0) {
            let (frame, fired) = (Frame::of(&bytes), self.writer.fired());
            self.writer.wrote(self.now, bytes.len());
            if self.writer.fired() > fired {
                self.did.push("held");
                self.judge.stopped_outside();
            } else if self.plugged {
                self.judge.leaves(self.now, frame);
            }
            self.arrives(frame);
        }
    }

    fn arrives(&mut self, frame: Frame) {
        if self.mute || !self.plugged {
            return;
        }
        for who in 0..2 {
            if who == self.at || self.beside {
                if let Some(answer) = self.crafts[who].hears(self.now, frame) {
                    self.answers.push(Comes::Event(who, answer));
                }
                if frame == Frame::Ask {
                    self.answers.push(Comes::Fresh);
                }
            }
        }
    }

    /// Does one thing; `false`: it can't be done, or is refused.
    pub fn does(&mut self, act: Act) -> bool {
        self.did.clear();
        let did = super::act::does(self, act);
        self.did.sort_unstable();
        self.did.dedup();
        did
    }

    /// The operator types a word of this craft.
    pub fn types(&mut self, about: About) {
        self.interlock.attest(room::said_of(about, self.now));
    }

    pub fn key(&mut self) {
        self.judge.disturbed = true;
        self.judge.owes(self.now, self.now);
        self.stops_or("a key was pressed", false);
    }

    /// A key, a signal or a closed terminal, as the session takes it.
    pub fn stops_or(&mut self, why: &str, demands: bool) {
        let phase = self.interlock.phase();
        let watched = matches!(phase, Phase::Still | Phase::SwitchesWorked | Phase::Storing);
        if phase.any_key_stops() || (demands && watched && self.interlock.could_turn()) {
            self.interlock.stop(why);
            self.obey();
        }
        self.settle();
        self.judge.owed_in_time(self.now + TICK);
    }

    pub fn leaves_stop(&mut self) -> bool {
        let left = self.interlock.leaves_stop(LEAVE_AFTER);
        if left {
            self.judge.stop_ends(false, &self.crafts[0], self.now);
            self.obey();
            self.settle();
        }
        left
    }

    pub fn takes_in(&mut self) -> bool {
        let Some(who) = self.interlock.who().cloned().filter(|who| who.id == IDS[0]) else { return false };
        let mut sheet = shipped::sheet("finch").unwrap().unwrap();
        sheet.settings.retain(|word, _| *word == "idle");
        sheet.raw.clear();
        let facts = quadjig::interlock::craft::Facts { speeds: false, most_current: None, ..room::facts() };
        self.interlock.take_in(&who, &Rc::new(sheet), facts);
        true
    }

    pub fn works_on(&mut self) -> bool {
        let may = self.interlock.may_work().is_ok();
        if may {
            self.judge.works_on();
            self.settle();
        }
        may
    }

    pub fn enters_change(&mut self, answered: bool) -> bool {
        let answer = self.asked.filter(|_| answered);
        let mut ok = answer.map(|(asked, at)| room::confirmed(&step(asked), at));
        let entered = ChangeStep { change: change(), turns_motors: true, ..ChangeStep::default() };
        let Ok(still) = self.interlock.enter_change(entered, ok.as_mut()) else { return false };
        self.judge.changes(self.now, answer);
        self.still = Some(Rc::new(still));
        self.uses(ok);
        true
    }

    fn uses(&mut self, ok: Option<Confirmed>) {
        if let Some(ok) = ok {
            self.used = Some(Rc::new(RefCell::new(ok)));
            self.asked = None;
        }
    }

    pub fn stores(&mut self) -> bool {
        let Some(still) = self.still.clone() else { return false };
        self.interlock.store_begins(&still).is_ok() && self.send(Frame::Store)
    }

    pub fn restarts(&mut self) -> bool {
        let Some(still) = self.still.clone() else { return false };
        if self.interlock.restart_begins(&still, &identity(0)).is_err() {
            return false;
        }
        self.judge.restart_begins(self.now, self.crafts[0].restarts);
        self.send(Frame::Restart);
        true
    }

    pub fn restart_ends(&mut self) -> bool {
        if !self.interlock.restart_is_seen() {
            return false;
        }
        let seen: Option<RestartSeen> = self.interlock.restart_ends();
        self.judge.restart_ends(seen.is_some(), self.crafts[0].restarts);
        true
    }

    pub fn drives(&mut self, asked: Asked) -> bool {
        // A start of another answer is that other's.
        let Some((of, at)) = self.asked.filter(|(of, _)| *of == asked || !matches!(of, Asked::Run | Asked::Start))
        else {
            return false;
        };
        let mut ok = room::confirmed(&step(of), at);
        let Ok(mut clearance) = self.interlock.enter_drive(&mut ok, &[], Breaks::default()) else { return false };
        self.judge.starts(self.now, asked, self.asked);
        self.uses(Some(ok));
        if asked == Asked::Run {
            self.interlock.runs_motor(&mut clearance, LEASE);
        }
        self.clearance = Some(Rc::new(RefCell::new(clearance)));
        self.settle();
        if asked == Asked::Run {
            self.send(Frame::Motor);
        }
        true
    }

    /// An answer that was used up is tried once more at every door.
    pub fn drives_again(&mut self) -> bool {
        let Some(used) = self.used.clone() else { return false };
        let mut ok = used.borrow_mut();
        let again = self.interlock.clone().enter_drive(&mut ok, &[], Breaks::default()).is_ok();
        let entered = ChangeStep { change: change(), turns_motors: true, ..ChangeStep::default() };
        let again = again || self.interlock.clone().enter_change(entered, Some(&mut ok)).is_ok();
        if again || self.interlock.clone().enter_switches(&[], Some(&mut ok)).is_ok() {
            self.judge.breaks("S1: an answer is used twice");
            return true;
        }
        false
    }

    pub fn works_switches(&mut self, answered: bool) -> bool {
        let answer = self.asked.filter(|_| answered);
        let mut ok = answer.map(|(asked, at)| room::confirmed(&step(asked), at));
        if self.interlock.enter_switches(&[], ok.as_mut()).is_err() {
            return false;
        }
        self.judge.works(self.now, answer);
        self.uses(ok);
        self.settle();
        true
    }

    pub fn ends(&mut self, of: impl Fn(&mut Interlock) -> bool) -> bool {
        let ended = of(&mut self.interlock);
        if ended {
            self.judge.rests_again();
            self.settle();
        }
        ended
    }

    pub fn latches(&mut self) {
        self.judge.disturbed = true;
        self.interlock.latch();
        self.obey();
        self.judge.latches();
        self.settle();
    }

    pub fn unplugs(&mut self) {
        self.plugged = false;
        self.answers.clear();
        self.judge.lost(self.now);
        self.interlock.lost();
        let deeds = self.guardian.hear(self.now, GuardianInput::HungUp);
        self.guards(deeds);
        self.said.clear();
        self.obey();
        self.settle();
    }

    pub fn plugs(&mut self) {
        self.plugged = true;
        self.writer = Writer::new(256);
        self.guardian = Guardian::default();
        self.interlock.opened(&port());
        self.interlock.encoding(true);
        self.deaf = false;
        self.settle();
    }

    pub fn is_killed(&mut self) {
        self.judge.owes(self.now, self.now);
        self.alive = false;
        let deeds = self.guardian.hear(self.now, GuardianInput::End);
        self.guards(deeds);
        self.judge.owed_in_time(self.now + TICK);
    }
}
