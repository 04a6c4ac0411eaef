//! Which statements can turn a motor, as far as the text tells.
//!
//! Promises: errs on the side of *can*. A sheet can only add to it (a buzzer that the motors
//! sound, a board's own setting). Must not be here: guards, and what a plan's steps do.

use super::recipe::{Require, Setting, StatementKind};

/// Whether the statement can turn a motor by itself: it runs one, arms, or has the battery put in.
///
/// A plug-in counts, since it turns motors where the arm switch is on or the throttle up.
#[must_use]
pub fn turns_motors(what: &StatementKind) -> bool {
    match what {
        StatementKind::PowerCycle
        | StatementKind::CalibrateBattery
        | StatementKind::Require(Require::Battery { inside: true })
        | StatementKind::TestArm => true,
        StatementKind::Waiting { turns_motors, .. } => *turns_motors,
        what => runs_motors(what),
    }
}

/// Whether the statement turns motors on purpose, so that it needs their signal to be in force.
#[must_use]
pub fn runs_motors(what: &StatementKind) -> bool {
    matches!(
        what,
        StatementKind::IdleSearch(_)
            | StatementKind::TestIdle { .. }
            | StatementKind::TestCut { .. }
            | StatementKind::TestFailsafe { .. }
            | StatementKind::TestMotors
            | StatementKind::OrderMotors
    )
}

/// Whether the statement can turn a motor while the battery is in, though it does not ask for it:
/// it changes how motors answer, moves the arm band, or has a switch worked that may arm.
#[must_use]
pub fn turns_motors_with_battery(what: &StatementKind) -> bool {
    match what {
        StatementKind::IdleAt(_)
        | StatementKind::AtZeroThrottle(_)
        | StatementKind::Signal { .. }
        | StatementKind::Channels(_)
        | StatementKind::FindSwitch { .. }
        | StatementKind::FindSticks { .. }
        | StatementKind::TestSticks { .. }
        | StatementKind::Set { setting: Setting::Raw(_), .. } => true,
        StatementKind::Bind { function, .. } | StatementKind::Unbind(function) => function.is_arm(),
        what => turns_motors(what),
    }
}

/// Whether the battery is in after a statement, given whether it was in before.
///
/// The battery is asked in before the first statement that needs it, and out only where the
/// recipe says so.
#[must_use]
pub fn battery_in_after(what: &StatementKind, before: bool) -> bool {
    match what {
        StatementKind::Require(Require::Battery { inside }) => *inside,
        StatementKind::FindLinkLoss { .. } => false,
        StatementKind::PowerCycle | StatementKind::CalibrateBattery => true,
        what => before || runs_motors(what),
    }
}
