//! What the core shows and asks, as values: a screen renders them, a scripted operator reads them.
//!
//! Must not be here: layout, colour, terminals.

use crate::language::finding::Finding;
use crate::language::layout::Place;
use crate::language::recipe::{File, Stick, Switch};
use crate::language::units::Pulse;
use crate::plan::step::Plan;
use crate::seam::page::Page;
use crate::seam::strip::Strip;
use std::rc::Rc;
use std::time::Duration;

pub use super::question::{
    About, BoardChange, Declined, MotorStep, MotorTest, Motors, OVERTIME, Question, Reply, Rewire, StartedBy, Turned,
};

/// The large words when the outputs were not seen at rest.
pub const PULL_THE_BATTERY: &str = "SWITCH OFF. PULL THE BATTERY. Keep hands clear of the motors.";
/// And where USB may feed motors.
pub const PULL_THE_USB_CABLE: &str = "PULL THE USB CABLE AS WELL: it may feed the motors of this board.";
/// How a craft is held, seen from behind it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stands {
    /// Level, and left alone.
    Level,
    /// The nose down.
    NoseDown,
    /// The right side down.
    RightDown,
    /// Level, and turned clockwise seen from above.
    TurnedClockwise,
}

/// What the operator is asked to do with hands, not with the keyboard.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Gesture {
    /// Put a switch into a position and leave it there.
    SwitchTo {
        /// Which.
        switch: Switch,
        /// Where.
        position: u32,
    },
    /// Hands off everything.
    HandsOff,
    /// Work a switch through all its positions, twice, beginning and ending in position 0.
    WorkSwitch(Switch),
    /// All switches to position 0, or to their last.
    AllSwitches {
        /// To their last position.
        last: bool,
    },
    /// Radio off or on.
    Radio {
        /// On.
        on: bool,
    },
    /// Battery in or out.
    Battery {
        /// In.
        inside: bool,
    },
    /// Put the craft level; which way it leans now, in degrees (roll right, pitch nose up).
    Level {
        /// Roll in thousandths of a degree.
        roll: i32,
        /// Pitch in thousandths of a degree.
        pitch: i32,
    },
    /// Throttle stick down.
    ThrottleDown,
    /// Throttle stick up a little (with the craft disarmed and the battery out).
    ThrottleUp,
    /// Hold a stick right over: right or up where `high`, else left or down.
    HoldStick {
        /// Which.
        stick: Stick,
        /// Right or up.
        high: bool,
    },
    /// Let all sticks go: the throttle right down.
    LetGo,
    /// Hold the craft so by hand, its battery out.
    HoldCraft(Stands),
    /// Move the roll stick left and right.
    WiggleRoll,
    /// Tilt the craft by hand, then put it back.
    TiltCraft,
    /// Pull the USB cable out.
    PullCable,
}

/// How a line is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// What happens.
    Plain,
    /// It is as it should be.
    Good,
    /// Mind this.
    Warning,
    /// Measured by a signal.
    Measured,
    /// Said by the operator.
    Attested,
}

/// What becomes of a stop as it begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Delivery {
    /// It leaves.
    Sent,
    /// The board's sheet gives none.
    NoStop,
    /// Not by this program, and not now: it is not sure who would hear it.
    Unsure,
    /// Whoever is there was not seen at rest since it was met, and may be flying.
    NeverAtRest,
    /// There is no wire, or the craft that was met has long been silent.
    Unreached,
}

impl Delivery {
    /// In words.
    #[must_use]
    pub const fn told(self) -> &'static str {
        match self {
            Self::Sent => "sent to the board",
            Self::NoStop => "not sent, since the sheet of this board gives no stop",
            Self::Unsure => "not sent by this program, since it is not sure who would hear it",
            Self::NeverAtRest => "not sent, since this craft was not seen at rest and may be flying",
            Self::Unreached => "cannot reach the board",
        }
    }
}

/// How something is told on a screen on which lines can be drawn again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Placement {
    /// As a line that stays.
    Printed,
    /// In one place, until something else comes: it says again what was printed before.
    InPlace,
}

impl Placement {
    /// The first of several that are alike is printed.
    #[must_use]
    pub const fn first(number: u32) -> Self {
        if number == 1 { Self::Printed } else { Self::InPlace }
    }
}

/// One start in an idle search, for one motor.
#[derive(Debug, Clone, PartialEq)]
pub struct MotorSeen {
    /// Corner.
    pub corner: String,
    /// Median speed in rpm over the dwell, if measured.
    pub rpm: Option<f64>,
    /// Coefficient of variation of the speed, if measured.
    pub unevenness: Option<f64>,
    /// How it was judged: turns, hesitates, still, no signal.
    pub judged: String,
    /// Whether it counts as turning.
    pub turns: bool,
    /// Whether the link showed that it caught at once.
    pub at_once: bool,
    /// Its speeds in rpm as the dwell went, if measured.
    pub trace: Vec<f64>,
}

/// One start in an idle search.
#[derive(Debug, Clone, PartialEq)]
pub struct StartSeen {
    /// Idle on the board.
    pub pulse: Pulse,
    /// Which start of this value, from 1.
    pub start: u32,
    /// The highest pulse that a motor was driven at, as a stabiliser adds to some; `None`: no outputs are told.
    pub driven: Option<Pulse>,
    /// By corner.
    pub motors: Vec<MotorSeen>,
}

impl StartSeen {
    /// Whether a motor's turning is what the operator said, as no speed of it is told.
    #[must_use]
    pub fn is_told(&self) -> bool {
        self.motors.iter().any(|motor| motor.rpm.is_none())
    }

    /// Whether a motor turned without the link showing that it caught at once.
    #[must_use]
    pub fn is_unseen(&self) -> bool {
        self.motors.iter().any(|motor| motor.turns && !motor.at_once)
    }
}

/// Starts of another craft, to be seen beside those of this one.
#[derive(Debug, Clone, PartialEq)]
pub struct Beside {
    /// What it is called.
    pub craft: String,
    /// Its starts.
    pub starts: Vec<StartSeen>,
}

/// What an idle search found.
#[derive(Debug, Clone, PartialEq)]
pub struct IdleFound {
    /// Every start in order.
    pub starts: Vec<StartSeen>,
    /// Lowest value at which every motor started every time.
    pub lowest: Option<Pulse>,
    /// Added.
    pub margin: Pulse,
    /// What stays on the board.
    pub kept: Pulse,
    /// Starts that prove the lowest value.
    pub proved_starts: u32,
    /// How long each of them was.
    pub dwell: Duration,
    /// The highest pulse that a motor was driven at in them: what they prove is proved there. `None`: no outputs are told.
    pub driven: Option<Pulse>,
    /// How many values the search could have tried.
    pub among: u32,
    /// Pack voltage in volts at the last start, if measured.
    pub volts: Option<f64>,
    /// The operator chose `lowest`: values below it may start every motor as well.
    pub chosen: bool,
}

/// A motor as it was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PropSeen {
    /// Where it sits.
    pub place: Place,
    /// The board's number of it, from 1.
    pub motor: usize,
    /// Whether it turns clockwise, seen from above.
    pub clockwise: bool,
    /// Whether both are as they should be.
    pub right: bool,
}

/// A stick as it was held over to its ends and let go.
#[derive(Debug, Clone, PartialEq)]
pub struct StickSeen {
    /// Which.
    pub stick: Stick,
    /// Its channel.
    pub channel: u32,
    /// Pulses of that channel all the while, µs.
    pub pulses: Vec<f64>,
}

/// One fact of several.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fact {
    /// What it is a fact of.
    pub name: String,
    /// The fact.
    pub value: String,
    /// Whether it is to be minded.
    pub mind: bool,
}

impl Fact {
    /// A plain fact.
    pub fn new(name: impl Into<String>, value: impl Into<String>) -> Self {
        Self { name: name.into(), value: value.into(), mind: false }
    }

    /// One that is to be minded.
    pub fn minded(name: impl Into<String>, value: impl Into<String>) -> Self {
        Self { mind: true, ..Self::new(name, value) }
    }
}

/// Shown to the operator.
#[derive(Debug, Clone)]
pub enum UiEvent {
    /// The cautions of the start, one line each.
    Cautions,
    /// The cautions whole, as they were asked for, and below them the plan of what is under way.
    CautionsWhole(Option<Rc<Plan>>),
    /// Which board this is.
    Board {
        /// Kind of board, as it says itself.
        board: String,
        /// Port.
        port: String,
        /// Id.
        id: String,
        /// Firmware.
        firmware: String,
        /// Virtual.
        is_virtual: bool,
        /// Settings read.
        settings: usize,
    },
    /// The plan before it runs.
    Plan(Rc<Plan>),
    /// A step begins.
    StepBegins {
        /// Number from 1.
        number: usize,
        /// Of how many.
        of: usize,
        /// In words.
        title: String,
        /// Whether it can turn motors.
        turns_motors: bool,
    },
    /// A line.
    Line(Tone, String),
    /// A line for the record, told in place: what it says stands on the screen already, or will in a moment.
    Noted(Tone, String),
    /// The board's own words, untrusted, each with how often it said them since the last time.
    BoardSays(Vec<(String, u32)>),
    /// Something to do by hand now: the sentence, and how long it may take.
    Invite(Gesture, String, Duration, Placement),
    /// What is going on under whatever is asked, in place of what stood there; `None`: nothing is.
    Strip(Option<Strip>),
    /// A passing state that replaces the one before, such as a live value.
    Passing(String),
    /// One start of an idle search.
    Start(StartSeen),
    /// Every start of an idle stepped by hand so far, as a table that stays in sight while it grows.
    IdleTable(Vec<StartSeen>, Option<Beside>),
    /// That table grows no more.
    IdleTableEnds,
    /// An idle search's result: table and plot.
    Idle(IdleFound),
    /// The motors as they were found, from above.
    PropMap(Vec<PropSeen>),
    /// The sticks as they moved.
    Sticks(Vec<StickSeen>),
    /// What is wrong with a statement, with the text that it stands in.
    Findings(Vec<File>, Vec<Finding>),
    /// Facts under a heading, looked up because they were asked for.
    Facts {
        /// Above them.
        title: String,
        /// In order.
        facts: Vec<Fact>,
    },
    /// A plan in full, of which nothing is carried out.
    DryRun(Rc<Plan>),
    /// A text as it would be written to a file, line by line.
    Text(String),
    /// A stop began.
    StopBegins {
        /// Why.
        reason: String,
        /// Whether it leaves.
        delivery: Delivery,
    },
    /// The cable is out, as it was to be: the motor has to stand after so long.
    CableOut(Duration),
    /// The outputs were not seen at rest: the large words.
    PullTheBattery,
    /// And what else may feed a motor.
    PullTheUsbCable,
    /// Motors seen at rest after a stop.
    StopConfirmed,
    /// The live page, in place of the one before it.
    Page(Box<Page>),
    /// The live page is left.
    PageEnds,
    /// The closing words of a run.
    Closing {
        /// Finished as asked.
        finished: bool,
        /// Sentences.
        lines: Vec<String>,
    },
}
