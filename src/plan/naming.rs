//! Settings in the recipe's words: their names, their numbers, their units.
//!
//! Promises: a setting of a band goes by its function and its part; a name that nobody covers stays the board's
//! own. Must not be here: what is done with them.

use super::effects;
use super::step::{Change, Write};
use crate::board::convert;
use crate::board::sheet::{BandPart, BindingLayout, Form, SettingEntry, Settings, Sheet};
use crate::board::value::{Number, SettingName};
use crate::language::span::Place;

/// See the module.
#[derive(Debug, Clone, Copy)]
pub struct Naming<'a> {
    /// The sheet whose words they are.
    pub sheet: &'a Sheet,
    /// What the board will hold: a row of a table goes by the function that it will have.
    pub then: &'a Settings,
    /// What it holds.
    pub now: &'a Settings,
}

impl<'a> Naming<'a> {
    /// A write with its words.
    #[must_use]
    pub fn write(&self, name: &SettingName, to: Number) -> Write {
        let restart = self.entry_of(name).is_some_and(|entry| entry.restart);
        let (setting, shown) = (self.describe(name), self.show(name, to));
        Write { name: name.clone(), to, setting, shown, restart, ordered: true }
    }

    /// What becomes of a setting, with its words.
    #[must_use]
    pub fn change(&self, name: &SettingName, from: Number, to: Number, at: &Place) -> Change {
        Change {
            setting: self.describe(name),
            on_board: name.clone(),
            from,
            to,
            unit: self.unit(name),
            shown_from: self.show(name, from),
            shown_to: self.show(name, to),
            at: at.clone(),
        }
    }

    fn entry_of(&self, name: &SettingName) -> Option<&'a SettingEntry> {
        effects::entry_of(self.sheet, name)
    }

    /// A setting in the recipe's words; the board's own name where no word covers it.
    #[must_use]
    pub fn describe(&self, name: &SettingName) -> String {
        if let Some((word, _)) = self.sheet.word_of(name) {
            return word.to_owned();
        }
        self.band_setting(name).map_or_else(|| name.to_string(), |(of, part)| format!("{of}: {}", part.word()))
    }

    /// The same with the board's own name, where nothing may be mistaken for another.
    #[must_use]
    pub fn both(&self, name: &SettingName) -> String {
        let words = self.describe(name);
        if words == name.as_str() { words } else { format!("{words} ({name})") }
    }

    /// A number in the recipe's terms.
    #[must_use]
    pub fn show(&self, name: &SettingName, number: Number) -> String {
        if let Some(entry) = self.entry_of(name) {
            return convert::show(entry, number);
        }
        let binding = &self.sheet.binding;
        match (self.band_setting(name), number.whole()) {
            (Some((_, BandPart::Channel)), Some(channel)) if channel == binding.channel_unbound => "none".to_owned(),
            (Some((_, BandPart::From | BandPart::To)), Some(end)) => format!("{end} us"),
            (Some((_, BandPart::Function)), Some(number)) => match &binding.way {
                BindingLayout::Rows { free, .. } if *free == number => "free".to_owned(),
                BindingLayout::Rows { functions, .. } => functions
                    .iter()
                    .find(|(_, value)| **value == number)
                    .map_or_else(|| number.to_string(), |(function, _)| function.0.clone()),
                BindingLayout::Direct(_) => number.to_string(),
            },
            _ => number.to_string(),
        }
    }

    /// The unit of a setting's number; empty for none.
    #[must_use]
    pub fn unit(&self, name: &SettingName) -> String {
        match self.entry_of(name).map(|entry| &entry.form) {
            Some(Form::Whole { unit, .. } | Form::Real { unit }) => unit.clone(),
            Some(Form::Words(_)) => String::new(),
            None => match self.band_setting(name) {
                Some((_, BandPart::From | BandPart::To)) => "us".to_owned(),
                _ => String::new(),
            },
        }
    }

    /// Which band a setting belongs to, and what it is of it.
    pub(super) fn band_setting(&self, name: &SettingName) -> Option<(String, BandPart)> {
        match &self.sheet.binding.way {
            BindingLayout::Direct(bands) => {
                bands.iter().find_map(|(function, band)| Some((function.0.clone(), band.part_of(name)?)))
            }
            BindingLayout::Rows { rows, functions, .. } => (1..).zip(rows).find_map(|(number, row)| {
                let part = row.part_of(name)?;
                // The row goes by the function that it will have, else by the one that leaves it; its own hand by none.
                let hand = row.function.as_ref().filter(|_| part != BandPart::Function);
                let of = [self.then, self.now].into_iter().find_map(|settings| {
                    let now = settings.get(hand?)?;
                    functions.iter().find(|(_, value)| Number::Whole(**value).same(*now))
                });
                Some((of.map_or_else(|| format!("row {number}"), |(function, _)| function.0.clone()), part))
            }),
        }
    }
}
