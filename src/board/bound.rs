//! Where functions are on: by channel and pulse, by the positions of a switch.
//!
//! Must not be here: which settings make it so (see `binding`).

use super::binding::{BoundNow, bound_now, functions};
use super::sheet::{Settings, Sheet};
use crate::language::recipe::Function;
use crate::language::units::Pulse;

impl BoundNow {
    /// Whether the function is on while this channel has this pulse.
    #[must_use]
    pub fn is_on(&self, channel: u32, pulse: Pulse) -> bool {
        self.channel == channel && self.from <= pulse && pulse < self.to
    }
}

/// In which positions of a switch, by its channel and rest pulses, one of these bands is on.
#[must_use]
pub fn positions_on(bands: &[BoundNow], channel: u32, rests: &[Pulse]) -> Vec<u32> {
    let on = |rest: &Pulse| bands.iter().any(|band| band.is_on(channel, *rest));
    (0..).zip(rests).filter(|(_, rest)| on(rest)).map(|(position, _)| position).collect()
}

/// Every band of every function that can be read; sorted by function, then as [`bound_now`].
#[must_use]
pub fn all_bound<'s>(sheet: &'s Sheet, settings: &Settings) -> Vec<(&'s Function, BoundNow)> {
    let bands = |function| bound_now(sheet, settings, function).unwrap_or_default();
    let of = |function| bands(function).into_iter().map(move |band| (function, band));
    functions(sheet).into_iter().flat_map(of).collect()
}
