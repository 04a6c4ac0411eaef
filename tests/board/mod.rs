//! Tests of `src/board/`.
