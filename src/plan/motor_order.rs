//! `test motors` and `order motors`: every motor by itself, where it sits and which way it turns, and what puts it right.
//!
//! Promises: refused where the board runs no motor by command, or where nobody says how it should be. Must not be here:
//! how a motor is run and asked about (see the bench).

use super::compile::Planner;
use super::motor_layout::{MotorLayout, OrderPlan, Puttable};
use super::problem::Problem;
use super::step::{Action, Guard, MotorsPlan, Unknown};
use crate::board::effect::Effect;
use crate::board::sheet::Sheet;
use crate::board::value::SettingName;
use crate::language::ceilings;
use crate::language::units::Pulse;
use crate::record::{Proof, ProofSubject};

/// The highest pulse of a single motor's run, 50 µs under the ceiling of the bench.
pub const HIGHEST: Pulse = Pulse(ceilings::PULSE.0 - 50);

/// A pulse at which a motor run by command starts surely, below every ceiling; one that the board can be told.
#[must_use]
pub fn run_pulse(idle: Option<Pulse>, sheet: &Sheet) -> Pulse {
    let least = (idle.unwrap_or(ceilings::REST).0 + 80).clamp(1150, HIGHEST.0);
    let told = |pulse: &Pulse| sheet.tells_run_pulse(*pulse);
    (least..=HIGHEST.0).map(Pulse).find(told).unwrap_or(Pulse(least))
}

impl<'a> Planner<'a> {
    pub(super) fn test_motors(&mut self, index: usize) {
        let spot = self.spot(index);
        let Some(plan) = self.motors_plan(index) else { return };
        if self.motor_ready(&spot) {
            let guards = self.motor_guards(None);
            self.push(&spot, Action::TestMotors(plan), Effect::TurnsMotors, guards);
        }
    }

    pub(super) fn order_motors(&mut self, index: usize) {
        let spot = self.spot(index);
        let Some(motors) = self.motors_plan(index) else { return };
        let puttable = Puttable::of(self.inputs.sheet);
        for name in puttable.names() {
            if !self.inputs.settings.contains_key(name) {
                return self.refuse(index, Problem::NotOnBoard(name.to_string()));
            }
        }
        if let Some(proof) = self.shown_in_order(&motors, &puttable) {
            self.proofs.push(proof);
            let text = format!("the motors stand as they were shown right on {}, and are not run again.", proof.at);
            return self.remark_at(index, text);
        }
        if !self.motor_ready(&spot) {
            return;
        }
        let mut guards = self.motor_guards(None);
        guards.push(Guard::EncodingProved);
        let plug_in = self.plug_in_guards();
        let count = u8::try_from(motors.layout.wanted.len()).map_or(8.0, f64::from);
        let order = puttable.order.iter().map(|name| (name, 1.0, count));
        let reversal = puttable.reversal.iter().flat_map(|(_, names)| names).map(|name| (name, 0.0, 1.0));
        for (name, least, most) in order.chain(reversal) {
            let setting = self.naming().describe(name);
            self.unknown.push(Unknown { setting, least, most, unit: String::new(), at: spot.at.clone() });
            self.ahead.open.insert(name.clone());
        }
        let act = Action::OrderMotors(OrderPlan { motors, puttable, plug_in });
        self.push(&spot, act, Effect::TurnsMotors, guards);
    }

    /// A proof that the motors are as they are wanted, with all that they hang on as it was then.
    fn shown_in_order(&self, motors: &MotorsPlan, puttable: &Puttable) -> Option<&'a Proof> {
        let wanted = motors.layout.told(&motors.layout.wanted);
        let needed: Vec<SettingName> = puttable.names().cloned().collect();
        let as_wanted = |proof: &Proof| {
            matches!(&proof.subject, ProofSubject::Motors { corners, clockwise }
                if (corners, clockwise) == (&wanted.0, &wanted.1))
        };
        self.shown(&needed, as_wanted)
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
                let pulse = run_pulse(self.ahead.idle(sheet), sheet);
                Some(MotorsPlan { layout, pulse })
            }
            Err(error) => {
                self.refuse(index, Problem::Layout(error));
                None
            }
        }
    }
}
