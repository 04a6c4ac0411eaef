//! Tests of `src/board/`.

mod sheet_file;
mod shipped;
