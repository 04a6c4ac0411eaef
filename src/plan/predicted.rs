//! The board and the bench as they will stand at a point of the plan.
//!
//! Promises: begins as what was read, and is moved on by what is planned, so later statements see what
//! earlier ones will have written. Must not be here: steps.

use super::facts;
use super::inputs::{Battery, Inputs};
use super::step::{BoundFunction, Guard, SwitchAt, Write};
use crate::board::convert;
/// A switch whose channel and rests are known.
pub(super) use crate::board::radio_card::SwitchEntry as Known;
use crate::board::sheet::{Settings, Sheet};
use crate::board::value::{Number, SettingName};
use crate::language::recipe::{Function, Switch};
use crate::language::setting_word::SettingWord;
use crate::language::units::{Angle, Pulse, Voltage};
use crate::record::ChannelOnLoss;
use std::collections::{BTreeMap, BTreeSet};

/// What `require` lines so far ask of every later motor step.
#[derive(Debug, Clone, Default)]
pub(super) struct Rules {
    pub props_off: bool,
    pub antenna_on: bool,
    pub level: Option<Angle>,
    pub battery_at_least: Option<Voltage>,
    pub cells: Option<u32>,
}

impl Rules {
    /// The first guards of whatever can turn a motor.
    pub fn hands_off(&self) -> Vec<Guard> {
        std::iter::once(Guard::PropsOff).chain(self.antenna_on.then_some(Guard::Antenna)).collect()
    }
}

/// See the file's header.
#[derive(Debug, Clone)]
pub(super) struct PredictedState {
    pub settings: Settings,
    /// Settings whose value only the bench can tell from here on.
    pub open: BTreeSet<SettingName>,
    pub battery: Battery,
    /// Written, and not yet stored and found again after a restart; `None` for a value that only the bench can tell.
    pub unsaved: BTreeMap<SettingName, Option<Write>>,
    /// Something that waits for a find will be written before the next `keep`.
    pub later_unsaved: bool,
    pub props_off: bool,
    pub antenna_on: bool,
    pub signal_changed: bool,
    /// The recipe named the motor signal before this point.
    pub signal_stated: bool,
    /// Switches found or declared so far; `None`: a find before this point will tell.
    pub switches: BTreeMap<Switch, Option<Known>>,
    /// Functions that the recipe bound so far; `None`: unbound.
    pub bound: BTreeMap<Function, Option<BoundFunction>>,
    pub rules: Rules,
    /// What channels do on link loss, as the record has it; nothing once a find before this point will tell.
    pub link_loss: Vec<ChannelOnLoss>,
}

impl PredictedState {
    pub fn new(inputs: &Inputs) -> Self {
        let progress = &inputs.progress;
        Self {
            settings: inputs.settings.clone(),
            open: BTreeSet::new(),
            battery: progress.battery,
            unsaved: BTreeMap::new(),
            later_unsaved: false,
            props_off: progress.props_off,
            antenna_on: progress.antenna_on,
            signal_changed: progress.signal_changed,
            signal_stated: false,
            switches: BTreeMap::new(),
            bound: BTreeMap::new(),
            rules: Rules::default(),
            link_loss: inputs.record.link_loss.clone(),
        }
    }

    /// Whether motors could have power: the battery is not known to be out, or USB feeds them.
    pub fn energised(&self, sheet: &Sheet) -> bool {
        self.battery != Battery::Out || sheet.usb_feeds_motors
    }

    /// Whether writing this would change it.
    pub fn differs(&self, name: &SettingName, to: Number) -> bool {
        self.open.contains(name) || self.settings.get(name).is_none_or(|now| !now.same(to))
    }

    /// The word that a setting of words has; `None` where the sheet lacks it or the bench will tell.
    pub fn word<'s>(&self, sheet: &'s Sheet, word: SettingWord) -> Option<&'s str> {
        let (entry, number) = facts::held(sheet, &self.settings, word)?;
        let (crate::board::sheet::Form::Words(words), Some(number)) = (&entry.form, number.whole()) else {
            return None;
        };
        words.iter().find(|(_, value)| **value == number).map(|(word, _)| word.as_str())
    }

    /// Where a switch is, as far as the plan knows.
    pub fn place_of(&self, switch: &Switch) -> Option<SwitchAt> {
        let known = self.switches.get(switch)?.as_ref()?;
        Some(SwitchAt { channel: known.channel, rests: known.rests.clone() })
    }

    /// The idle that the board will have, as a pulse.
    pub fn idle(&self, sheet: &Sheet) -> Option<Pulse> {
        let (entry, number) = facts::held(sheet, &self.settings, SettingWord::Idle)?;
        convert::idle_pulse(entry, number)
    }
}
