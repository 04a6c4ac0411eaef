//! The bench: carries plans and typed statements out on a board, without any input or output.
//!
//! Must not know how bytes or a terminal look, and holds no guard of its own: those stand in `interlock`.

pub mod attended;
pub mod interactive;
pub mod monitor;
pub mod operations;
pub mod procedures;
pub mod session;
