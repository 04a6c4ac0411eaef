//! Which settings a statement gives which values: one table for checks, findings and plans.
//!
//! Promises: values have their types, in the order in which the statement says them; a statement that sets
//! nothing by a word of the vocabulary is named as well, so that a new one is not forgotten. Must not be here: functions on switches, the board's own names, and whether a
//! value is allowed.

use super::recipe::{Chemistry, Idle, Part, StatementKind, ZeroThrottle};
use super::setting_word::SettingWord;
use super::units::{Angle, Frequency, Voltage, time};
use std::fmt;
use std::time::Duration;

/// One setting that a statement sets.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sets<'s> {
    /// Which.
    pub word: SettingWord,
    /// To what.
    pub to: To<'s>,
    /// The part of the statement that says so.
    pub part: Part,
    /// A board that has no such setting will do: what is meant where none is said, or a fact of the craft.
    pub plain: bool,
}

/// The value of a setting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "each is the kind of value that it names")]
pub enum To<'s> {
    Word(&'s str),
    Count(u32),
    Rate(Frequency),
    Turn(Angle),
    Time(Duration),
    PerCell(Voltage),
    Idle(Idle),
}

impl fmt::Display for To<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Word(word) => f.write_str(word),
            Self::Count(count) => write!(f, "{count}"),
            Self::Rate(rate) => write!(f, "{rate}"),
            Self::Turn(angle) => write!(f, "{angle}"),
            Self::Time(duration) => f.write_str(&time(*duration)),
            Self::PerCell(volts) => write!(f, "{volts}"),
            Self::Idle(Idle::Pulse(pulse)) => write!(f, "{pulse}"),
            Self::Idle(Idle::Percent(share)) => write!(f, "{share}"),
        }
    }
}

/// Every setting that a statement sets by a word of its own; `set` and what the bench finds are not among them.
#[must_use]
pub fn sets(what: &StatementKind) -> Vec<Sets<'_>> {
    use SettingWord as W;
    let one = |word, to, part| Sets { word, to, part, plain: false };
    match what {
        StatementKind::Receiver { protocol, port } => vec![
            one(W::ReceiverProtocol, To::Word(protocol), Part::Subject),
            one(W::ReceiverPort, To::Count(*port), Part::Value),
        ],
        StatementKind::Channels(order) => (1..)
            .zip(order)
            .map(|(channel, stick)| one(stick.channel_word(), To::Count(channel), Part::Subject))
            .collect(),
        StatementKind::AtZeroThrottle(zero) => vec![one(W::ZeroThrottle, To::Word(zero.word()), Part::Value)],
        StatementKind::IdleAt(idle) => vec![one(W::Idle, To::Idle(*idle), Part::Value)],
        StatementKind::Signal { signal, rate } => {
            let mut all = vec![one(W::Signal, To::Word(signal.word()), Part::Subject)];
            all.extend(rate.map(|rate| one(W::LoopRate, To::Rate(rate), Part::Rate)));
            all
        }
        StatementKind::BoardTurned(angle) => vec![one(W::BoardTurn, To::Turn(*angle), Part::Value)],
        StatementKind::Failsafe(wait) => vec![
            one(W::LinkLossAction, To::Word("cut"), Part::Subject),
            one(W::LinkLossWait, To::Time(*wait), Part::Value),
        ],
        StatementKind::Battery { cells, chemistry, warn, land } => vec![
            Sets { plain: true, ..one(W::BatteryCells, To::Count(*cells), Part::Cells) },
            Sets {
                plain: *chemistry == Chemistry::Lipo,
                ..one(W::BatteryChemistry, To::Word(chemistry.word()), Part::Subject)
            },
            Sets { plain: true, ..one(W::BatteryWarn, To::PerCell(*warn), Part::Warn) },
            Sets { plain: true, ..one(W::BatteryLand, To::PerCell(*land), Part::Land) },
        ],
        StatementKind::Require(_)
        | StatementKind::Expect { .. }
        | StatementKind::DeclareSwitch { .. }
        | StatementKind::FindSwitch { .. }
        | StatementKind::FindSticks { .. }
        | StatementKind::FindLinkLoss { .. }
        | StatementKind::TestSticks { .. }
        | StatementKind::Bind { .. }
        | StatementKind::Unbind(_)
        | StatementKind::IdleSearch(_)
        | StatementKind::TestIdle { .. }
        | StatementKind::PowerCycle
        | StatementKind::TestMotors
        | StatementKind::OrderMotors
        | StatementKind::TestAttitude
        | StatementKind::CalibrateLevel
        | StatementKind::TestArm
        | StatementKind::TestCut { .. }
        | StatementKind::TestFailsafe { .. }
        | StatementKind::TestBuzzer
        | StatementKind::CalibrateBattery
        | StatementKind::Set { .. }
        | StatementKind::Keep
        | StatementKind::Pause(_)
        | StatementKind::Note(_)
        | StatementKind::Waiting { .. } => Vec::new(),
    }
}

impl ZeroThrottle {
    /// As a recipe writes it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Spin => "spin",
            Self::Rest => "rest",
        }
    }
}

impl Chemistry {
    /// As a recipe writes it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Lipo => "lipo",
            Self::Lihv => "lihv",
            Self::Liion => "liion",
        }
    }
}
