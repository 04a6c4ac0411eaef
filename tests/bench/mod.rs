//! Tests of `src/bench/`.
