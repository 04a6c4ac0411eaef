//! Steps in which motors turn or the battery moves: what each needs before it.
//!
//! Promises: no motor step without `require props off`, a known throttle channel, a bound arm switch,
//! and a `power cycle` after a change of motor signal. Must not be here: the idle search's values (see `search`), and what is
//! found of the radio (see `finds`).

use super::compile::{Planner, Spot};
use super::facts;
use super::guard::STILL;
use super::inputs::Battery;
use super::problem::{PlanError, Problem};
use super::step::{Action, BoundFunction, Guard};
use crate::board::effect::Effect;
use crate::board::{binding, convert};
use crate::language::recipe::{Function, Part, Value};
use crate::language::setting_word::SettingWord;
use crate::language::units::{Angle, Pulse};
use crate::language::{ceilings, search};
use crate::measure::signal_timing::MotorSignal;
use crate::record::ProofSubject;
use std::time::Duration;

/// How level a craft is for a search or a test of the idle, where no `require level` says it. Source: the
/// language's own default.
pub(super) const LEVEL: Angle = Angle(3000);

impl Planner<'_> {
    /// What every motor step needs; `false` if it was refused. Brings the battery in.
    pub(super) fn motor_ready(&mut self, spot: &Spot) -> bool {
        let before = self.errors.len();
        if !self.ahead.rules.props_off {
            self.refuse(spot.statement, Problem::PropsNotRequired);
        }
        if self.ahead.signal_changed {
            self.refuse(spot.statement, Problem::NoPowerCycle);
        }
        self.throttle_known(spot.statement);
        self.battery_in(spot);
        self.props_asked(spot);
        self.errors.len() == before
    }

    /// Guards of a motor step.
    pub(super) fn motor_guards(&self, level: Option<Angle>) -> Vec<Guard> {
        let rules = &self.ahead.rules;
        let mut guards = rules.hands_off();
        guards.push(Guard::Confirmed);
        guards.extend(STILL);
        guards.extend(level.or(rules.level).map(Guard::Level));
        let least = rules.battery_at_least.zip(rules.cells);
        guards.extend(least.map(|(per_cell, cells)| Guard::BatteryAtLeast(per_cell, cells)));
        guards.push(Guard::BatteryIn);
        guards
    }

    /// What arms at this point, or a refusal.
    pub(super) fn arm(&mut self, index: usize) -> Option<BoundFunction> {
        let arm = self.bound(&Function::arm());
        // Link loss may have been found since arm was bound.
        let problem = arm.as_ref().map_or(Some(Problem::ArmNotBound), |arm| self.armed_by_loss(arm));
        if let Some(problem) = problem {
            self.refuse(index, problem);
            return None;
        }
        arm
    }

    /// The idle at this point, or a refusal.
    pub(super) fn idle_here(&mut self, index: usize) -> Option<Pulse> {
        let idle = self.ahead.idle(self.inputs.sheet);
        if idle.is_none() {
            let sheet = self.inputs.sheet.board.clone();
            self.refuse(index, Problem::NoWord { word: SettingWord::Idle.to_string(), sheet });
        }
        idle
    }

    /// Arming must show the idle; refused where motors rest at zero throttle.
    pub(super) fn spins(&mut self, index: usize) -> bool {
        let rests = self.ahead.word(self.inputs.sheet, SettingWord::ZeroThrottle) == Some("rest");
        if rests {
            self.refuse(index, Problem::MotorsRest);
        }
        !rests
    }

    pub(super) fn test_idle(&mut self, index: usize, starts: Option<u32>) {
        let spot = self.spot(index);
        let starts = starts.unwrap_or(search::STARTS);
        if !(1..=ceilings::STARTS).contains(&starts) {
            self.refuse_part(index, Some(Part::Starts), Problem::TooManyStarts(starts));
        }
        let on_board = self.ahead.idle(self.inputs.sheet);
        // A search that was shown is judged where it stands; this is the test by itself.
        let same = |subject: &ProofSubject| {
            let ProofSubject::Idle { pulse, start: None, dwell_ms, starts: of, .. } = subject else { return false };
            on_board.is_some_and(|now| now.0 == *pulse)
                && u128::from(*dwell_ms) >= search::DWELL.as_millis()
                && *of >= starts
        };
        if self.taken_over(index, "idle", &facts::idle_depends_on(self.inputs.sheet), same) {
            return;
        }
        let (ready, spins) = (self.motor_ready(&spot), self.spins(index));
        let (Some(arm), Some(pulse)) = (self.arm(index), self.idle_here(index)) else { return };
        if ready && spins {
            let level = self.ahead.rules.level.unwrap_or(LEVEL);
            let guards = self.motor_guards(Some(level));
            let act = Action::TestIdle { starts, dwell: search::DWELL, pulse, level, arm };
            self.push(&spot, act, Effect::TurnsMotors, guards);
        }
    }

    pub(super) fn test_arm(&mut self, index: usize) {
        let spot = self.spot(index);
        let sheet = self.inputs.sheet;
        let unpowered = sheet.arms_on_usb && sheet.usb_feeds_receiver && self.ahead.battery == Battery::Out;
        if unpowered && !sheet.usb_feeds_motors {
            let (Some(arm), Some(pulse)) = (self.arm(index), self.idle_here(index)) else { return };
            self.throttle_known(index);
            let guards =
                vec![Guard::Disarmed, Guard::ThrottleLow, Guard::ArmSwitchOff, Guard::Fresh, Guard::BatteryOut];
            self.push(&spot, Action::TestArm { arm, powered: false, pulse }, Effect::Asks, guards);
            return;
        }
        let ready = self.motor_ready(&spot);
        let (Some(arm), Some(pulse)) = (self.arm(index), self.idle_here(index)) else { return };
        if ready {
            let guards = self.motor_guards(None);
            self.push(&spot, Action::TestArm { arm, powered: true, pulse }, Effect::TurnsMotors, guards);
        }
    }

    pub(super) fn test_cut(&mut self, index: usize, within: Duration) {
        let spot = self.spot(index);
        let (ready, spins) = (self.motor_ready(&spot), self.spins(index));
        let (Some(arm), Some(pulse)) = (self.arm(index), self.idle_here(index)) else { return };
        if ready && spins {
            let guards = self.motor_guards(None);
            self.push(&spot, Action::TestCut { within, pulse, arm }, Effect::TurnsMotors, guards);
        }
    }

    pub(super) fn test_failsafe(&mut self, index: usize, within: Duration) {
        let spot = self.spot(index);
        let (ready, spins, known) = (self.motor_ready(&spot), self.spins(index), self.loss_action_known(index));
        let (Some(arm), Some(pulse)) = (self.arm(index), self.idle_here(index)) else { return };
        if ready && spins && known {
            let guards = self.motor_guards(None);
            self.push(&spot, Action::TestFailsafe { within, pulse, arm }, Effect::TurnsMotors, guards);
        }
    }

    /// Whether it is known what the board does on link loss; a remark where it does not cut.
    fn loss_action_known(&mut self, index: usize) -> bool {
        let sheet = self.inputs.sheet;
        if facts::held(sheet, &self.ahead.settings, SettingWord::LinkLossAction).is_none() {
            let problem = match sheet.entry(SettingWord::LinkLossAction) {
                Some(entry) => Problem::NotOnBoard(entry.name.to_string()),
                None => Problem::NoWord { word: SettingWord::LinkLossAction.to_string(), sheet: sheet.board.clone() },
            };
            self.refuse(index, problem);
            return false;
        }
        if let Some(action) = self.ahead.word(sheet, SettingWord::LinkLossAction).filter(|action| *action != "cut") {
            let text = format!(
                "on link loss this board is set to {action}, so `test failsafe` would show that it does not \
                 cut: write `failsafe cut motors after 500 ms` and `keep` before it."
            );
            self.remark_at(index, text);
        }
        true
    }

    pub(super) fn test_buzzer(&mut self, index: usize) {
        let spot = self.spot(index);
        let Some(buzzer) = self.bound(&Function("buzzer".to_owned())) else {
            return self.refuse(index, self.not_bound(&Function("buzzer".to_owned())));
        };
        let band = binding::settings_of(self.inputs.sheet, &Function("buzzer".to_owned()));
        if self.taken_over(index, "buzzer", &band, |subject| matches!(subject, ProofSubject::Buzzer)) {
            return;
        }
        // Where the motors are what sounds, current goes through all of them: a step like any other that turns them.
        if self.inputs.sheet.motors_sound_buzzer {
            if self.motor_ready(&spot) {
                let guards = self.motor_guards(None);
                self.push(&spot, Action::TestBuzzer { by_motors: true, buzzer }, Effect::TurnsMotors, guards);
            }
            return;
        }
        self.receiver_fed(&spot);
        let act = Action::TestBuzzer { by_motors: false, buzzer };
        self.push(&spot, act, Effect::Asks, vec![Guard::Disarmed, Guard::Fresh]);
    }

    /// Battery out, measured, and in again; then the motor signal is proved if it is new.
    pub(super) fn power_cycle(&mut self, index: usize) {
        let spot = self.spot(index);
        if self.ahead.battery != Battery::Out {
            self.battery_out(&spot, true);
        }
        let changed = std::mem::take(&mut self.ahead.signal_changed);
        self.battery_in(&spot);
        let sheet = self.inputs.sheet;
        let Some(signal) = self.ahead.word(sheet, SettingWord::Signal).map(str::to_owned) else { return };
        if !changed && (!self.ahead.signal_stated || self.signal_proved(&signal)) {
            return;
        }
        if sheet.motor_run.is_none() {
            let text = format!(
                "This board runs no motor by command, so the signal {signal} is first tested by the next step that \
                 turns the motors."
            );
            return self.remark(text);
        }
        if self.motor_ready(&spot) {
            let guards = self.motor_guards(None);
            let act = Action::ProveSignal { signal, corners: sheet.corners.clone() };
            self.push(&spot, act, Effect::TurnsMotors, guards);
        }
    }

    /// Whether the motor signal carries the loop rate, both as the recipe leaves them. What it does not touch is the
    /// board's own affair.
    pub(super) fn signal_carried(&mut self) {
        let sheet = self.inputs.sheet;
        let changed = |word| self.changed_at.get(&sheet.entry(word)?.name);
        let Some(at) = changed(SettingWord::Signal).or_else(|| changed(SettingWord::LoopRate)).cloned() else { return };
        let rate = facts::held(sheet, &self.ahead.settings, SettingWord::LoopRate).and_then(|(entry, number)| {
            let Value::Quantity(quantity) = convert::decode(entry, number)? else { return None };
            quantity.frequency().ok()
        });
        let signal = self.ahead.word(sheet, SettingWord::Signal).and_then(MotorSignal::from_word);
        let (Some(rate), Some(signal)) = (rate, signal) else { return };
        if !signal.carries(rate.0.into(), false) {
            let problem = Problem::SignalTooSlow { signal: signal.word().to_owned(), rate: rate.to_string() };
            self.errors.push(PlanError { at, problem });
        } else if sheet.speed_telemetry && !signal.is_pulse() && !signal.carries(rate.0.into(), true) {
            let text = format!(
                "Where motor speeds come back on the signal's own wire, {} carries less than {rate}: speeds may be lost.",
                signal.word()
            );
            self.remark(text);
        }
    }

    fn signal_proved(&self, signal: &str) -> bool {
        self.inputs.record.proofs.iter().any(|proof| {
            proof.board == *self.inputs.identity
                && matches!(&proof.subject, ProofSubject::Signal { signal: proved } if proved == signal)
        })
    }
}
