//! Tests of `src/world/`.
