//! Bench sessions by hand under the simulated world.

mod ahead;
mod disturbed;
mod findings;
mod kept_before;
pub(super) mod kit;
mod refused;
mod run_recipe;
mod said;
mod shown_before;
mod undone;
mod whole;
mod written;
