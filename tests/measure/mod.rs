//! Tests of `src/measure/`.
