//! Tests of `src/report/`.

mod gate;
mod screen;
