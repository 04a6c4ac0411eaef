//! Tests of `src/record/`.

mod files;
mod interrupted;
