//! Tests of `src/world/`.

mod back;
mod files;
mod hold;
mod keys;
mod kit;
mod line;
mod page;
mod ports;
mod terminal;
mod virtual_wire;
mod wires;
