//! Pure mathematics of the bench: no state, no clock, nothing of ours imported.

pub mod time;
