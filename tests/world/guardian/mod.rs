//! The guardian: its machine by itself, and its process over pseudo-terminals, TCP and UDP.

mod machine;
mod process;
