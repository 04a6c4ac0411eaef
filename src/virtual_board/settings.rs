//! What a setting of the board is: its kind on the wire, its factory value and what the board takes.

use super::numbers::to_f32;

/// Kinds of value, after the MAVLink parameter types.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "named as the standard names them")]
pub enum SettingType {
    U8,
    I8,
    U16,
    I16,
    U32,
    I32,
    Real,
}

/// One setting as the board's maker made it.
#[derive(Debug, Clone, PartialEq)]
pub struct Definition {
    /// Its name, at most 16 characters on MAVLink.
    pub name: String,
    /// Its kind on the wire.
    pub kind: SettingType,
    /// What it holds at first.
    pub factory: f64,
    /// The least that it takes.
    pub least: f64,
    /// The most that it takes.
    pub most: f64,
    /// The only values taken, if listed.
    pub only: Vec<f64>,
    /// Values are `least + n × step`; a value between is stored as the nearest. 0: any.
    pub step: f64,
    /// Taken as it is beside all that.
    pub besides: Vec<f64>,
    /// In force after the next start only.
    pub at_start: bool,
}

/// Why the board does not take a value.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// No such setting.
    #[error("no setting {0}")]
    Unknown(String),
    /// Not a number, or infinite.
    #[error("{0} refused: not a number")]
    NotFinite(String),
    /// Another type than the setting's.
    #[error("{0} refused: wrong type")]
    WrongKind(String),
    /// A part of a whole one.
    #[error("{0} refused: whole numbers only")]
    NotWhole(String),
    /// Outside what it takes.
    #[error("{name} refused: takes {least} to {most}")]
    OutOfRange { name: String, least: f64, most: f64 },
    /// None of those listed.
    #[error("{name} refused: takes {only}")]
    NotListed { name: String, only: String },
}

impl Definition {
    /// One that takes any value from `least` to `most`, in force at once.
    #[must_use]
    pub fn new(name: &str, kind: SettingType, factory: f64, least: f64, most: f64) -> Self {
        let (only, besides) = (Vec::new(), Vec::new());
        Self { name: name.to_owned(), kind, factory, least, most, only, step: 0.0, besides, at_start: false }
    }

    /// The value as it will be stored.
    pub(super) fn take(&self, value: f64) -> Result<f64, Refusal> {
        let name = || self.name.clone();
        if !value.is_finite() {
            return Err(Refusal::NotFinite(name()));
        }
        if self.kind == SettingType::Real {
            let value = f64::from(to_f32(value));
            return if value < self.least || value > self.most { Err(self.out_of_range()) } else { Ok(value) };
        }
        if value.fract() != 0.0 {
            return Err(Refusal::NotWhole(name()));
        }
        let among = |all: &[f64]| all.iter().any(|one| one.total_cmp(&value).is_eq());
        if among(&self.besides) {
            return Ok(value);
        }
        if value < self.least || value > self.most {
            return Err(self.out_of_range());
        }
        if !self.only.is_empty() && !among(&self.only) {
            let only = self.only.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
            return Err(Refusal::NotListed { name: name(), only });
        }
        if self.step > 0.0 {
            let most = self.least + ((self.most - self.least) / self.step).floor() * self.step;
            return Ok((self.least + ((value - self.least) / self.step).round() * self.step).min(most));
        }
        Ok(value)
    }

    fn out_of_range(&self) -> Refusal {
        Refusal::OutOfRange { name: self.name.clone(), least: self.least, most: self.most }
    }
}
