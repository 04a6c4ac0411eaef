//! Tests of `src/report/`.

mod gate;
