//! Tests of `src/board/`.

mod mavlink;
mod sheet_file;
mod shipped;
