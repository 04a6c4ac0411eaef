//! Tests of `src/rehearsal/`.
