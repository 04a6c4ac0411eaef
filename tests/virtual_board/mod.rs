//! Tests of `src/virtual_board/`.

mod arming;
mod conduct;
mod console;
mod console_arming;
mod console_laws;
#[cfg(unix)]
mod console_served;
mod false_speeds;
mod faults;
mod fleet;
mod identity;
mod lines;
mod motors;
mod paced;
mod power;
mod protocol_variants;
mod radio;
mod reading;
#[cfg(unix)]
mod served;
mod settings;
mod sheets;
mod station;
pub mod typist;
mod with_link;
