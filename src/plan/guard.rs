//! What must hold for a step: the value that a dry run prints is the one that is judged.
//!
//! Must not be here: which step has which (see `compile`), and what is judged (see the interlock).

use crate::language::units::{Angle, Voltage};

/// What must hold for a step.
#[derive(Debug, Clone, PartialEq)]
pub enum Guard {
    /// Propellers off and no other craft on this radio: attested this session for this craft, and asked again where
    /// that has become void.
    PropsOff,
    /// Video antenna fitted: attested.
    Antenna,
    /// The operator confirmed this very step by typing its word.
    Confirmed,
    /// The board says that it is not armed.
    Disarmed,
    /// Throttle channel low.
    ThrottleLow,
    /// The arm switch's channel outside the arm band.
    ArmSwitchOff,
    /// All outputs at rest.
    OutputsAtRest,
    /// Signals young enough.
    Fresh,
    /// Within this of level.
    Level(Angle),
    /// Pack at least this for each of so many cells.
    BatteryAtLeast(Voltage, u32),
    /// Battery in.
    BatteryIn,
    /// Battery out.
    BatteryOut,
    /// The encoding of settings proved by a reading.
    EncodingProved,
}

/// The board disarmed, the sticks where nothing arms, the motors at rest, and all that heard just now.
pub(super) const STILL: [Guard; 5] =
    [Guard::Disarmed, Guard::ThrottleLow, Guard::ArmSwitchOff, Guard::OutputsAtRest, Guard::Fresh];

impl Guard {
    /// Whether it is about how a start is judged, and says nothing of a change that the same step makes.
    #[must_use]
    pub fn is_of_a_start(&self) -> bool {
        matches!(self, Self::Level(_) | Self::BatteryAtLeast(..) | Self::BatteryIn)
    }
}
