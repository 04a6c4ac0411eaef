//! Rehearsals: the same core under a simulated world, with a scripted operator.
//!
//! A scripted operator exists on this wire only: [`simulated::SimulatedWorld`] holds the virtual board itself and
//! cannot be built with any other. A rehearsal proves nothing about a real craft.

mod disk;
pub mod fleet;
pub mod operator;
pub mod played;
pub mod rehearse;
pub mod simulated;
pub mod your_craft;
