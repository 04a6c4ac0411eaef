//! What a statement is for, and what it can do with motors and the battery, as far as the text tells: one exhaustive table.
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

/// What a statement is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Purpose {
    /// Requires something to be so.
    Requires,
    /// Tests something.
    Tests,
    /// Leaves something set on the board, for `keep` to store.
    Sets,
    /// Finds or declares what the rest builds on, stores, or takes the battery out and in.
    Prepares,
    /// Asks the operator, or waits for them.
    Asks,
    /// Says something.
    Says,
}

/// What a statement is for and does, and whether that can turn a motor while the battery is in, though it does not ask for
/// it: it changes how motors answer, moves the arm band, or has a switch worked that may arm.
fn of(what: &StatementKind) -> (Purpose, Does, bool) {
    use Purpose::{Asks, Prepares, Requires, Says, Sets, Tests};
    match what {
        StatementKind::Require(require) => of_require(require),
        StatementKind::Expect { .. } => (Requires, Does::Looks, false),
        StatementKind::DeclareSwitch { .. } => (Prepares, Does::Looks, false),
        StatementKind::TestAttitude | StatementKind::TestBuzzer => (Tests, Does::Looks, false),
        StatementKind::Pause(_) => (Asks, Does::Looks, false),
        StatementKind::Note(_) => (Says, Does::Looks, false),
        StatementKind::FindLinkLoss { .. } => (Prepares, Does::Watches, false),
        StatementKind::FindSwitch { .. } | StatementKind::FindSticks { .. } => (Prepares, Does::Watches, true),
        StatementKind::TestSticks { .. } => (Tests, Does::Watches, true),
        StatementKind::Receiver { .. }
        | StatementKind::BoardTurned(_)
        | StatementKind::CalibrateLevel
        | StatementKind::Failsafe(_)
        | StatementKind::Battery { .. }
        | StatementKind::Set { setting: Setting::Word(_), .. } => (Sets, Does::Writes, false),
        StatementKind::Channels(_)
        | StatementKind::AtZeroThrottle(_)
        | StatementKind::IdleAt(_)
        | StatementKind::Signal { .. }
        | StatementKind::Set { setting: Setting::Raw(_), .. } => (Sets, Does::Writes, true),
        StatementKind::Bind { function, .. } | StatementKind::Unbind(function) => {
            (Sets, Does::Writes, function.is_arm())
        }
        StatementKind::Keep => (Prepares, Does::Keeps, false),
        StatementKind::PowerCycle => (Prepares, Does::PlugsIn, true),
        StatementKind::CalibrateBattery => (Sets, Does::PlugsIn, true),
        StatementKind::TestArm => (Tests, Does::Arms, true),
        StatementKind::IdleSearch(_) => (Sets, Does::RunsBySwitch, true),
        StatementKind::TestIdle { .. } | StatementKind::TestCut { .. } | StatementKind::TestFailsafe { .. } => {
            (Tests, Does::RunsBySwitch, true)
        }
        StatementKind::TestMotors => (Tests, Does::RunsByCommand, true),
        StatementKind::OrderMotors => (Sets, Does::RunsByCommand, true),
        StatementKind::Waiting { form, .. } => of_form(*form),
    }
}

fn of_require(require: &Require) -> (Purpose, Does, bool) {
    match require {
        Require::Battery { inside: true } | Require::BatteryAtLeast(_) => (Purpose::Requires, Does::PlugsIn, false),
        Require::Battery { inside: false } => (Purpose::Requires, Does::PlugsOut, false),
        Require::PropsOff
        | Require::AntennaOn
        | Require::ThrottleLow
        | Require::Disarmed
        | Require::Level(_)
        | Require::SwitchPosition { .. } => (Purpose::Requires, Does::Looks, false),
        Require::Attest(_) => (Purpose::Asks, Does::Looks, false),
    }
}

/// The same of a statement whose values are not all known: the worst of its form.
fn of_form(form: Form) -> (Purpose, Does, bool) {
    use Purpose::{Prepares, Requires, Sets, Tests};
    match form {
        Form::DeclareSwitch => (Prepares, Does::Looks, false),
        Form::RequireLevel | Form::RequireSwitch | Form::Expect => (Requires, Does::Looks, false),
        Form::RequireBattery => (Requires, Does::PlugsIn, true),
        Form::FindSwitch => (Prepares, Does::Watches, true),
        Form::TestSticks => (Tests, Does::Watches, true),
        Form::Receiver | Form::BoardTurned | Form::Failsafe | Form::Battery => (Sets, Does::Writes, false),
        Form::IdleAt | Form::Bind | Form::Signal | Form::Set => (Sets, Does::Writes, true),
        Form::IdleSearch => (Sets, Does::RunsBySwitch, true),
        Form::TestIdle | Form::TestCut | Form::TestFailsafe => (Tests, Does::RunsBySwitch, true),
    }
}

/// What a statement is for.
#[must_use]
pub fn purpose(what: &StatementKind) -> Purpose {
    of(what).0
}

/// What a statement does.
#[must_use]
pub fn does(what: &StatementKind) -> Does {
    of(what).1
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
    match purpose(what) {
        Purpose::Requires | Purpose::Tests | Purpose::Asks => true,
        Purpose::Sets | Purpose::Prepares | Purpose::Says => false,
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
    of(what).2 || turns_motors(what)
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
