//! Tests of `src/record/`.

mod crash_points;
mod disk;
mod files;
mod interrupted;
mod recovered;
mod samples;
mod series;
