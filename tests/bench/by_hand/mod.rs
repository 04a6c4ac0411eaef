//! Bench sessions by hand under the simulated world.

mod kit;
mod whole;
