//! The console of the Finch C: a wire of typed lines and answers instead of MAVLink.
//!
//! A prompt, an echo, answers of one line or of pages, and lines that the board says unasked. Verbs and words
//! are its own.

mod config;
mod number;
mod terminal;
mod verbs;

pub use config::ConsoleConfig;
pub use terminal::Console;
