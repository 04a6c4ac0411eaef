//! Why a recipe cannot be planned for this board: each refusal with its place and what to do.
//!
//! Promises: one variant a reason, a stable code each, a sentence that names the thing. Nothing of a
//! recipe is left out silently: what cannot be done is here. Must not be here: the checks themselves.

use super::motor_layout::LayoutError;
use crate::board::binding::BindingError;
use crate::board::convert::ConvertError;
use crate::board::identity::Mismatch;
use crate::language::ceilings;
use crate::language::characters::capital;
use crate::language::span::Place;
use crate::language::units::{Pulse, Voltage, time};
use crate::measure::bands::BandError;
use std::time::Duration;

/// One refusal.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanError {
    /// Where the recipe asks for it.
    pub at: Place,
    /// What is wrong.
    pub problem: Problem,
}

impl std::fmt::Display for PlanError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.at, self.problem)
    }
}

impl std::error::Error for PlanError {}

/// See [`PlanError`].
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[expect(missing_docs, reason = "each variant's sentence says what it is, its fields are named in it")]
pub enum Problem {
    #[error("this recipe names no craft or no board: it is a part of one that uses it")]
    Part,
    #[error("`{form}` uses {}, which has no value", listed(.names))]
    Waiting { form: &'static str, names: Vec<String> },
    #[error("the recipe is written for {}, and the board is a {found}", listed(.wanted))]
    OtherBoard { wanted: Vec<String>, found: String },
    #[error(transparent)]
    SheetMismatch(#[from] Mismatch),
    #[error("the radio card \"{0}\" was made on a virtual board, and this board is a real one")]
    VirtualCard(String),
    #[error("the recipe needs firmware {}, and the board has {found}", wanted.join(" or "))]
    Firmware { wanted: Vec<String>, found: String },
    #[error("the sheet has {corners} motors, and the recipe's craft has {motors}")]
    MotorCount { corners: usize, motors: usize },
    #[error(transparent)]
    Layout(#[from] LayoutError),
    #[error("{0} cannot run a single motor by command: nothing would turn")]
    NoMotorRun(String),
    #[error("the sheet {sheet} has no `{word}`: this board cannot do it")]
    NoWord { word: String, sheet: String },
    #[error("`{0}` is no word of the vocabulary")]
    UnknownWord(String),
    #[error("`{0}` cannot be the name of a setting: names are 1 to 16 printable characters without spaces")]
    BadName(String),
    #[error("`{name}` is covered by the word `{word}`")]
    Covered { name: String, word: String },
    #[error("the board has no setting `{0}`")]
    NotOnBoard(String),
    #[error("`{word}` is set by its own statement")]
    HasStatement { word: String, statement: &'static str },
    #[error(transparent)]
    Value(#[from] ConvertError),
    #[error(transparent)]
    Binding(#[from] BindingError),
    #[error("the switch {0} is neither found nor declared before this line")]
    NoSwitch(String),
    #[error("the switch {switch} has {count} positions, 0 to {}, so there is no position {position}", count.saturating_sub(1))]
    NoPosition { switch: String, position: u32, count: usize },
    #[error("switch {switch} is known with {known} positions, and the recipe asks for {wanted}")]
    PositionCount { switch: String, known: usize, wanted: u32 },
    #[error("`{function}` cannot be bound to switch {switch} so: {error}")]
    Band { function: String, switch: String, error: BandError },
    #[error("`arm` would be bound to position 0, where the switch rests at power-up")]
    ArmAtRest,
    #[error("switch {0} springs back to position 0: the craft would disarm as soon as it is let go")]
    ArmMomentary(String),
    #[error(
        "on link loss channel {channel} {does}, and arm is bound there: the craft would stay armed, or arm by itself"
    )]
    ArmOnLinkLoss { channel: u32, does: String },
    #[error("no switch that is known arms this craft at this point, and the step is started by its arm switch")]
    ArmNotBound,
    #[error("`{0}` is bound to no switch at this point")]
    NotBound(String),
    #[error("the board has `{function}` on channel {channel}, where no switch that is known turns it on")]
    BoundElsewhere { function: String, channel: u32 },
    #[error("this step can turn a motor, and no `require props off` stands before it")]
    PropsNotRequired,
    #[error("it is not known which channel is the throttle, and without it no motor step is done")]
    NoThrottle,
    #[error("the motor signal is changed before this line, and the speed controllers learn it at power-up only")]
    NoPowerCycle,
    #[error("the battery is in at this point, and a switch that is worked could arm the craft")]
    BatteryIn,
    #[error("the craft is held in hands here, and the battery is in at this point")]
    CraftInHands,
    #[error(
        "this board feeds its receiver from the battery alone, so without the battery nothing of the radio is heard"
    )]
    ReceiverUnfed,
    #[error("the motors rest at zero throttle, so arming does not show how they idle")]
    MotorsRest,
    #[error("an idle is stepped by hand at the bench prompt only")]
    SearchByHand,
    #[error("the search has a step of {}, which never ends", .0)]
    NoStep(Pulse),
    #[error("no value can be tried: from {start} up, with {margin} added, nothing stays within {at_most}")]
    NoValues { start: Pulse, margin: Pulse, at_most: Pulse },
    #[error("the search has {} values, more than {}", .0, ceilings::VALUES)]
    TooManyValues(i64),
    #[error("{value} is above the ceiling of {ceiling}")]
    AboveCeiling { value: Pulse, ceiling: Pulse },
    #[error("{what} is {}, longer than {}", time(*.value), time(*.most))]
    TooLong { what: &'static str, value: Duration, most: Duration },
    #[error("{} starts are more than {}", .0, ceilings::STARTS)]
    TooManyStarts(u32),
    #[error("this board counts idle in steps of `{0}`, which fit whole microseconds in no way")]
    SearchUnit(String),
    #[error("this board takes its first four channels as {0}, and cannot be told another order")]
    FixedChannels(String),
    #[error("{0} per cell needs the number of cells")]
    NoCells(Voltage),
    #[error("{setting} is {found} at this point, not {wanted}: the run would stop here")]
    ExpectFails { setting: String, found: String, wanted: String },
    #[error("the motor signal {signal} cannot carry a loop rate of {rate}")]
    SignalTooSlow { signal: String, rate: String },
    #[error("{why}")]
    Copy { why: String, hint: String },
}

/// With a capital, and with a full stop where it ends without one.
fn sentence(text: &str) -> String {
    let end = if text.ends_with(['.', '?']) { "" } else { "." };
    format!("{}{end}", capital(text))
}

fn listed(names: &[String]) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("`{name}`")).collect();
    match quoted.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        Some((last, _)) => last.clone(),
        None => String::from("nothing"),
    }
}

impl Problem {
    /// Stable short code of the project's own.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::Part => "plan-part",
            Self::Waiting { .. } => "plan-waiting",
            Self::OtherBoard { .. } => "plan-other-board",
            Self::SheetMismatch(_) => "plan-sheet-mismatch",
            Self::VirtualCard(_) => "plan-virtual-card",
            Self::Firmware { .. } => "plan-firmware",
            Self::MotorCount { .. } => "plan-motor-count",
            Self::Layout(_) => "plan-layout",
            Self::NoMotorRun(_) => "plan-no-motor-run",
            Self::NoWord { .. } => "plan-no-word",
            Self::UnknownWord(_) => "plan-unknown-word",
            Self::BadName(_) => "plan-bad-name",
            Self::Covered { .. } => "plan-covered",
            Self::NotOnBoard(_) => "plan-not-on-board",
            Self::HasStatement { .. } => "plan-has-statement",
            Self::Value(_) => "plan-value",
            Self::Binding(_) => "plan-binding",
            Self::NoSwitch(_) => "plan-no-switch",
            Self::NoPosition { .. } => "plan-no-position",
            Self::PositionCount { .. } => "plan-position-count",
            Self::Band { .. } => "plan-band",
            Self::ArmAtRest => "plan-arm-at-rest",
            Self::ArmMomentary(_) => "plan-arm-momentary",
            Self::ArmOnLinkLoss { .. } => "plan-arm-on-link-loss",
            Self::ArmNotBound => "plan-arm-not-bound",
            Self::NotBound(_) | Self::BoundElsewhere { .. } => "plan-not-bound",
            Self::PropsNotRequired => "plan-props",
            Self::NoThrottle => "plan-no-throttle",
            Self::NoPowerCycle => "plan-no-power-cycle",
            Self::BatteryIn => "plan-battery-in",
            Self::CraftInHands => "plan-craft-in-hands",
            Self::ReceiverUnfed => "plan-receiver-unfed",
            Self::MotorsRest => "plan-motors-rest",
            Self::SearchByHand => "plan-search-by-hand",
            Self::NoStep(_) => "plan-no-step",
            Self::NoValues { .. } => "plan-no-values",
            Self::TooManyValues(_) => "plan-too-many-values",
            Self::AboveCeiling { .. } => "plan-above-ceiling",
            Self::TooLong { .. } => "plan-too-long",
            Self::TooManyStarts(_) => "plan-too-many-starts",
            Self::SearchUnit(_) => "plan-search-unit",
            Self::FixedChannels(_) => "plan-fixed-channels",
            Self::NoCells(_) => "plan-no-cells",
            Self::ExpectFails { .. } => "plan-expect-fails",
            Self::Copy { .. } => "plan-copy",
            Self::SignalTooSlow { .. } => "plan-signal-too-slow",
        }
    }

    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> String {
        match self {
            Self::Copy { hint, .. } => hint.clone(),
            Self::Part => "Run the recipe that uses it, or give it its `craft` and `board`.".to_owned(),
            Self::Waiting { names, .. } => {
                let options: Vec<String> = names.iter().map(|name| format!("--with {name}=…")).collect();
                format!("Give it: {}.", options.join(" "))
            }
            Self::OtherBoard { found, .. } => {
                format!("Name the sheet with --sheet, or add `board \"{found}\"` once the recipe was tried on it.")
            }
            Self::SheetMismatch(_) => "Name the sheet that belongs to this board with --sheet.".to_owned(),
            Self::VirtualCard(_) => {
                "Name the card of your own radio with --radio, or find its switches anew.".to_owned()
            }
            Self::Firmware { .. } => {
                "Use a board with that firmware, or change `require firmware` once the recipe was tried on this one."
                    .to_owned()
            }
            Self::MotorCount { .. } => {
                "Check the `craft` line, and that the board is set up for this frame.".to_owned()
            }
            Self::Layout(error) => error.hint().to_owned(),
            Self::NoMotorRun(_) => {
                "Take the line out, and look at each motor with care when the craft first arms.".to_owned()
            }
            Self::NoWord { word, .. } => {
                format!("Take the line out, or add `{word}` to the sheet if the board has it.")
            }
            Self::UnknownWord(_) => {
                "Look the words up in the sheet; put the board's own name of a setting in quotes.".to_owned()
            }
            Self::BadName(_) => "Write the name exactly as the board gives it.".to_owned(),
            Self::Covered { word, .. } => format!("Write `{word}`, or the statement that sets it."),
            Self::NotOnBoard(_) => "Write the name exactly as the board gives it; `snapshot` lists all.".to_owned(),
            Self::HasStatement { statement, .. } => format!("Write `{statement} …`."),
            Self::Value(error) => {
                error.hint().map_or_else(|| "Choose a value that the board takes.".to_owned(), |hint| sentence(&hint))
            }
            Self::Binding(_) => "Choose what the sheet lists and the board can hold.".to_owned(),
            Self::NoSwitch(name) => format!("Write `find switch {name}` before it."),
            Self::NoPosition { .. } => "Positions count from 0.".to_owned(),
            Self::PositionCount { switch, .. } => {
                format!("Write `find switch {switch} anew` if the switch is another one, else correct the number.")
            }
            Self::Band { .. } => "Choose other positions, or another switch.".to_owned(),
            Self::ArmMomentary(_) => "Bind arm to a switch that stays where it is put.".to_owned(),
            Self::ArmAtRest => "Bind arm to a position that the switch has to be moved to.".to_owned(),
            Self::ArmOnLinkLoss { .. } => {
                "Set the receiver so that it stops its output on link loss, or choose another position or switch. Where that \
                 was found wrongly, write `find link loss anew` before it."
                    .to_owned()
            }
            Self::ArmNotBound => "Write `bind arm to switch …` and `keep` before it; what the board has already is not written again.".to_owned(),
            Self::NotBound(function) => format!("Write `bind {function} to switch …` before it."),
            Self::BoundElsewhere { function, channel } => format!(
                "Write `switch … on channel {channel} rests at …` or `find switch …` before it, or `bind {function} to \
                 switch …` where it should be elsewhere."
            ),
            Self::PropsNotRequired => "Write `require props off` before it.".to_owned(),
            Self::NoThrottle => "Write `channels roll, pitch, throttle, yaw` in the order of your radio.".to_owned(),
            Self::NoPowerCycle => "Write `power cycle` between the two.".to_owned(),
            Self::BatteryIn | Self::CraftInHands => "Write `require battery out` before it.".to_owned(),
            Self::ReceiverUnfed => {
                "Feed the receiver from USB for it, or say what is known: `switch … on channel … rests at …`, \
                 `on link loss …`, `channels …`."
                    .to_owned()
            }
            Self::MotorsRest => "Write `at zero throttle spin` before it, in a batch of its own.".to_owned(),
            Self::SearchByHand => {
                "Write `until all spin`, or step it by hand at the bench prompt: `quadjig bench`.".to_owned()
            }
            Self::NoStep(_) => "Write a step from 1 us up; 10 to 25 us is usual.".to_owned(),
            Self::NoValues { .. } => "Raise `at most`, or lower the start or the margin.".to_owned(),
            Self::TooManyValues(_) => "Take a longer step, or start nearer.".to_owned(),
            Self::AboveCeiling { ceiling, .. } => format!("Stay at or below {ceiling}."),
            Self::TooLong { most, .. } => format!("Stay at or below {}.", time(*most)),
            Self::TooManyStarts(_) => format!("Ask for 1 to {} starts.", ceilings::STARTS),
            Self::FixedChannels(order) => format!("Write `channels {order}`, and set the radio up so."),
            Self::SearchUnit(_) => "Write `idle at …` instead, and prove it with `test idle`.".to_owned(),
            Self::NoCells(_) => "Write `battery 2 cells …` with the cells of your pack before it.".to_owned(),
            Self::ExpectFails { .. } => "Find out why it differs, or change what is expected.".to_owned(),
            Self::SignalTooSlow { .. } => "Choose a faster signal or a lower loop rate.".to_owned(),
        }
    }
}
