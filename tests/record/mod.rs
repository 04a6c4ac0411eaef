//! Tests of `src/record/`.

mod disk;
mod files;
mod interrupted;
