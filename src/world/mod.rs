//! The real world: ports, terminal, signals, files and the clock, as threads around one mailbox.
//!
//! Knows no meaning: bytes, keys and lines come and go. Must not be here: any decision about a craft.

pub mod clock;
#[cfg(unix)]
mod drawing;
#[cfg(unix)]
mod ends;
#[cfg(unix)]
pub mod files;
#[cfg(unix)]
pub mod guardian;
mod helper;
#[cfg(unix)]
pub mod line;
pub mod mailbox;
#[cfg(unix)]
mod paged;
#[cfg(unix)]
mod painter;
pub mod panic;
#[cfg(unix)]
mod port;
pub mod ports;
#[cfg(unix)]
mod raw_terminal;
pub mod real;
pub mod replace;
pub mod screen;
#[cfg(unix)]
mod serial;
#[cfg(unix)]
pub mod serve;
#[cfg(unix)]
mod signals;
pub mod system;
#[cfg(unix)]
mod tcp;
#[cfg(unix)]
pub mod terminal;
mod turn;
#[cfg(unix)]
mod udp;
#[cfg(unix)]
mod virtual_wire;
pub mod writer;
