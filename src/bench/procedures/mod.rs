//! The bench procedures: linear code over signals, one subject a file.
//!
//! Each takes what it needs as values and gives back what was measured. Must not be here: where in a
//! plan it stands, how it is written down.

pub mod again;
pub mod arm_switch;
pub mod battery;
pub mod calibrate_battery;
pub mod calibrate_level;
pub mod ended_early;
pub mod find_link_loss;
pub mod find_sticks;
pub mod find_switch;
mod full_pack;
pub mod gesture;
pub mod idle_by_hand;
pub mod idle_search;
pub mod judged;
mod margin;
pub mod power_cycle;
pub mod prove_signal;
pub mod require;
mod right_craft;
pub mod single_run;
pub mod start;
pub mod streams;
pub mod test_arm;
pub mod test_attitude;
pub mod test_buzzer;
pub mod test_cut;
pub mod test_failsafe;
pub mod test_idle;
pub mod test_motors;
pub mod test_sticks;
pub mod told_turning;
mod tried_cable;
pub mod tried_claims;
pub mod voided;
