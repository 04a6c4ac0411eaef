//! The built-in ceilings, in one table: no recipe, sheet or card raises them.
//!
//! Promises: each has its unit and its reason. Must not be here: how a ceiling is enforced while
//! motors turn (see the bench), and limits of single boards (see their sheets).

use super::units::{Percent, Pulse, Voltage};
use std::ops::RangeInclusive;
use std::time::Duration;

/// Highest pulse of a motor run by command, highest idle while searching, and highest fixed idle, in µs. A quarter of the
/// usual range of 1000 to 2000 µs: far above any idle of a small craft, far below lift.
pub const PULSE: Pulse = Pulse(1250);

/// [`PULSE`] as a share of the range from 1000 to 2000 µs.
pub const IDLE_SHARE: Percent = Percent(2500);

/// Where the usual range begins, in µs: what motors at rest are told, and the lowest pulse of one run by command.
pub const REST: Pulse = Pulse(1000);

/// Motors that a run by command can name. Source: MAVLink `common`, actuator outputs are numbered to 16.
pub const MOTORS: RangeInclusive<u8> = 1..=16;

/// Largest step of an idle search in µs: a larger one could leap from still to fast.
pub const STEP: Pulse = Pulse(50);

/// Longest single turning of a motor, the watch's own limit, and longest lease of a motor run by command.
pub const TURNING: Duration = Duration::from_secs(5);

/// Longest turning of one motor without a pause, for its heat.
pub const TURNING_WITHOUT_PAUSE: Duration = Duration::from_secs(10);

/// Longest turning of one motor within [`HEAT_WINDOW`], for its heat.
pub const TURNING_IN_WINDOW: Duration = Duration::from_secs(60);

/// See [`TURNING_IN_WINDOW`].
pub const HEAT_WINDOW: Duration = Duration::from_secs(300);

/// Longest wait between a lost link and cut motors.
pub const LINK_LOSS_WAIT: Duration = Duration::from_secs(2);

/// Longest dwell of one start in a search: with its deadline it stays inside [`TURNING`].
pub const DWELL: Duration = Duration::from_secs(4);

/// Most starts of one value.
pub const STARTS: u32 = 20;

/// Most values of one search.
pub const VALUES: i64 = 40;

/// Half the least distance between two rest pulses in µs: what the noise of an unmeasured radio
/// is allowed on each side.
pub const REST_MARGIN: Pulse = Pulse(50);

/// Farthest end of a band from the rest pulse that it is for, in µs.
pub const BAND_REACH: Pulse = Pulse(250);

/// Voltages of a cell that alarms are held against.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cell {
    /// Under this a cell takes harm: an alarm so low is refused.
    pub lowest: Voltage,
    /// Under this an alarm comes late.
    pub low: Voltage,
    /// Where packs are commonly landed.
    pub landed: Voltage,
    /// A full cell.
    pub full: Voltage,
}

/// A lithium-polymer cell. *Common practice*: 3.0 V harms it (the cut-off of cell sheet LP-503759-1S-3 is 2.75 V), empty
/// under load is 3.30 V by default in the Zephyr binding `maxim,max17262`; full: 4.20 V (the same cell sheet).
pub const LIPO: Cell = Cell { lowest: Voltage(3000), low: Voltage(3200), landed: Voltage(3400), full: Voltage(4200) };

/// A high-voltage lithium-polymer cell: full at 4.35 V. *Common practice*.
pub const LIHV: Cell = Cell { full: Voltage(4350), ..LIPO };

/// A lithium-ion cell, which gives its charge down to a lower voltage. *Common practice*: discharged to 2.5 V at least,
/// full at 4.20 V.
pub const LIION: Cell = Cell { lowest: Voltage(2500), low: Voltage(2800), landed: Voltage(3000), full: Voltage(4200) };

/// What one cell has of a voltage that no cell can have, and a pack of so many can.
#[must_use]
pub fn each_cell(volts: Voltage, cells: Option<u32>) -> Option<Voltage> {
    let each = Voltage(volts.0 / i32::try_from(cells.filter(|cells| *cells > 1)?).ok()?);
    (volts > LIHV.full && (LIION.lowest..=LIHV.full).contains(&each)).then_some(each)
}
