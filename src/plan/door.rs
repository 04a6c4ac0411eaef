//! Which door of the interlock a step comes to, where the guards that are printed of it are judged.
//!
//! A new step does not compile until someone has said it. Must not be here: what is judged there.

use super::step::Action;

/// Where the guards of a step are judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum StepDoor {
    /// As it begins: it changes nothing, and turns nothing.
    Looks,
    /// As something is written, stored, or the board restarts.
    Changes,
    /// As each start begins.
    Drives,
    /// As switches are worked for another purpose than a start.
    WorksSwitches,
    /// As the battery goes in.
    PlugsIn,
    /// Nowhere: it is shown, and planned anew before it is run.
    Never,
}

impl Action {
    /// The door of this step.
    #[must_use]
    pub fn door(&self) -> StepDoor {
        match self {
            Self::Note(_)
            | Self::Pause(_)
            | Self::AttestPropsOff
            | Self::AttestAntenna
            | Self::Attest(_)
            | Self::RequireThrottleLow
            | Self::RequireDisarmed
            | Self::RequireLevel(_)
            | Self::RequireBatteryAtLeast { .. }
            | Self::RequireSwitch { .. }
            | Self::Expect { .. }
            | Self::BatteryOut { .. }
            | Self::TestBuzzer { by_motors: false, .. }
            | Self::TestAttitude
            | Self::FindSticks { known: true }
            | Self::FindSwitch { known: true, .. } => StepDoor::Looks,
            Self::Write(_)
            | Self::Store
            | Self::Restart { .. }
            | Self::CalibrateLevel { .. }
            | Self::CalibrateBattery { .. } => StepDoor::Changes,
            Self::IdleSearch(_)
            | Self::IdleByHand(_)
            | Self::TestIdle { .. }
            | Self::TestArm { .. }
            | Self::TestCut { .. }
            | Self::TestFailsafe { .. }
            | Self::TestBuzzer { by_motors: true, .. }
            | Self::TestMotors(_)
            | Self::OrderMotors(_)
            | Self::TryOnUsb { .. }
            | Self::TryMotorRun { .. }
            | Self::TryCable { .. }
            | Self::ProveSignal { .. } => StepDoor::Drives,
            Self::FindSwitch { known: false, .. }
            | Self::FindSticks { known: false }
            | Self::TestSticks(_)
            | Self::FindLinkLoss => StepDoor::WorksSwitches,
            Self::BatteryIn => StepDoor::PlugsIn,
            Self::Later { .. } => StepDoor::Never,
        }
    }

    /// Whether the step writes, stores or restarts.
    #[must_use]
    pub fn changes_board(&self) -> bool {
        match self.door() {
            StepDoor::Changes | StepDoor::Never => true,
            StepDoor::Drives => matches!(self, Self::IdleSearch(_) | Self::IdleByHand(_) | Self::OrderMotors(_)),
            StepDoor::Looks | StepDoor::WorksSwitches | StepDoor::PlugsIn => false,
        }
    }
}
