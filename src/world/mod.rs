//! The real world: ports, terminal, signals, files and the clock, as threads around one mailbox.
//!
//! Knows no meaning: bytes, keys and lines come and go. Must not be here: any decision about a craft.

pub mod replace;
pub mod screen;
#[cfg(unix)]
pub mod serve;
