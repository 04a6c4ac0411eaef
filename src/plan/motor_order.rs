//! `test motors`: every motor by itself, where it sits and which way it turns.
//!
//! Promises: refused where the board runs no motor by command, or where nobody says how it should be. Must not be here:
//! how a motor is run and asked about (see the bench).

use super::compile::Planner;
use super::motor_layout::MotorLayout;
use super::problem::Problem;
use super::step::{Action, MotorsPlan};
use crate::board::effect::Effect;
use crate::language::ceilings;
use crate::language::units::Pulse;

/// The highest pulse of a single motor's run, 50 µs under the ceiling of the bench.
pub const HIGHEST: Pulse = Pulse(ceilings::PULSE.0 - 50);

/// A pulse at which a motor run by command starts surely, below every ceiling.
#[must_use]
pub fn run_pulse(idle: Pulse) -> Pulse {
    Pulse((idle.0 + 80).clamp(1150, HIGHEST.0))
}

impl Planner<'_> {
    pub(super) fn test_motors(&mut self, index: usize) {
        let spot = self.spot(index);
        let Some(plan) = self.motors_plan(index) else { return };
        if self.motor_ready(&spot) {
            let guards = self.motor_guards(None);
            self.push(&spot, Action::TestMotors(plan), Effect::TurnsMotors, guards);
        }
    }

    /// What is wanted of the motors, and at which pulse they are run; `None` if it was refused.
    fn motors_plan(&mut self, index: usize) -> Option<MotorsPlan> {
        let sheet = self.inputs.sheet;
        if sheet.motor_run.is_none() {
            self.refuse(index, Problem::NoMotorRun(sheet.board.clone()));
            return None;
        }
        // A recipe without a craft is refused at its head.
        let craft = self.inputs.recipe.craft.as_ref()?.value;
        match MotorLayout::of(craft, sheet) {
            Ok(layout) => {
                let pulse = run_pulse(self.ahead.idle(sheet).unwrap_or(Pulse(1000)));
                Some(MotorsPlan { layout, pulse })
            }
            Err(error) => {
                self.refuse(index, Problem::Layout(error));
                None
            }
        }
    }
}
