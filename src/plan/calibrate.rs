//! What is told by the craft held in hands and by a meter: attitude, level, the pack's voltage.
//!
//! Promises: what a proof in the record shows of the values on the board is not calibrated again. Must not be here: how
//! it is measured (see the bench).

use super::compile::{Planner, Spot};
use super::facts;
use super::inputs::Battery;
use super::problem::Problem;
use super::step::{Action, Guard, Unknown};
use crate::board::effect::Effect;
use crate::board::sheet::SettingEntry;
use crate::board::value::SettingName;
use crate::language::setting_word::SettingWord;
use crate::record::ProofSubject;

impl<'a> Planner<'a> {
    /// The craft is held in hands: without the battery.
    pub(super) fn test_attitude(&mut self, index: usize) {
        let spot = self.spot(index);
        if self.ahead.battery == Battery::In {
            return self.refuse(index, Problem::CraftInHands);
        }
        if self.ahead.battery != Battery::Out {
            self.battery_out(&spot, false);
        }
        self.push(&spot, Action::TestAttitude, Effect::Asks, vec![Guard::Disarmed, Guard::BatteryOut]);
    }

    pub(super) fn calibrate_level(&mut self, index: usize) {
        let spot = self.spot(index);
        let (Some(roll), Some(pitch)) =
            (self.calibrated(index, SettingWord::LevelRoll), self.calibrated(index, SettingWord::LevelPitch))
        else {
            return;
        };
        let needed = facts::level_depends_on(self.inputs.sheet);
        if self.is_known(index, "level is level", &needed, |subject| *subject == ProofSubject::Level) {
            return;
        }
        let guards = self.write_guards(&spot, Effect::Writes, true);
        let act = Action::CalibrateLevel {
            names: [roll.name.clone(), pitch.name.clone()],
            restart: roll.restart || pitch.restart,
        };
        self.push(&spot, act, Effect::Writes, guards);
        self.will_be_known(&spot, SettingWord::LevelRoll, roll);
        self.will_be_known(&spot, SettingWord::LevelPitch, pitch);
    }

    pub(super) fn calibrate_battery(&mut self, index: usize) {
        let spot = self.spot(index);
        let Some(entry) = self.calibrated(index, SettingWord::VoltageRatio) else { return };
        let needed = facts::voltage_depends_on(self.inputs.sheet);
        if self.is_known(index, "the voltage is shown as it is", &needed, |subject| *subject == ProofSubject::Voltage) {
            return;
        }
        self.battery_in(&spot);
        self.props_asked(&spot);
        let mut guards = vec![Guard::PropsOff];
        guards.extend(self.write_guards(&spot, Effect::Writes, true));
        guards.push(Guard::BatteryIn);
        let act = Action::CalibrateBattery { name: entry.name.clone(), restart: entry.restart };
        self.push(&spot, act, Effect::Writes, guards);
        self.will_be_known(&spot, SettingWord::VoltageRatio, entry);
    }

    /// The entry of a setting that is calibrated, held by the board, or a refusal.
    fn calibrated(&mut self, index: usize, word: SettingWord) -> Option<&'a SettingEntry> {
        let sheet = self.inputs.sheet;
        let Some(entry) = sheet.entry(word) else {
            self.refuse(index, Problem::NoWord { word: word.to_string(), sheet: sheet.board.clone() });
            return None;
        };
        if !self.inputs.settings.contains_key(&entry.name) {
            self.refuse(index, Problem::NotOnBoard(entry.name.to_string()));
            return None;
        }
        Some(entry)
    }

    /// Whether the record shows it of the values that the board has; who types it at the prompt wants it done.
    fn is_known(
        &mut self,
        index: usize,
        what: &str,
        needed: &[SettingName],
        is: impl Fn(&ProofSubject) -> bool,
    ) -> bool {
        if self.inputs.by_hand {
            return false;
        }
        let Some(proof) = self.shown(needed, |proof| is(&proof.subject)) else { return false };
        self.proofs.push(proof);
        self.remark_at(
            index,
            format!("{what}, as shown on {} with what the board has; it is not done again.", proof.at),
        );
        true
    }

    /// A value that only the bench can tell from here on.
    fn will_be_known(&mut self, spot: &Spot, word: SettingWord, entry: &SettingEntry) {
        let (least, most) = entry.range.unwrap_or((f64::MIN, f64::MAX));
        let unit = self.naming().unit(&entry.name);
        self.unknown.push(Unknown { setting: word.to_string(), least, most, unit, at: spot.at.clone() });
        self.changed_at.insert(entry.name.clone(), spot.at.clone());
        self.ahead.open.insert(entry.name.clone());
        self.ahead.unsaved.insert(entry.name.clone(), None);
    }
}
