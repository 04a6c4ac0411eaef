//! Tests of `src/plan/`.
