//! From a recipe, a sheet, a radio card, the craft's record and a reading of the board to steps.
//!
//! Must not know wires or terminals.

pub mod checks;
pub mod facts;
pub mod inputs;
pub mod problem;
pub mod step;
pub mod words;
