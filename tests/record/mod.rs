//! Tests of `src/record/`.

mod crash_points;
mod disk;
mod files;
mod interrupted;
mod last_state;
mod recovered;
mod samples;
mod series;
