//! The board's memory: working values, and those that outlive a restart.

use super::settings::{Definition, Refusal, SettingType};

/// All settings of one board.
#[derive(Clone)]
pub struct Memory {
    definitions: Vec<Definition>,
    working: Vec<f64>,
    stored: Vec<f64>,
    /// As it was at the last start.
    started: Vec<f64>,
    stores_at_once: bool,
    /// Counts every change of a working value.
    pub changes: u64,
}

impl Memory {
    /// Of a board with these settings, and with so many in all where they are fewer.
    pub fn new(settings: &[Definition], in_all: usize, stores_at_once: bool) -> Self {
        let mut definitions = settings.to_vec();
        definitions.extend(filling(in_all.saturating_sub(definitions.len())));
        // Through `take`, so that a real starts as what a single-precision number can hold.
        let working: Vec<f64> =
            definitions.iter().map(|definition| definition.take(definition.factory).unwrap_or(0.0)).collect();
        let (stored, started) = (working.clone(), working.clone());
        Self { stored, started, working, definitions, stores_at_once, changes: 0 }
    }

    pub fn len(&self) -> usize {
        self.definitions.len()
    }

    pub fn find(&self, name: &str) -> Option<usize> {
        self.definitions.iter().position(|definition| definition.name == name)
    }

    pub fn definition(&self, index: usize) -> Option<&Definition> {
        self.definitions.get(index)
    }

    pub fn definitions(&self) -> &[Definition] {
        &self.definitions
    }

    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.definitions.iter().map(|definition| definition.name.as_str())
    }

    /// The value in force by name; 0 where there is no such setting.
    pub fn get(&self, name: &str) -> f64 {
        let Some(index) = self.find(name) else { return 0.0 };
        let waits = self.definitions.get(index).is_some_and(|definition| definition.at_start);
        let values = if waits { &self.started } else { &self.working };
        values.get(index).copied().unwrap_or(0.0)
    }

    /// Working and stored value by place.
    pub fn at(&self, index: usize) -> Option<(f64, f64)> {
        Some((*self.working.get(index)?, *self.stored.get(index)?))
    }

    /// Changes a working value.
    pub fn set(&mut self, index: usize, value: f64) -> Result<f64, Refusal> {
        let (Some(definition), Some(place)) = (self.definitions.get(index), self.working.get_mut(index)) else {
            return Err(Refusal::Unknown(index.to_string()));
        };
        *place = definition.take(value)?;
        if self.stores_at_once
            && let Some(stored) = self.stored.get_mut(index)
        {
            *stored = *place;
        }
        self.changes += 1;
        Ok(*place)
    }

    /// Stores the working values.
    pub fn store(&mut self) {
        self.stored.clone_from(&self.working);
    }

    /// Forgets what was not stored, as a restart does.
    pub fn recall(&mut self) {
        self.working.clone_from(&self.stored);
        self.started.clone_from(&self.stored);
        self.changes += 1;
    }

    /// Puts the factory values in force; they are not stored by that.
    pub fn factory(&mut self) {
        for (place, definition) in self.working.iter_mut().zip(&self.definitions) {
            *place = definition.take(definition.factory).unwrap_or(0.0);
        }
        self.changes += 1;
    }
}

/// Settings without any effect, for a list of a certain length.
fn filling(count: usize) -> impl Iterator<Item = Definition> {
    (1..=count)
        .map(|number| Definition::new(&format!("SPARE_{number}"), SettingType::I32, 0.0, -1_000_000.0, 1_000_000.0))
}
