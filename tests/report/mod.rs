//! Tests of `src/report/`.

mod attended;
mod contrast;
mod findings;
mod gate;
mod page;
mod screen;
mod sizes;
mod typed;
