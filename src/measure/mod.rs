//! Pure mathematics of the bench: no state, no clock, nothing of ours imported.

pub mod band_order;
pub mod bands;
pub mod clusters;
pub mod find_switch;
pub mod frame;
mod number;
pub mod receiver;
pub mod reliability;
pub mod robust;
pub mod time;
