//! Tests of `src/world/`.

mod files;
mod guardian;
mod hold;
mod kit;
mod line;
mod page;
mod ports;
mod reconnect;
mod strip;
mod terminal;
mod virtual_wire;
mod wires;
