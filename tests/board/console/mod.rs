//! Tests of `src/board/console/` and of the sheets that describe a console.

mod answers;
mod kit;
mod on_board;
mod sheet;
