//! What an idle found with a full pack says of an empty one, which starts motors worse.
//!
//! Must not be here: any guard; a pack is measured before a start elsewhere.

use crate::bench::session::context::SessionContext;
use crate::language::units::Pulse;
use crate::seam::ui::Tone;

/// Above so many volts a cell a pack starts motors better than it will later, and to so many it is flown empty (*common
/// practice*).
const FULL: f64 = 4.0;
const EMPTY: f64 = 3.5;
/// What a cell in use can have, volts (*common practice*).
const CELL: std::ops::Range<f64> = 3.3..4.4;

impl SessionContext {
    /// Says of an idle that was found with a full pack what it comes to with an empty one.
    pub(in crate::bench) fn full_pack(&self, lowest: Pulse, kept: Pulse) {
        let told = self.facts().map_or(1, |facts| facts.cells);
        let Some(volts) = self.volts() else { return };
        let Some(each) = cells(volts, told).map(|cells| volts / f64::from(cells)).filter(|each| *each > FULL) else {
            return;
        };
        // What turns a motor out of standstill is duty times volts.
        let needed = 1000.0 + f64::from(lowest.0 - 1000) * each / EMPTY;
        self.line(
            Tone::Warning,
            format!(
                "Found at {each:.2} V per cell: an emptier pack starts the motors worse. By the volts alone, what \
                 {lowest} does now takes about {needed:.0} us at {EMPTY} V, and {kept} is kept: `test idle` with such a \
                 pack too."
            ),
        );
    }
}

/// The cells of a pack: as the board was told where the volts allow it, else by the volts where they allow one number only.
fn cells(volts: f64, told: u32) -> Option<u32> {
    let fit = |cells: &u32| CELL.contains(&(volts / f64::from(*cells)));
    if fit(&told) {
        return Some(told);
    }
    let mut all = (1..=12).filter(fit);
    all.next().filter(|_| all.next().is_none())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_counted_where_only_one_number_can_be() {
        assert_eq!([cells(8.3, 2), cells(8.3, 1), cells(12.5, 1), cells(4.1, 1)], [Some(2), Some(2), Some(3), Some(1)]);
        // Four at 4.2 V or five at 3.4 V; and what no pack has.
        assert_eq!([cells(16.8, 4), cells(16.8, 5), cells(17.0, 1), cells(2.0, 1)], [Some(4), Some(5), None, None]);
    }
}
