//! An interlock fed by hand: a craft on a wire, what it says at each moment, and how it came to a phase.
//!
//! Must not be here: what has to hold.

use quadjig::board::binding::BoundNow;
use quadjig::board::shipped;
use quadjig::board::signals::{Identity, LinkEvent, Outgoing};
use quadjig::board::value::{Number, SettingName};
use quadjig::interlock::craft::Facts;
use quadjig::interlock::{
    Answer, Breaks, ChangeStep, Clearance, Confirmed, Interlock, Order, Phase, Prompt, Stillness, TypedWord,
};
use quadjig::language::recipe::Switch;
use quadjig::language::units::{Current, Pulse};
use quadjig::measure::time::Time;
use quadjig::plan::step::Guard;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, BoardChange, MotorStep, Motors, Question, Reply, StartedBy, UiEvent};
use quadjig::seam::{Key, PortInfo};
use std::rc::Rc;
use std::time::Duration;

/// When the craft has been at rest for 4 s, and a step may begin.
pub const START: Time = Time(100_000_000);
/// How long it was there before.
const BEFORE: Duration = Duration::from_secs(4);
/// The id of the craft.
pub const ID: &str = "766972740000002a";

/// What is on the wire at a moment.
#[derive(Debug, Clone, Copy)]
pub struct Signals {
    pub armed: bool,
    pub outputs: [u16; 8],
    pub throttle: u16,
    pub switch: u16,
    pub count: u8,
    pub roll: f64,
    pub pitch: f64,
    pub millivolts: Option<u16>,
    pub centiamps: Option<i16>,
}

pub const IDLING: Signals = Signals {
    armed: true,
    outputs: [1150, 1150, 1150, 1150, 0, 0, 0, 0],
    throttle: 988,
    switch: 2000,
    count: 8,
    roll: 0.3,
    pitch: -0.2,
    millivolts: Some(7900),
    centiamps: Some(200),
};
pub const RESTING: Signals =
    Signals { armed: false, outputs: [1000, 1000, 1000, 1000, 0, 0, 0, 0], switch: 1000, ..IDLING };
/// On USB alone.
pub const UNPLUGGED: Signals = Signals { millivolts: Some(0), centiamps: Some(0), ..RESTING };
/// Of a board without a voltage sensor.
pub const UNTOLD: Signals = Signals { millivolts: None, centiamps: None, ..RESTING };

pub fn facts() -> Facts {
    Facts {
        craft: "Wren 95".to_owned(),
        is_virtual: true,
        corners: ["front left", "front right", "rear right", "rear left"].map(str::to_owned).to_vec(),
        throttle_channel: Some(3),
        roll_channel: Some(1),
        throttle_below: Pulse(1050),
        sounding_bands: Vec::new(),
        arm_bands: vec![BoundNow { channel: 6, from: Pulse(1750), to: Pulse(2100) }],
        sticks_arm: false,
        most_current: Some(Current(6000)),
        speeds: true,
        kv: Some(11_500),
        arms_on_usb: true,
        usb_feeds_motors: false,
        usb_feeds_receiver: true,
        cells: 2,
        idle: Some(Pulse(1150)),
        motor_run: Some(Duration::from_secs(3)),
    }
}

pub fn heard(signals: Signals) -> [LinkEvent; 5] {
    let mut pulses = [None; 18];
    pulses[2] = Some(signals.throttle);
    pulses[5] = Some(signals.switch);
    [
        LinkEvent::Alive { vehicle: 1, armed: signals.armed },
        LinkEvent::Channels { count: signals.count, pulses, board_time: None },
        LinkEvent::Outputs { pulses: signals.outputs, board_time: None },
        #[expect(clippy::cast_possible_truncation, reason = "an angle")]
        LinkEvent::Attitude {
            roll: signals.roll.to_radians() as f32,
            pitch: signals.pitch.to_radians() as f32,
            yaw: 0.0,
            board_time: None,
        },
        LinkEvent::Power { millivolts: signals.millivolts, centiamps: signals.centiamps, receiver: Some(true) },
    ]
}

pub fn step(motors: Motors) -> MotorStep {
    let by = match &motors {
        Motors::One(..) => StartedBy::Command,
        _ => StartedBy::Switch { switch: Switch("B".to_owned()), on: 2, off: 0 },
    };
    MotorStep {
        purpose: "a test".to_owned(),
        pulse: Pulse(1150),
        longest: Duration::from_secs(2),
        motors,
        on_usb: false,
        starts: 1,
        by,
        look_at: "the motors".to_owned(),
        test: None,
        change: BoardChange::default(),
    }
}

/// One motor by command.
pub fn one_motor() -> MotorStep {
    step(Motors::One("front right".to_owned(), 1))
}

/// A change of the idle that is kept over a restart.
pub fn idle_kept() -> BoardChange {
    let writes = vec![(SettingName::new("IDLE_US").unwrap(), Number::Whole(1120))];
    BoardChange { writes, store: true, restart: true }
}

/// The question of a change with the battery in.
pub fn of_change(change: BoardChange) -> MotorStep {
    MotorStep { by: StartedBy::Change { word: "write".to_owned() }, change, ..step(Motors::None) }
}

/// The answer to the question of a step, typed then.
pub fn confirmed(step: &MotorStep, at: Time) -> Confirmed {
    Confirmed::of(typed(About::Motor(step.clone()), &step.word(), at)).unwrap()
}

/// What a craft is said to be, typed then to its question.
pub fn said_of(about: About, at: Time) -> TypedWord {
    let word = match &about {
        About::Props => "props off",
        About::Antenna => "antenna on",
        About::BatteryOut => "battery out",
        About::BatteryIn => "battery in",
        About::Heat => "cool",
        other => panic!("{other:?} attests nothing"),
    };
    typed(about, word, at)
}

/// A word that was asked for, typed as a hand does it, with its last key then.
pub fn typed(about: About, word: &str, at: Time) -> TypedWord {
    let question = Question {
        about,
        craft: String::new(),
        is_virtual: true,
        title: String::new(),
        lines: vec![],
        reply: Reply::Word(word.to_owned()),
        before: None,
    };
    let mut prompt = Prompt::open(question, at - Duration::from_secs(5));
    for (c, before) in word.chars().zip((1..=u32::try_from(word.chars().count()).unwrap()).rev()) {
        assert_eq!(prompt.key(at - Duration::from_millis(50) * before, Key::Char(c)), None);
    }
    match prompt.key(at, Key::Enter) {
        Some(Answer::Typed(typed)) => typed,
        other => panic!("{other:?}"),
    }
}

pub fn identity(id: &str) -> Identity {
    Identity { id: id.to_owned(), firmware: "2.4.1".to_owned(), kind: "Finch".to_owned(), name: None }
}

/// An adapter's port, on which another craft could answer.
pub fn adapter() -> PortInfo {
    PortInfo { name: "/dev/ttyUSB0".to_owned(), usb: Some((0x1209, 0x0001)), ..PortInfo::default() }
}

/// The board's own USB.
pub fn own_usb() -> PortInfo {
    PortInfo { name: "/dev/ttyACM0".to_owned(), ..adapter() }
}

/// See the module.
pub struct Room {
    pub interlock: Interlock,
    /// Held as long as the start is.
    pub clearance: Option<Clearance>,
    /// Held as long as the change is.
    pub stillness: Option<Stillness>,
    pub now: Time,
    /// The moment after the last start was entered, or when a step may begin.
    entered: Time,
}

impl Room {
    /// A wire that is open, and on which nobody was heard.
    pub fn open(port: &PortInfo) -> Self {
        let mut interlock = Interlock::default();
        let now = START - BEFORE;
        interlock.wakes(now, now);
        interlock.opened(port);
        Self { interlock, clearance: None, stillness: None, now, entered: START }
    }

    /// Whoever is on the wire is asked, and gives this id.
    pub fn types(&mut self, about: About) {
        let typed = said_of(about, self.now);
        self.interlock.attest(typed);
    }

    /// Answers who it is.
    pub fn answers(&mut self, id: &str) {
        self.interlock.asks(&Outgoing::Identify);
        self.interlock.hear(&LinkEvent::Identity(identity(id)));
    }

    /// A craft with this id that was met and taken in, and of which nothing was heard yet.
    pub fn known(port: &PortInfo, id: &str) -> Self {
        let mut room = Self::open(port);
        room.answers(id);
        room.interlock.encoding(true);
        let sheet = shipped::sheet("finch").unwrap().unwrap();
        room.interlock.take_in(&identity(id), &Rc::new(sheet), facts());
        room.types(About::Props);
        room
    }

    /// The same, and seen at rest: it says this until now.
    pub fn at_rest(port: &PortInfo, id: &str, signals: Signals) -> Self {
        let mut room = Self::known(port, id);
        for back in (1..200).rev() {
            assert_eq!(room.hears(START - Duration::from_millis(back * 20), &heard(signals)), Ok(()));
        }
        room.interlock.may_work().unwrap();
        room
    }

    pub fn met() -> Self {
        Self::at_rest(&PortInfo::default(), ID, RESTING)
    }

    /// The battery was measured in, and then out.
    pub fn unplugged() -> Self {
        let mut room = Self::met();
        assert_eq!(room.judged(UNPLUGGED, 0, 2000), Ok(()));
        room.types(About::Props);
        room
    }

    pub fn turning(step: &MotorStep, breaks: Breaks) -> Self {
        let mut room = Self::met();
        room.starts(step, breaks);
        room
    }

    /// A craft that was armed by its switch and came to rest by a disarm, the switch still on.
    pub fn obeys_a_disarm() -> Self {
        let room = Self::disarmed(true, true);
        assert!(room.interlock.obeys_disarm());
        room
    }

    /// A craft that was armed by its switch and came to rest as a disarm left; whether the switch was on just before and
    /// after it.
    pub fn disarmed(before: bool, after: bool) -> Self {
        let switch = |on: bool| if on { IDLING.switch } else { RESTING.switch };
        let mut room = Self::turning(&step(Motors::All), Breaks::default());
        room.says(IDLING, 500).unwrap();
        room.says(Signals { switch: switch(before), ..IDLING }, 40).unwrap();
        room.interlock.asks(&Outgoing::Disarm { force: false });
        room.says(Signals { switch: switch(after), ..RESTING }, 2500).unwrap();
        room.says(RESTING, 1500).unwrap();
        room.interlock.start_ends().unwrap();
        room.clearance = None;
        room.answers(ID);
        room
    }

    /// A start that was confirmed is invited; by command it begins.
    pub fn starts(&mut self, step: &MotorStep, breaks: Breaks) {
        self.entered = self.now + Duration::from_millis(20);
        let mut clearance = self.interlock.enter_drive(&mut confirmed(step, self.now), &[], breaks).unwrap();
        if matches!(step.by, StartedBy::Command) {
            self.interlock.runs_motor(&mut clearance, Duration::from_secs(2));
        }
        self.clearance = Some(clearance);
    }

    /// Passes the door of a change that writes the idle, stores and restarts.
    pub fn changes(&mut self, guards: &[Guard]) -> Result<(), Fault> {
        let change = ChangeStep { guards, change: idle_kept(), turns_motors: false };
        self.stillness = Some(self.interlock.enter_change(change, None)?);
        Ok(())
    }

    pub fn stores(&mut self) {
        self.changes(&[]).unwrap();
        self.interlock.store_begins(self.stillness.as_ref().unwrap()).unwrap();
    }

    pub fn restarts(&mut self) {
        self.changes(&[]).unwrap();
        self.interlock.restart_begins(self.stillness.as_ref().unwrap(), &identity(ID)).unwrap();
    }

    /// The wire goes and comes, and whoever is on it gives this id.
    pub fn replugged(&mut self, port: &PortInfo, id: &str) {
        self.interlock.lost();
        self.interlock.opened(port);
        self.answers(id);
    }

    /// The wire goes and comes, and nobody has answered yet.
    pub fn replugged_unheard(&mut self) {
        self.interlock.lost();
        self.interlock.opened(&PortInfo::default());
    }

    /// Time passes, and nothing is heard.
    pub fn silent(&mut self, for_ms: u64) -> Result<(), String> {
        let until = self.now + Duration::from_millis(for_ms);
        let mut verdict = Ok(());
        while self.now < until {
            let next = (self.now + Duration::from_millis(20)).min(until);
            verdict = verdict.and(self.hears(next, &[]));
        }
        verdict
    }

    /// Hears this for so long, and who it is once more every second; the first reason of a stop.
    pub fn says(&mut self, signals: Signals, for_ms: u64) -> Result<(), String> {
        let (from, mut verdict) = (self.now, Ok(()));
        for ms in (20..=for_ms).step_by(20) {
            verdict = verdict.and(self.hears(from + Duration::from_millis(ms), &heard(signals)));
        }
        verdict
    }

    /// Hears these at a moment and judges; the reason of a stop.
    pub fn hears(&mut self, now: Time, heard: &[LinkEvent]) -> Result<(), String> {
        self.now = now;
        self.interlock.wakes(now, now);
        for event in heard {
            self.interlock.hear(event);
        }
        self.interlock.judge();
        let stopped = self.interlock.orders().into_iter().find_map(|order| match order {
            Order::Say(UiEvent::StopBegins { reason, .. }) => Some(reason),
            _ => None,
        });
        stopped.map_or(Ok(()), Err)
    }

    /// Judges every 20 ms while these signals come, from one time to another after the entry; the first verdict.
    pub fn judged(&mut self, signals: Signals, from_ms: u64, to_ms: u64) -> Result<(), String> {
        let entered = self.entered;
        (from_ms..to_ms).step_by(20).try_for_each(|ms| self.hears(entered + Duration::from_millis(ms), &heard(signals)))
    }

    /// Brought to a phase by what brings a session there.
    pub fn in_phase(phase: Phase) -> Self {
        let mut room = match phase {
            Phase::NoContact => Self::open(&PortInfo::default()),
            Phase::Looking => Self::known(&PortInfo::default(), ID),
            Phase::SwitchesWorked => Self::unplugged(),
            _ => Self::met(),
        };
        match phase {
            Phase::NoContact | Phase::Looking | Phase::Still => {}
            Phase::SwitchesWorked => room.interlock.enter_switches(&[], None).unwrap(),
            Phase::Storing => room.stores(),
            Phase::Restarting => room.restarts(),
            Phase::Invited => room.starts(&step(Motors::All), Breaks::default()),
            Phase::Turning => room.starts(&one_motor(), Breaks::default()),
            Phase::Stopping => room.interlock.stop("a test"),
            Phase::Latched => room.interlock.latch(),
        }
        assert_eq!(room.interlock.phase(), phase);
        room
    }
}
