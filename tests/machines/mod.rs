//! Tests of `src/machines/`: every rule of order and time, without threads and without waiting.

mod keys;
mod mailbox;
mod port_search;
mod writer;
