//! Tests of `src/report/`.
