//! Tests of `src/virtual_board/`.
