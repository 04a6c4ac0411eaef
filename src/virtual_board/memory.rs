//! The board's memory: working values, and those that outlive a restart.

use super::config::Encoding;
use super::finch;
use super::make::Make;
use super::numbers::{to_f32, to_i32, to_u32};
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
    pub fn new(make: &Make, settings: usize) -> Self {
        let mut definitions = make.settings.clone();
        definitions.extend(finch::filling(settings.saturating_sub(definitions.len())));
        // Through `take`, so that a real starts as what a single-precision number can hold.
        let working: Vec<f64> =
            definitions.iter().map(|definition| definition.take(definition.factory).unwrap_or(0.0)).collect();
        let (stored, started) = (working.clone(), working.clone());
        Self { stored, started, working, definitions, stores_at_once: make.stores_at_once, changes: 0 }
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

/// A value as it travels in a parameter's float field.
pub fn encode(value: f64, kind: SettingType, encoding: Encoding) -> f32 {
    if kind == SettingType::Real || encoding == Encoding::Cast {
        return to_f32(value);
    }
    f32::from_bits(match kind {
        SettingType::U8 | SettingType::U16 | SettingType::U32 | SettingType::Real => to_u32(value),
        SettingType::I8 | SettingType::I16 | SettingType::I32 => to_i32(value).cast_unsigned(),
    })
}

/// A value out of a parameter's float field.
pub fn decode(field: f32, kind: SettingType, encoding: Encoding) -> f64 {
    if kind == SettingType::Real || encoding == Encoding::Cast {
        return f64::from(field);
    }
    let [b0, b1, b2, b3] = field.to_bits().to_le_bytes();
    match kind {
        SettingType::U8 => f64::from(b0),
        SettingType::I8 => f64::from(i8::from_le_bytes([b0])),
        SettingType::U16 => f64::from(u16::from_le_bytes([b0, b1])),
        SettingType::I16 => f64::from(i16::from_le_bytes([b0, b1])),
        SettingType::U32 | SettingType::Real => f64::from(u32::from_le_bytes([b0, b1, b2, b3])),
        SettingType::I32 => f64::from(i32::from_le_bytes([b0, b1, b2, b3])),
    }
}
