//! What is asked, as values: motor steps, questions, and how they end.
//!
//! A question's words come from the very value that is executed. Must not be here: layout, keys.

use crate::board::craft_name::NotAName;
use crate::board::value::{Number, SettingName};
use crate::language::ceilings;
use crate::language::layout::Place;
use crate::language::recipe::Switch;
use crate::language::units::Pulse;
use std::time::Duration;

/// How much longer than its dwell an arming may last.
pub const OVERTIME: Duration = Duration::from_secs(2);

/// A motor step as it is confirmed and watched: the very value that is executed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MotorStep {
    /// What it is for, such as `idle search`.
    pub purpose: String,
    /// Highest pulse that any motor gets.
    pub pulse: Pulse,
    /// Longest time of one start.
    pub longest: Duration,
    /// Which motors turn: all, or one corner.
    pub motors: Motors,
    /// USB feeds the motors, or may: the battery plug alone stops none of them.
    pub on_usb: bool,
    /// How many starts this one answer allows.
    pub starts: u32,
    /// Who starts and stops it.
    pub by: StartedBy,
    /// What to look at meanwhile.
    pub look_at: String,
    /// What it tests, where more happens than that motors start: it is part of the word that is typed.
    pub test: Option<MotorTest>,
    /// What its answer lets be changed on the board, once.
    pub change: BoardChange,
}

/// A change of the board, the same value from its question to its frames: settings in their order, a store, a restart.
#[derive(Debug, Clone, Default)]
pub struct BoardChange {
    /// What is written, in this order.
    pub writes: Vec<(SettingName, Number)>,
    /// Whether it stores.
    pub store: bool,
    /// Whether it restarts the board.
    pub restart: bool,
}

impl BoardChange {
    /// Whether it changes nothing.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        self.writes.is_empty() && !self.store && !self.restart
    }

    /// Whether what it writes is anything else than what the other does.
    #[must_use]
    pub fn writes_others_than(&self, other: &Self) -> bool {
        let same = |one: &(SettingName, Number), two: &(SettingName, Number)| one.0 == two.0 && one.1.same(two.1);
        self.writes.len() != other.writes.len()
            || !self.writes.iter().zip(&other.writes).all(|(one, two)| same(one, two))
    }
}

impl PartialEq for BoardChange {
    fn eq(&self, other: &Self) -> bool {
        !self.writes_others_than(other) && (self.store, self.restart) == (other.store, other.restart)
    }
}

impl Eq for BoardChange {}

/// A test in which more happens than that motors start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MotorTest {
    /// Where the arm switch arms.
    Arm,
    /// That the switch cuts the motors.
    Cut,
    /// That they stop when the radio goes off.
    Failsafe,
    /// Whether USB alone turns them.
    Usb,
    /// Whether one that is run by command stops by itself.
    Silence,
    /// Whether it does so with its cable pulled out.
    Cable,
}

impl MotorTest {
    /// What is added to the word of its question.
    const fn word(self) -> &'static str {
        match self {
            Self::Arm => "arm",
            Self::Cut => "cut",
            Self::Failsafe => "radio off",
            Self::Usb => "usb",
            Self::Silence => "in silence",
            Self::Cable => "cable",
        }
    }
}

/// Which motors a step turns.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Motors {
    /// All of them.
    All,
    /// None is meant to turn, but they can (a plug-in, an arming at rest).
    None,
    /// One, by its corner, or by its number where nobody knows yet where it sits; its index from 0.
    One(String, usize),
}

/// Who starts a motor step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StartedBy {
    /// The operator's arm switch.
    Switch {
        /// Its name.
        switch: Switch,
        /// Position that arms.
        on: u32,
        /// Position that disarms.
        off: u32,
    },
    /// The operator's switch for the buzzer, which the motors sound: current goes through all of them, and none is to turn.
    Sound {
        /// Its name.
        switch: Switch,
        /// Position in which they sound.
        on: u32,
        /// Position in which they do not.
        off: u32,
    },
    /// A bounded command.
    Command,
    /// Nobody: a change of the board while its motors may have power, at which nothing should start.
    Change {
        /// What is done, as the word to type.
        word: String,
    },
    /// A switch that is worked for another purpose: it could arm a craft whose battery is out by a word alone.
    WorkedSwitch,
}

impl MotorStep {
    /// A change of the board while its motors may have power: none is meant to turn.
    #[must_use]
    pub fn of_change(purpose: String, pulse: Pulse, word: String, change: BoardChange) -> Self {
        Self {
            purpose,
            pulse,
            longest: Duration::ZERO,
            motors: Motors::None,
            on_usb: false,
            starts: 1,
            by: StartedBy::Change { word },
            look_at: "every motor: none may move.".to_owned(),
            test: None,
            change,
        }
    }

    /// The radio is switched off while it turns: the operator's switch does not stop it then.
    #[must_use]
    pub fn radio_off(&self) -> bool {
        self.test == Some(MotorTest::Failsafe)
    }

    /// The cable is pulled out while it turns: nothing that leaves stops it then.
    #[must_use]
    pub fn cable_out(&self) -> bool {
        self.test == Some(MotorTest::Cable)
    }

    /// Whether it is the run of this one motor, from 1, at this pulse.
    #[must_use]
    pub fn runs(&self, motor: u8, pulse: u16) -> bool {
        let one = match self.motors {
            Motors::One(_, index) => index + 1 == usize::from(motor),
            Motors::All | Motors::None => false,
        };
        one && self.by == StartedBy::Command && i32::from(pulse) == self.pulse.0
    }

    /// The longest that one start may last, with the time that a hand takes to end it. Where nothing turns, no heat bounds
    /// it.
    #[must_use]
    pub fn bound(&self) -> Duration {
        let longest = self.longest + OVERTIME;
        if self.motors == Motors::None { longest } else { longest.min(ceilings::TURNING) }
    }

    /// The word that the operator types: it changes with what will happen.
    #[must_use]
    pub fn word(&self) -> String {
        match (&self.by, &self.motors) {
            (StartedBy::Change { word }, _) => word.clone(),
            (StartedBy::WorkedSwitch, _) => "switches".to_owned(),
            (StartedBy::Sound { .. }, _) => "sound".to_owned(),
            (_, motors) => {
                let what = match motors {
                    Motors::One(corner, _) => corner.clone(),
                    Motors::All | Motors::None => self.pulse.0.to_string(),
                };
                // What no other start does is part of its word.
                self.test.map_or(what.clone(), |test| format!("{what} {}", test.word()))
            }
        }
    }
}

/// A question to the operator.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// What it is about, for a scripted operator and for the screen's frame.
    pub about: About,
    /// The craft's name as shown on every prompt.
    pub craft: String,
    /// Whether the board is a virtual one: VIRTUAL stands on the prompt.
    pub is_virtual: bool,
    /// One short line.
    pub title: String,
    /// The facts, one a line.
    pub lines: Vec<String>,
    /// What answers it.
    pub reply: Reply,
    /// The motor step that was asked for before, where at most one thing of it has changed since.
    pub before: Option<Box<MotorStep>>,
}

/// What answers a question.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Reply {
    /// This word, typed and followed by Enter; anything else declines.
    Word(String),
    /// One of some single keys; only for harmless choices.
    Choice(Vec<(char, String)>),
    /// Enter goes on; used by `pause`, never before a motor can turn.
    Enter,
    /// What the craft is called, typed and followed by Enter.
    Name,
    /// A voltage, typed as a meter shows it and followed by Enter.
    Volts,
}

/// Why a question was not answered with yes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Declined {
    /// Another word.
    WrongWord(String),
    /// No name that a craft may have.
    NotAName(NotAName),
    /// No voltage that a pack may have.
    NotVolts(String),
    /// Enter with nothing before it.
    EnterAlone,
    /// The terminal is closed, or there is none.
    EndOfInput,
    /// Pasted, or typed faster than hands do.
    Pasted,
    /// Escape.
    Refused,
}

impl Declined {
    /// Whether it may have been meant otherwise, so that it is asked again.
    #[must_use]
    pub const fn is_a_slip(&self) -> bool {
        match self {
            Self::WrongWord(_) | Self::NotAName(_) | Self::NotVolts(_) | Self::EnterAlone | Self::Pasted => true,
            Self::EndOfInput | Self::Refused => false,
        }
    }
}

impl std::fmt::Display for Declined {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::WrongWord(word) => write!(f, "`{word}` is not the word asked for"),
            Self::NotAName(why) => write!(f, "{why}"),
            Self::NotVolts(typed) => write!(f, "`{typed}` is no voltage of a pack; type it such as 7.92"),
            Self::EnterAlone => f.write_str("Enter alone means no"),
            Self::EndOfInput => f.write_str("there is no terminal with a person at it to answer"),
            Self::Pasted => f.write_str("that was pasted, or came faster than a hand types; it has to be typed"),
            Self::Refused => f.write_str("declined"),
        }
    }
}

/// What a question is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum About {
    /// A motor step.
    Motor(MotorStep),
    /// Propellers off, one radio.
    Props,
    /// Video antenna fitted.
    Antenna,
    /// The recipe's own question.
    Attest(String),
    /// The recipe's pause.
    Pause(String),
    /// Did all motors run smoothly?
    Smooth {
        /// At this idle.
        pulse: Pulse,
    },
    /// Which motor turned, and which way?
    Turned(Turned),
    /// Which of these motors turned, of which no speed is told?
    Told(Vec<String>),
    /// Was this done by hand, with the battery out?
    Rewire(Vec<Rewire>),
    /// Was the buzzer heard?
    Buzzer,
    /// Which idle next, stepped by hand.
    Step,
    /// Is what a hand did not do tried again, or given up?
    Again,
    /// Is it cool enough to hold?
    Heat,
    /// The battery is out (no sensor was seen working).
    BatteryOut,
    /// Everything is off before a plug-in (its board is dark).
    PlugIn,
    /// The battery is in (nothing measures it).
    BatteryIn,
    /// What the craft is called (its board's id does not tell).
    Name,
    /// Whether the craft stands level.
    Level,
    /// What a multimeter shows of the pack.
    Meter,
    /// Any other harmless choice.
    Choice,
}

/// What is asked of a motor that turned by itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Turned {
    /// At which corner; the keys are digits, in this order.
    Corner(Vec<&'static str>),
    /// Which way, seen from above.
    Clock,
    /// Which way its outer edge moved: the keys are the first letters.
    Edge(Place),
}

/// Something to change at the wires of a motor, with the battery out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Rewire {
    /// A motor's plug goes onto another output, and the plug that was there takes its place.
    Plug {
        /// From 1.
        output: usize,
        /// Of the motor.
        corner: &'static str,
    },
    /// Two of a motor's three wires are swapped.
    SwapWires(&'static str),
}

impl std::fmt::Display for Rewire {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Plug { output, corner } => write!(
                f,
                "Plug the {corner} motor onto output {output}, and the motor that was there onto the place that this leaves."
            ),
            Self::SwapWires(corner) => {
                write!(f, "Swap any two of the {corner} motor's three wires, or reverse it in its speed controller.")
            }
        }
    }
}
