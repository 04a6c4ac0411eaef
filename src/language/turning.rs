//! What a statement can do with motors and the battery, as far as the text tells: one exhaustive table.
//!
//! Promises: a new statement does not compile until somebody has said here what it can do; errs on the side of *can*. A
//! sheet can only add to it (a buzzer that the motors sound, a board's own setting). Must not be here: guards, and what
//! a plan's steps do.

use super::recipe::{Require, Setting, StatementKind};
use super::statement::Form;

/// What a statement does at the bench.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Does {
    /// Says, asks or tests something that is there already.
    Looks,
    /// Has sticks, switches or the radio worked, and watches.
    Watches,
    /// Changes settings.
    Writes,
    /// Stores and restarts.
    Keeps,
    /// Has the battery put in: motors turn where the arm switch is on or the throttle up.
    PlugsIn,
    /// Has the battery taken out.
    PlugsOut,
    /// Has the craft armed, with the battery in or out.
    Arms,
    /// Turns motors on purpose, started by the arm switch.
    RunsBySwitch,
    /// Turns motors on purpose, by command.
    RunsByCommand,
}

/// What a statement does, and whether that can turn a motor while the battery is in, though it does not ask for it: it
/// changes how motors answer, moves the arm band, or has a switch worked that may arm.
fn of(what: &StatementKind) -> (Does, bool) {
    match what {
        StatementKind::Require(require) => (of_require(require), false),
        StatementKind::Expect { .. }
        | StatementKind::DeclareSwitch { .. }
        | StatementKind::TestAttitude
        | StatementKind::TestBuzzer
        | StatementKind::Pause(_)
        | StatementKind::Note(_) => (Does::Looks, false),
        StatementKind::FindLinkLoss { .. } => (Does::Watches, false),
        StatementKind::FindSwitch { .. } | StatementKind::FindSticks { .. } | StatementKind::TestSticks { .. } => {
            (Does::Watches, true)
        }
        StatementKind::Receiver { .. }
        | StatementKind::BoardTurned(_)
        | StatementKind::CalibrateLevel
        | StatementKind::Failsafe(_)
        | StatementKind::Battery { .. }
        | StatementKind::Set { setting: Setting::Word(_), .. } => (Does::Writes, false),
        StatementKind::Channels(_)
        | StatementKind::AtZeroThrottle(_)
        | StatementKind::IdleAt(_)
        | StatementKind::Signal { .. }
        | StatementKind::Set { setting: Setting::Raw(_), .. } => (Does::Writes, true),
        StatementKind::Bind { function, .. } | StatementKind::Unbind(function) => (Does::Writes, function.is_arm()),
        StatementKind::Keep => (Does::Keeps, false),
        StatementKind::PowerCycle | StatementKind::CalibrateBattery => (Does::PlugsIn, true),
        StatementKind::TestArm => (Does::Arms, true),
        StatementKind::IdleSearch(_)
        | StatementKind::TestIdle { .. }
        | StatementKind::TestCut { .. }
        | StatementKind::TestFailsafe { .. } => (Does::RunsBySwitch, true),
        StatementKind::TestMotors | StatementKind::OrderMotors => (Does::RunsByCommand, true),
        StatementKind::Waiting { form, .. } => of_form(*form),
    }
}

fn of_require(require: &Require) -> Does {
    match require {
        Require::Battery { inside: true } | Require::BatteryAtLeast(_) => Does::PlugsIn,
        Require::Battery { inside: false } => Does::PlugsOut,
        Require::PropsOff
        | Require::AntennaOn
        | Require::ThrottleLow
        | Require::Disarmed
        | Require::Level(_)
        | Require::SwitchPosition { .. }
        | Require::Attest(_) => Does::Looks,
    }
}

/// What a statement can do whose values are not all known: the worst of its form.
fn of_form(form: Form) -> (Does, bool) {
    match form {
        Form::DeclareSwitch | Form::RequireLevel | Form::RequireSwitch | Form::Expect => (Does::Looks, false),
        Form::RequireBattery => (Does::PlugsIn, true),
        Form::FindSwitch | Form::TestSticks => (Does::Watches, true),
        Form::Receiver | Form::BoardTurned | Form::Failsafe | Form::Battery => (Does::Writes, false),
        Form::IdleAt | Form::Bind | Form::Signal | Form::Set => (Does::Writes, true),
        Form::IdleSearch | Form::TestIdle | Form::TestCut | Form::TestFailsafe => (Does::RunsBySwitch, true),
    }
}

/// What a statement does.
#[must_use]
pub fn does(what: &StatementKind) -> Does {
    of(what).0
}

/// Whether the statement can turn a motor by itself: it runs one, arms, or has the battery put in.
#[must_use]
pub fn turns_motors(what: &StatementKind) -> bool {
    match does(what) {
        Does::PlugsIn | Does::Arms | Does::RunsBySwitch | Does::RunsByCommand => true,
        Does::Looks | Does::Watches | Does::Writes | Does::Keeps | Does::PlugsOut => false,
    }
}

/// Whether the statement requires, asks or tests something, at its place and nowhere else.
#[must_use]
pub fn asks_or_tests(what: &StatementKind) -> bool {
    match what {
        StatementKind::Require(_)
        | StatementKind::Expect { .. }
        | StatementKind::Pause(_)
        | StatementKind::TestSticks { .. }
        | StatementKind::TestIdle { .. }
        | StatementKind::TestMotors
        | StatementKind::TestAttitude
        | StatementKind::TestArm
        | StatementKind::TestCut { .. }
        | StatementKind::TestFailsafe { .. }
        | StatementKind::TestBuzzer => true,
        StatementKind::Waiting { form, .. } => match form {
            Form::RequireBattery
            | Form::RequireLevel
            | Form::RequireSwitch
            | Form::Expect
            | Form::TestSticks
            | Form::TestIdle
            | Form::TestCut
            | Form::TestFailsafe => true,
            Form::Receiver
            | Form::DeclareSwitch
            | Form::FindSwitch
            | Form::Bind
            | Form::IdleAt
            | Form::IdleSearch
            | Form::Signal
            | Form::BoardTurned
            | Form::Failsafe
            | Form::Battery
            | Form::Set => false,
        },
        _ => false,
    }
}

/// Whether the statement turns motors on purpose, so that it needs their signal to be in force.
#[must_use]
pub fn runs_motors(what: &StatementKind) -> bool {
    matches!(does(what), Does::RunsBySwitch | Does::RunsByCommand)
}

/// Whether the statement can turn a motor while the battery is in, whether it asks for it or not.
#[must_use]
pub fn turns_motors_with_battery(what: &StatementKind) -> bool {
    of(what).1 || turns_motors(what)
}

/// Whether the battery is in after a statement, given whether it was in before.
///
/// The battery is asked in before the first statement that needs it, and out only where the recipe says so, or before
/// link loss is found.
#[must_use]
pub fn battery_in_after(what: &StatementKind, before: bool) -> bool {
    match does(what) {
        Does::PlugsIn | Does::RunsBySwitch | Does::RunsByCommand => true,
        Does::PlugsOut => false,
        Does::Watches => before && !matches!(what, StatementKind::FindLinkLoss { .. }),
        Does::Looks | Does::Writes | Does::Keeps | Does::Arms => before,
    }
}
