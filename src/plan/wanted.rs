//! What the statements of an open batch ask for, before it is known in which order it is written.
//!
//! Must not be here: which numbers (see `values`, `bands`), and the order (see `batch`).

use super::step::Unknown;
use crate::board::effect::Effect;
use crate::board::value::{Number, SettingName};
use crate::language::recipe::Function;
use crate::language::units::Pulse;

/// One setting that a statement of the batch asks for.
#[derive(Debug, Clone)]
pub(super) struct Wanted {
    pub statement: usize,
    pub name: SettingName,
    pub to: Number,
    pub effect: Effect,
    /// The effect stands with the battery out as well.
    pub always: bool,
}

/// A setting that waits for a find.
#[derive(Debug, Clone)]
pub(super) struct Later {
    pub statement: usize,
    pub what: String,
    pub unknown: Vec<Unknown>,
    pub arms: bool,
}

/// The open batch.
#[derive(Debug, Clone, Default)]
pub(super) struct Batch {
    pub wanted: Vec<Wanted>,
    pub bands: Vec<BandWanted>,
    pub later: Vec<Later>,
}

/// Writes in order, each with the statement that asks for it.
#[derive(Debug, Default)]
pub(super) struct Ordered {
    pub closing: Vec<(usize, SettingName, Number)>,
    pub opening: Vec<(usize, SettingName, Number)>,
    /// No safe order exists.
    pub dangerous: bool,
}

/// A binding that a statement of the batch asks for; `None`: unbound.
#[derive(Debug, Clone)]
pub(super) struct BandWanted {
    pub statement: usize,
    pub function: Function,
    pub to: Option<(u32, Vec<(Pulse, Pulse)>)>,
}
