//! Bench sessions by hand under the simulated world.

mod disturbed;
mod findings;
mod kit;
mod refused;
mod run_recipe;
mod said;
mod undone;
mod whole;
mod written;
