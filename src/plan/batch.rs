//! A batch: an unbroken run of settings, written as one, stored and restarted if a setting takes it.
//!
//! Promises: only what differs is written; arm's bands are closed first and opened last, so a batch
//! that breaks off leaves a craft that cannot arm; they are opened over a receiver that is in force.
//! Must not be here: which numbers (see `values`, `bands`).

use super::compile::{Planner, Spot};
use super::effects;
use super::inputs::Battery;
use super::step::{Action, Guard, Step, Write};
use super::titles;
use super::wanted::Later;
use crate::board::effect::Effect;
use crate::board::value::{Number, SettingName};
use crate::language::setting_word::SettingWord;

impl Planner<'_> {
    /// Ends the open batch, if there is one, and lays down its steps.
    pub(super) fn close_batch(&mut self) {
        let batch = std::mem::take(&mut self.batch);
        if batch.wanted.is_empty() && batch.bands.is_empty() && batch.later.is_empty() {
            return;
        }
        let energised = self.ahead.energised(self.inputs.sheet);
        let mut effect = Effect::Writes;
        let mut plain = Vec::new();
        for wanted in &batch.wanted {
            if self.ahead.differs(&wanted.name, wanted.to) {
                let worst = if energised || wanted.always || wanted.effect != Effect::TurnsMotors {
                    wanted.effect
                } else {
                    Effect::Writes
                };
                effect = effect.max(worst);
                plain.push((wanted.statement, wanted.name.clone(), wanted.to));
            }
        }
        let (others, arm) = self.order_bands(&batch.bands);
        // A band that has the motors sound is opened like one that arms.
        let sounds =
            self.inputs.sheet.motors_sound_buzzer && batch.bands.iter().any(|band| band.function.0 == "buzzer");
        if others.dangerous || energised && sounds && !others.opening.is_empty() {
            effect = Effect::TurnsMotors;
        }
        let opens = arm.dangerous || energised && !arm.opening.is_empty();
        let with_arm = if opens { Effect::TurnsMotors } else { effect };
        let receiver = plain.iter().find(|(_, name, _)| self.is_receiver(name)).map(|(statement, ..)| *statement);
        if let Some(statement) = receiver {
            self.receiver_first(statement);
        }
        let first = [arm.closing, plain, others.closing, others.opening].concat();
        // Over a receiver that is not in force yet nothing is heard, and unheard no arm is bound.
        let (first, then) = match receiver {
            Some(_) => (first, arm.opening),
            None => ([first, arm.opening].concat(), Vec::new()),
        };
        let mut restart = self.write(first, if receiver.is_some() { effect } else { with_arm });
        if !then.is_empty() {
            if let Some(spot) = restart.take() {
                self.store_and_restart(&spot);
            }
            restart = self.write(then, with_arm);
        }
        for later in batch.later {
            self.later(later, energised);
        }
        if let Some(spot) = restart {
            self.store_and_restart(&spot);
        }
    }

    /// Whether a setting says what the board listens to.
    fn is_receiver(&self, name: &SettingName) -> bool {
        [SettingWord::ReceiverProtocol, SettingWord::ReceiverPort]
            .into_iter()
            .any(|word| self.inputs.sheet.entry(word).is_some_and(|entry| entry.name == *name))
    }

    /// A remark where the radio is waited for above the line that says what the board listens to.
    fn receiver_first(&mut self, statement: usize) {
        let waits = |step: &&Step| {
            matches!(
                step.act,
                Action::RequireThrottleLow
                    | Action::RequireSwitch { .. }
                    | Action::BatteryIn
                    | Action::FindSwitch { .. }
                    | Action::FindSticks { .. }
                    | Action::TestSticks(_)
                    | Action::FindLinkLoss
            )
        };
        let Some(step) = self.steps.iter().find(waits) else { return };
        let text = format!(
            "what the board listens to is changed here, and the step \"{}\" above waits for the radio: if nothing is heard \
             there, write this line above it.",
            titles::title(&step.act)
        );
        self.remark_at(statement, text);
    }

    /// The write step; the spot of it if a change takes a restart.
    fn write(&mut self, all: Vec<(usize, SettingName, Number)>, effect: Effect) -> Option<Spot> {
        let first = all.iter().map(|(statement, ..)| *statement).min()?;
        let spot = self.spot(first);
        let sheet = self.inputs.sheet;
        let is = |name: &SettingName, word| sheet.entry(word).is_some_and(|entry| entry.name == *name);
        let mut writes: Vec<Write> = Vec::new();
        for (statement, name, to) in all {
            self.changed_at.insert(name.clone(), self.spot(statement).at);
            self.ahead.signal_changed |= is(&name, SettingWord::Signal);
            let write = self.write_of(&name, to);
            self.ahead.settings.insert(name.clone(), to);
            self.ahead.open.remove(&name);
            self.ahead.unsaved.insert(name, Some(write.clone()));
            writes.push(write);
        }
        let restart = writes.iter().any(|write| write.restart);
        let guards = self.write_guards(&spot, effect, true);
        self.push(&spot, Action::Write(effects::placed(sheet, writes)), effect, guards);
        restart.then_some(spot)
    }

    fn later(&mut self, later: Later, energised: bool) {
        let spot = self.spot(later.statement);
        let effect = if later.arms && energised { Effect::TurnsMotors } else { Effect::Writes };
        let guards = self.write_guards(&spot, effect, true);
        self.push(&spot, Action::Later { what: later.what }, effect, guards);
        self.unknown.extend(later.unknown);
        self.ahead.later_unsaved = true;
    }

    /// `keep`: stores, restarts and reads back, if something was written since the last.
    pub(super) fn keep(&mut self, index: usize) {
        if self.ahead.unsaved.is_empty() && !self.ahead.later_unsaved {
            return;
        }
        let spot = self.spot(index);
        self.store_and_restart(&spot);
    }

    fn store_and_restart(&mut self, spot: &Spot) {
        if !self.inputs.sheet.stores_at_once {
            let guards = self.write_guards(spot, Effect::Stores, false);
            self.push(spot, Action::Store, Effect::Stores, guards);
        }
        let arms = self.ahead.energised(self.inputs.sheet) && self.can_arm();
        let effect = if arms { Effect::TurnsMotors } else { Effect::Restarts };
        let guards = self.write_guards(spot, effect, false);
        let expect = std::mem::take(&mut self.ahead.unsaved).into_values().flatten().collect();
        self.ahead.later_unsaved = false;
        self.push(spot, Action::Restart { expect }, effect, guards);
    }

    /// Guards of a step that writes, stores or restarts. Asks for the propellers where it can turn a motor.
    pub(super) fn write_guards(&mut self, spot: &Spot, effect: Effect, writes: bool) -> Vec<Guard> {
        let mut guards = Vec::new();
        if effect == Effect::TurnsMotors {
            if self.ahead.battery == Battery::Unknown {
                let text = "It is not known whether the battery is in, so writes and restarts count as if it were. \
                            `require battery out` near the top has most of them turn no motor.";
                self.remark(text.to_owned());
            }
            self.props_asked(spot);
            guards.extend(self.ahead.rules.hands_off());
            guards.push(Guard::Confirmed);
        }
        guards.push(Guard::Disarmed);
        if self.ahead.battery == Battery::Out {
            guards.push(Guard::BatteryOut);
        } else {
            self.throttle_known(spot.statement);
            guards.extend([Guard::ThrottleLow, Guard::ArmSwitchOff, Guard::OutputsAtRest, Guard::Fresh]);
        }
        if writes {
            guards.push(Guard::EncodingProved);
        }
        guards
    }
}
