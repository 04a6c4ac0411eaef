//! The plan as a value: steps, each with the worst it can do and what guards it.
//!
//! A plan holds no handle to a board, so showing one can never write. Must not be here: how a plan
//! is made (`compile`), how one is run (`bench`).

pub use super::guard::Guard;
pub use super::motor_layout::{MotorsPlan, OrderPlan};
pub use super::remark::Remark;
pub use super::subject::{BoundFunction, IdlePlan, SticksAsked, SwitchAt};
use crate::board::effect::Effect;
use crate::board::sheet::Corner;
use crate::board::signals::Identity;
use crate::board::value::{Number, SettingName};
use crate::language::recipe::Switch;
use crate::language::span::Place;
use crate::language::units::{Angle, Pulse, Voltage};
use serde::Serialize;
use std::time::Duration;

/// A whole plan for one board.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// The recipe's title.
    pub title: String,
    /// Board name of the sheet.
    pub board: String,
    /// Who the board is.
    pub identity: Identity,
    /// Every step in order, numbered from 1.
    pub steps: Vec<Step>,
    /// What will have changed on the board at the end.
    pub changes: Vec<Change>,
    /// What will have changed to a value that only the bench can tell.
    pub unknown: Vec<Unknown>,
    /// Binds the plan to all it was made from.
    pub fingerprint: String,
    /// Remarks, such as a recipe that asks the battery out needlessly.
    pub remarks: Vec<Remark>,
}

impl Plan {
    /// Restarts of the board.
    #[must_use]
    pub fn restarts(&self) -> usize {
        self.steps.iter().filter(|step| matches!(step.act, Action::Restart { .. })).count()
    }

    /// How often the battery goes in.
    #[must_use]
    pub fn plug_ins(&self) -> usize {
        self.steps.iter().filter(|step| matches!(step.act, Action::BatteryIn)).count()
    }

    /// Most questions that the operator is asked: what is attested, found or confirmed. A search asks once a value,
    /// and once more whether all ran smoothly.
    #[must_use]
    pub fn questions(&self) -> usize {
        self.steps.iter().map(Step::questions).sum()
    }

    /// Satisfied: no step writes, stores or restarts.
    #[must_use]
    pub fn is_satisfied(&self) -> bool {
        self.steps.iter().all(|step| !step.act.changes_board())
    }
}

/// One step.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// From 1.
    pub number: usize,
    /// Index of the statement in the recipe; the implied last `keep` has the number of statements.
    pub statement: usize,
    /// What is done.
    pub act: Action,
    /// The worst that it can do.
    pub effect: Effect,
    /// What must hold, at its entry and while it lasts.
    pub guards: Vec<Guard>,
    /// Where the recipe asks for it.
    pub at: Place,
}

impl Step {
    /// Most questions that this step asks.
    #[must_use]
    pub fn questions(&self) -> usize {
        match &self.act {
            // Each value, whether all were smooth, and the idle that is kept with its margin.
            Action::IdleSearch(plan) => plan.values.len() + 2,
            // Each value once at least, the choice after it, the proof of the last, and the idle that is kept.
            Action::IdleByHand(plan) => 2 * plan.values.len() + 3,
            Action::ProveSignal { corners, .. } => corners.len(),
            Action::TestMotors(plan) => plan.questions(),
            // Its word, and whether it was heard, or a motor was seen to turn.
            Action::TestBuzzer { by_motors: true, .. } | Action::TryOnUsb { .. } => 2,
            // And what is put right by hand, and the propellers as the battery was out.
            Action::OrderMotors(plan) => plan.motors.questions() + 2,
            Action::BatteryIn | Action::CalibrateLevel { .. } | Action::CalibrateBattery { .. } => 1,
            _ if self.effect == Effect::Asks => 1,
            _ => usize::from(self.guards.contains(&Guard::Confirmed)),
        }
    }
}

/// One value that changes; numbers are the board's own.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Change {
    /// In vocabulary words, such as `idle` or `arm: channel`; the board's name where no word covers it.
    pub setting: String,
    /// The board's own name.
    pub on_board: SettingName,
    /// What it is now.
    pub from: Number,
    /// What it will be.
    pub to: Number,
    /// Unit of the numbers; empty for none.
    pub unit: String,
    /// What it is now, in the recipe's terms, such as `1050 us`.
    pub shown_from: String,
    /// What it will be, in the same.
    pub shown_to: String,
    /// Where the recipe asks for it.
    pub at: Place,
}

/// One value that only the bench can tell.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Unknown {
    /// In vocabulary words.
    pub setting: String,
    /// Least it can become.
    pub least: f64,
    /// Most it can become.
    pub most: f64,
    /// Unit; empty for none.
    pub unit: String,
    /// Where the recipe asks for it.
    pub at: Place,
}

/// One setting to write.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Write {
    /// In vocabulary words, for people.
    pub setting: String,
    /// The board's own name.
    #[serde(rename = "on_board")]
    pub name: SettingName,
    /// What it is to be.
    pub to: Number,
    /// The value in the recipe's terms.
    pub shown: String,
    /// Whether it takes a restart to be in force.
    #[serde(skip)]
    pub restart: bool,
    /// Whether it keeps its place in its batch; else it may be under way together with its like beside it.
    #[serde(skip)]
    pub ordered: bool,
}

/// What a step does.
#[derive(Debug, Clone, PartialEq)]
pub enum Action {
    /// `note`: the recipe's own words.
    Note(String),
    /// `pause`: the recipe's own words, then wait for the operator.
    Pause(String),
    /// Propellers off, and no other craft on this radio.
    AttestPropsOff,
    /// Video antenna fitted.
    AttestAntenna,
    /// The recipe's own question.
    Attest(String),
    /// Throttle low, measured.
    RequireThrottleLow,
    /// Not armed, measured.
    RequireDisarmed,
    /// Level, measured; waits while it is not.
    RequireLevel(Angle),
    /// Pack voltage, measured.
    RequireBatteryAtLeast {
        /// For each cell.
        per_cell: Voltage,
        /// Cells.
        cells: u32,
    },
    /// A switch in a position, measured.
    RequireSwitch {
        /// Which.
        switch: Switch,
        /// Where.
        position: u32,
        /// Its channel and rests; `None` until a find before it has run.
        at: Option<SwitchAt>,
    },
    /// A setting has a value, or the run stops.
    Expect {
        /// The board's own name.
        name: SettingName,
        /// The value.
        value: Number,
        /// In vocabulary words.
        setting: String,
        /// The value in the recipe's terms.
        shown: String,
    },
    /// The battery is in from here on: asked for unless it is measured in.
    BatteryIn,
    /// The battery is out from here on: asked for unless it is measured out.
    BatteryOut {
        /// It goes in again next: a board that it alone feeds may go dark with it.
        cycle: bool,
    },
    /// Settings written as one and read back. The order is the plan's and safe unless the step turns motors.
    /// A name may stand twice, where a band is closed first and opened last: its last value is read back.
    Write(Vec<Write>),
    /// What was written is stored.
    Store,
    /// The board restarts, comes back as the same board, and these are read back.
    Restart {
        /// What must be found after it.
        expect: Vec<Write>,
    },
    /// Find a switch, or confirm what the radio card says of it.
    FindSwitch {
        /// Which.
        switch: Switch,
        /// How many positions, if the recipe says.
        positions: Option<u32>,
        /// It springs back to position 0.
        momentary: bool,
        /// Whether the card knows it and a live reading will do.
        known: bool,
    },
    /// Find which channel each stick moves and which way, or confirm what the radio card says of them.
    FindSticks {
        /// Whether the card knows them and a live reading will do.
        known: bool,
    },
    /// The sticks' centres and ends are as asked, and none moves another's channel.
    TestSticks(SticksAsked),
    /// The board sees the craft tilted and turned as it is.
    TestAttitude,
    /// The board's level is made the craft's.
    CalibrateLevel {
        /// The board's own names of its trims of roll and pitch.
        names: [SettingName; 2],
        /// Whether a change of them takes a restart.
        restart: bool,
    },
    /// The board's voltage is made what a meter shows.
    CalibrateBattery {
        /// The board's own name of its ratio.
        name: SettingName,
        /// Whether a change of it takes a restart.
        restart: bool,
    },
    /// Find what every channel does on link loss.
    FindLinkLoss,
    /// A setting that waits for a search or find before it can be planned: shown, never run as it stands.
    Later {
        /// What will be written, in words.
        what: String,
    },
    /// The idle search.
    IdleSearch(IdlePlan),
    /// The idle stepped under the operator's keys, at the bench prompt only.
    IdleByHand(IdlePlan),
    /// Proof of the idle that stands, or of the one just fixed.
    TestIdle {
        /// Starts.
        starts: u32,
        /// How long each.
        dwell: Duration,
        /// The idle on the board; the highest that it can be while a search before it has not run.
        pulse: Pulse,
        /// How level the craft must be.
        level: Angle,
        /// What starts and stops it.
        arm: BoundFunction,
    },
    /// The arm switch arms where it should and nowhere else.
    TestArm {
        /// What is proved.
        arm: BoundFunction,
        /// Whether the battery is in, so that motors may turn at idle.
        powered: bool,
        /// The idle on the board, as in [`Action::TestIdle`].
        pulse: Pulse,
    },
    /// The arm switch stops the motors in time.
    TestCut {
        /// Limit.
        within: Duration,
        /// The idle on the board, as in [`Action::TestIdle`].
        pulse: Pulse,
        /// What starts and stops it.
        arm: BoundFunction,
    },
    /// The board stops the motors in time when the radio goes off, and does not start them when it is back.
    TestFailsafe {
        /// Limit.
        within: Duration,
        /// The idle on the board, as in [`Action::TestIdle`].
        pulse: Pulse,
        /// What starts it.
        arm: BoundFunction,
    },
    /// The buzzer sounds on its switch.
    TestBuzzer {
        /// The motors are what sounds: a motor step.
        by_motors: bool,
        /// Which switch sounds it.
        buzzer: BoundFunction,
    },
    /// Every motor by itself: where it sits, and which way it turns.
    TestMotors(MotorsPlan),
    /// The same, put right as far as the board can, and shown again.
    OrderMotors(OrderPlan),
    /// A claim of the sheet, tried: whether the board arms with the battery out, and whether a motor turns then.
    TryOnUsb {
        /// What arms it.
        arm: BoundFunction,
        /// The idle on the board.
        pulse: Pulse,
    },
    /// A claim of the sheet, tried: whether one motor that is run by command stops by itself.
    TryMotorRun {
        /// The pulse at which it runs.
        pulse: Pulse,
    },
    /// The same, once that was seen: whether it does so with the cable pulled out.
    TryCable {
        /// The pulse at which it runs.
        pulse: Pulse,
    },
    /// After a change of motor signal: one run of every motor by command, after the battery was out and in.
    ProveSignal {
        /// The signal as the recipe names it.
        signal: String,
        /// Corners in the order of the outputs.
        corners: Vec<Corner>,
    },
}
