//! Tests of `src/virtual_board/`.

mod arming;
mod identity;
mod settings;
mod station;
