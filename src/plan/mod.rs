//! From a recipe, a sheet, a radio card, the craft's record and a reading of the board to steps.
//!
//! Must not know wires or terminals.

pub mod abilities;
mod asked;
mod bands;
mod batch;
mod calibrate;
pub mod checks;
pub mod compile;
pub mod door;
pub mod effects;
pub mod explained;
pub mod facts;
mod finds;
mod fingerprint;
mod guard;
pub mod inputs;
mod motor;
pub mod motor_layout;
pub mod motor_order;
pub mod naming;
mod order;
mod predicted;
pub mod problem;
pub mod remark;
mod requires;
pub mod restore;
mod search;
mod shown;
pub mod step;
pub mod subject;
pub mod titles;
pub mod trial;
mod values;
mod wanted;
