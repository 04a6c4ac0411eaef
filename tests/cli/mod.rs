//! Tests of `src/cli/`.
