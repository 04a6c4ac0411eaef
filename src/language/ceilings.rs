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

/// Lowest pulse of a motor run by command, in µs: where the usual range begins.
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

/// Under this a lithium cell takes harm: an alarm so low is refused. *Common practice*; the
/// cut-off of a typical cell is 2.75 V (cell sheet LP-503759-1S-3).
pub const CELL_LOWEST: Voltage = Voltage(3000);

/// Under this an alarm comes late: empty under load is 3.30 V by default in the Zephyr binding
/// `maxim,max17262`.
pub const CELL_LOW: Voltage = Voltage(3200);

/// A full lithium-polymer cell: 4.20 V (cell sheet LP-503759-1S-3).
pub const CELL_FULL: Voltage = Voltage(4200);

/// A full high-voltage cell: 4.35 V. *Common practice*.
pub const CELL_FULL_HIGH_VOLTAGE: Voltage = Voltage(4350);
