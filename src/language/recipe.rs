//! The typed recipe: what stands after reading, before any board is known.
//!
//! Promises: every quantity has its type, every `given` is filled in or the statement is
//! [`What::Waiting`], `use` lines are replaced by the statements of their files, and every
//! statement keeps its place. Must not be here: checks (see `checks`), boards, plans.

use super::span::{FileId, Place, Span, Spanned};
use super::units::{Angle, Decimal, Frequency, Percent, Pulse, Quantity, Voltage};
use std::sync::Arc;
use std::time::Duration;

/// One file of a recipe with its text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct File {
    /// Name as a person would write it.
    pub name: String,
    /// Its text.
    pub text: Arc<str>,
}

/// A whole recipe, `use` lines replaced by what they use.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recipe {
    /// The files, the named recipe first.
    pub files: Vec<File>,
    /// Title of the named recipe.
    pub title: Spanned<String>,
    /// What craft it is for.
    pub craft: Spanned<Craft>,
    /// Sheets it was written for, by board name; intersected over used files.
    pub boards: Vec<Spanned<String>>,
    /// Firmware versions allowed; empty: any.
    pub firmware: Vec<Spanned<Firmware>>,
    /// Parameters, with the value that stands.
    pub givens: Vec<Given>,
    /// The statements in order. The implied `keep` at the end is not among them.
    pub statements: Vec<Statement>,
}

impl Recipe {
    /// Turns a span into file, line and column.
    #[must_use]
    pub fn place(&self, span: &Span) -> Place {
        let FileId(index) = span.file;
        let file = &self.files[index];
        let (line, column) = line_column(&file.text, span.range.start);
        let (end_line, end_column) = line_column(&file.text, span.range.end);
        Place { file: file.name.clone(), line, column, end_line, end_column }
    }
}

/// Line and column from 1 of a byte offset; columns count characters.
#[must_use]
pub fn line_column(text: &str, offset: usize) -> (usize, usize) {
    let before = &text[..offset.min(text.len())];
    let start = before.rfind('\n').map_or(0, |at| at + 1);
    (before.matches('\n').count() + 1, before[start..].chars().count() + 1)
}

/// One statement of a recipe.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Statement {
    /// What it says.
    pub what: What,
    /// From its first to its last character, comments left out.
    pub span: Span,
    /// Places of the parts that findings point at, such as the pulse of an idle or a position.
    pub parts: Vec<(Part, Span)>,
}

impl Statement {
    /// The place of a part, or of the whole statement where it was not written.
    #[must_use]
    pub fn part(&self, part: Part) -> &Span {
        self.parts.iter().find(|(p, _)| *p == part).map_or(&self.span, |(_, span)| span)
    }
}

/// Names for the parts of a statement that a finding can point at.
///
/// Each is the place of the value, its keywords left out. A list (`Positions`, `Rests`) has the place of the
/// whole list first, then one for each item in the order written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[expect(missing_docs, reason = "each names the clause it stands for")]
pub enum Part {
    Subject,
    Switch,
    Positions,
    Function,
    Value,
    Start,
    Step,
    Limit,
    Dwell,
    Starts,
    Margin,
    Rate,
    Channel,
    Rests,
    Within,
    Warn,
    Land,
    Cells,
    Loss,
}

/// The frame and which way its motors turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Craft {
    /// Layout of the motors.
    pub frame: Frame,
    /// Which way the motors turn, seen from above at the front; `None`: the sheet's.
    pub turning: Option<Turning>,
}

/// Layouts of motors. The procedures serve quads first; others are read and checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names are the trade's")]
pub enum Frame {
    QuadX,
    QuadPlus,
    Tri,
    HexX,
    OctoX,
}

impl Frame {
    /// How many motors.
    #[must_use]
    pub fn motors(self) -> usize {
        match self {
            Self::Tri => 3,
            Self::QuadX | Self::QuadPlus => 4,
            Self::HexX => 6,
            Self::OctoX => 8,
        }
    }
}

/// Whether the front propellers sweep towards the nose (inward) or away from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "said above")]
pub enum Turning {
    Inward,
    Outward,
}

/// A firmware version of two or three numbers; two match every third.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Firmware(pub String);

/// A parameter of a recipe.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Given {
    /// Its name.
    pub name: Spanned<String>,
    /// What stands for it: from `--with`, a `use … with`, or the default.
    pub value: Option<Quantity>,
    /// Least and most allowed.
    pub range: Option<(Quantity, Quantity)>,
    /// The recipe's description of it.
    pub about: Option<String>,
    /// Every place where its name stands for a value; none: it is never used.
    pub uses: Vec<Span>,
}

/// The four sticks' functions.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[expect(missing_docs, reason = "the names are the trade's")]
pub enum Stick {
    Roll,
    Pitch,
    Throttle,
    Yaw,
}

/// A function's name as a recipe writes it, such as `arm`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Function(pub String);

impl Function {
    /// Whether this is `arm`, which exists on every board.
    #[must_use]
    pub fn is_arm(&self) -> bool {
        self.0 == "arm"
    }
}

/// A switch's name, case kept.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Switch(pub String);

/// What a setting is called in a recipe.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Setting {
    /// A word of the vocabulary, such as `loop-rate`. Whether it exists is checked with the vocabulary.
    Word(String),
    /// The board's own name, from quotes.
    Raw(String),
}

/// A value for `set` and `expect`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Value {
    /// A bare number.
    Number(Decimal),
    /// A number with a unit.
    Quantity(Quantity),
    /// A word, such as `spin` or `dshot300`.
    Word(String),
}

/// What a channel does when the link is lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum OnLoss {
    /// Goes to this pulse.
    Rests(Pulse),
    /// Stays where it was: counts as everywhere.
    Holds,
    /// The board is told, the value counts as nowhere.
    Flagged,
}

/// The motor signals of the language.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[expect(missing_docs, reason = "the names are the trade's")]
pub enum Signal {
    Pwm,
    Oneshot125,
    Dshot150,
    Dshot300,
    Dshot600,
}

impl Signal {
    /// As a recipe writes it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Pwm => "pwm",
            Self::Oneshot125 => "oneshot125",
            Self::Dshot150 => "dshot150",
            Self::Dshot300 => "dshot300",
            Self::Dshot600 => "dshot600",
        }
    }
}

/// What motors do at zero throttle while armed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the words are the language's")]
pub enum ZeroThrottle {
    Spin,
    Rest,
}

/// Battery chemistry, which sets what full means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names are the trade's")]
pub enum Chemistry {
    Lipo,
    Lihv,
}

/// An idle: a pulse width, or a share where the board counts so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Idle {
    /// A pulse width.
    Pulse(Pulse),
    /// A share of the range from 1000 to 2000 µs.
    Percent(Percent),
}

/// The idle search as written; what was left out is `None` and filled by [`IdleSearch::at_most`] and its kin.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IdleSearch {
    /// First value tried.
    pub start: Pulse,
    /// Added after each failed value.
    pub step: Pulse,
    /// Whether it ends with `until all spin`; without, it is stepped by hand at the bench prompt only.
    pub until_all_spin: bool,
    /// The highest value that may stay on the board, margin included.
    pub at_most: Option<Pulse>,
    /// How long each start turns.
    pub dwell: Option<Duration>,
    /// How many starts prove a value.
    pub starts: Option<u32>,
    /// The margin added at the end.
    pub then_add: Option<Pulse>,
}

/// A condition that must hold before anything goes on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Require {
    /// Propellers taken off: attested, once a craft and session.
    PropsOff,
    /// Video antenna fitted: attested.
    AntennaOn,
    /// Pack out (false) or in (true): measured where a sensor was seen working.
    Battery {
        /// In or out.
        inside: bool,
    },
    /// Pack voltage for each cell at least this.
    BatteryAtLeast(Voltage),
    /// Throttle stick down.
    ThrottleLow,
    /// The board says that it is not armed.
    Disarmed,
    /// Roll and pitch within this of zero.
    Level(Angle),
    /// A switch stands in a position.
    SwitchPosition {
        /// Which switch.
        switch: Switch,
        /// Position from 0.
        position: u32,
    },
    /// The recipe's own question, answered by the operator.
    Attest(String),
}

/// Everything a statement can say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// `require …`
    Require(Require),
    /// `expect SETTING is VALUE`
    Expect {
        /// Which setting.
        setting: Setting,
        /// The value it must have.
        value: Value,
    },
    /// `receiver PROTOCOL on port N`
    Receiver {
        /// A word of the sheet.
        protocol: String,
        /// The board's port.
        port: u32,
    },
    /// `channels roll, pitch, throttle, yaw`
    Channels([Stick; 4]),
    /// `switch B on channel 6 rests at …`
    DeclareSwitch {
        /// Its name.
        switch: Switch,
        /// Channel from 1.
        channel: u32,
        /// Rest pulses by position.
        rests: Vec<Pulse>,
        /// What the channel does on link loss, if said.
        on_loss: Option<OnLoss>,
    },
    /// `find switch B …`
    FindSwitch {
        /// Its name.
        switch: Switch,
        /// How many positions it must have, if said.
        positions: Option<u32>,
        /// Replace what the radio card says.
        anew: bool,
    },
    /// `find sticks`
    FindSticks {
        /// Replace what the radio card says.
        anew: bool,
    },
    /// `find link loss`
    FindLinkLoss {
        /// Replace what the craft's record says.
        anew: bool,
    },
    /// `test sticks …`
    TestSticks {
        /// Where the sticks rest, and how close.
        centre: (Pulse, Pulse),
        /// Lower end, upper end, how close.
        ends: (Pulse, Pulse, Pulse),
    },
    /// `bind FUNCTION to switch S positions …`
    Bind {
        /// What.
        function: Function,
        /// On which switch.
        switch: Switch,
        /// On in exactly these positions, ascending.
        positions: Vec<u32>,
    },
    /// `unbind FUNCTION`
    Unbind(Function),
    /// `at zero throttle spin | rest`
    AtZeroThrottle(ZeroThrottle),
    /// `idle at …`
    IdleAt(Idle),
    /// `idle start at …`
    IdleSearch(IdleSearch),
    /// `test idle [in N starts]`
    TestIdle {
        /// How many starts; default 3.
        starts: Option<u32>,
    },
    /// `signal … [at RATE]`
    Signal {
        /// The motor signal.
        signal: Signal,
        /// The loop rate, if said.
        rate: Option<Frequency>,
    },
    /// `power cycle`
    PowerCycle,
    /// `test motors`
    TestMotors,
    /// `order motors`
    OrderMotors,
    /// `board turned 90 deg`
    BoardTurned(Angle),
    /// `test attitude`
    TestAttitude,
    /// `calibrate level`
    CalibrateLevel,
    /// `failsafe cut motors after …`
    Failsafe(Duration),
    /// `test arm`
    TestArm,
    /// `test cut [within …]`
    TestCut {
        /// Default 250 ms.
        within: Duration,
    },
    /// `test failsafe [within …]`
    TestFailsafe {
        /// Default 3 s.
        within: Duration,
    },
    /// `test buzzer`
    TestBuzzer,
    /// `battery 2 cells …`
    Battery {
        /// Cells in series.
        cells: u32,
        /// Chemistry; default lipo.
        chemistry: Chemistry,
        /// Warn at this, for each cell.
        warn: Voltage,
        /// Land at this, for each cell.
        land: Voltage,
    },
    /// `calibrate battery`
    CalibrateBattery,
    /// `set SETTING to VALUE`
    Set {
        /// Which setting.
        setting: Setting,
        /// Its new value.
        value: Value,
    },
    /// `keep`
    Keep,
    /// `pause "…"`
    Pause(String),
    /// `note "…"`
    Note(String),
    /// A statement that uses a `given` which has no value yet: read, not yet typed.
    Waiting {
        /// First words of the statement, such as `idle start`.
        form: &'static str,
        /// The parameters without a value.
        names: Vec<String>,
        /// The switch that it would declare or find.
        declares: Option<Switch>,
        /// Whether its form can turn a motor.
        turns_motors: bool,
    },
}
