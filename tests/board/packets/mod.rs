//! The packet link: framing, layouts, and the virtual boards that speak in packets.

mod answers;
mod framing;
mod hostile;
mod kit;
mod misfit;
mod on_board;
mod sheet;
