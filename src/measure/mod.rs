//! Pure mathematics of the bench: no state, no clock, nothing of ours imported.

pub mod band_order;
pub mod bands;
pub mod bracket;
pub mod catching;
pub mod checksum;
pub mod clusters;
pub mod find_switch;
pub mod frame;
pub mod intervals;
pub mod level;
pub mod link_loss;
pub mod motor_permutation;
pub mod motor_survey;
pub mod moved;
mod number;
pub mod orientation;
pub mod outliers;
pub mod reliability;
pub mod robust;
pub mod rounding;
pub mod signal_timing;
pub mod stabiliser;
pub mod stick_figures;
pub mod sticks;
pub mod time;
pub mod told;
pub mod turning;
