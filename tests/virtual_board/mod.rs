//! Tests of `src/virtual_board/`.

mod arming;
mod fleet;
mod identity;
mod lines;
mod motors;
mod power;
mod radio;
#[cfg(unix)]
mod served;
mod settings;
mod sheets;
mod station;
mod with_link;
