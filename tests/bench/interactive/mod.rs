//! Bench sessions by hand under the simulated world.

mod disturbed;
mod findings;
mod kit;
mod refused;
mod said;
mod undone;
mod whole;
