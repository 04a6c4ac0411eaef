//! What decides between the core and a wire, a keyboard or a mailbox, as machines without threads, clocks or system calls.
//!
//! Each is told the moment and what came, and says what to do next. The real world pumps them with threads, the
//! simulated one by hand, so no rule of order or time stands twice. Must not be here: what bytes or keys mean.

pub mod keys;
pub mod mailbox;
pub mod port_search;
pub mod writer;
