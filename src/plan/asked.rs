//! Which settings of the board a recipe gives a value, and so what it keeps at its end where it has no `keep` there.
//!
//! Promises: what others wrote and the recipe does not ask for is never a reason to store. Must not be here: which values.

use super::compile::Planner;
use super::facts::names;
use crate::board::binding;
use crate::board::value::SettingName;
use crate::language::recipe::{Setting, StatementKind};
use crate::language::sets::sets;
use crate::language::setting_word::SettingWord;

impl Planner<'_> {
    /// Whether something is not kept that the recipe wrote, or that it asks for and found on the board.
    pub(super) fn has_own_to_keep(&self) -> bool {
        let left_before = &self.inputs.progress.left_before;
        self.ahead.later_unsaved
            || self.ahead.unsaved.iter().any(|(name, write)| {
                // What the plan itself finds out and writes has no value yet.
                write.is_none() || !left_before.contains(name) || self.asks_for(name)
            })
    }

    fn asks_for(&self, name: &SettingName) -> bool {
        self.recipe().statements.iter().any(|statement| self.asked_by(&statement.what).contains(name))
    }

    fn asked_by(&self, what: &StatementKind) -> Vec<SettingName> {
        let sheet = self.inputs.sheet;
        match what {
            StatementKind::Bind { function, .. } | StatementKind::Unbind(function) => {
                binding::own_settings(sheet, self.inputs.settings, function)
            }
            StatementKind::Set { setting: Setting::Word(word), .. } => {
                sheet.settings.get(word.as_str()).map(|entry| entry.name.clone()).into_iter().collect()
            }
            StatementKind::Set { setting: Setting::Raw(raw), .. } => SettingName::new(raw).into_iter().collect(),
            StatementKind::IdleSearch(_) => names(sheet, &[SettingWord::Idle]),
            StatementKind::CalibrateLevel => names(sheet, &[SettingWord::LevelRoll, SettingWord::LevelPitch]),
            StatementKind::CalibrateBattery => names(sheet, &[SettingWord::VoltageRatio]),
            StatementKind::OrderMotors => {
                sheet.order.iter().chain(sheet.reversal.iter().flat_map(|reversal| &reversal.names)).cloned().collect()
            }
            what => names(sheet, &sets(what).iter().map(|sets| sets.word).collect::<Vec<_>>()),
        }
    }
}
