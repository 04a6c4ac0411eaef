//! Tests of `src/record/`.
