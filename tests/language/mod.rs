//! Tests of `src/language/`.
