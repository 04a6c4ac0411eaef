//! Tests of `src/board/console/` and of the sheets that describe a console.

mod sheet;
