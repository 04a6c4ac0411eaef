//! Tests of `src/virtual_board/`.

mod arming;
mod identity;
mod lines;
mod motors;
mod power;
mod radio;
mod settings;
mod sheets;
mod station;
