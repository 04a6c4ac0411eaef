//! Tests of `src/report/`.

mod findings;
mod gate;
mod page;
mod screen;
