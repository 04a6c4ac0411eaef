//! The console of a board that has one: a wire of typed lines and answers instead of MAVLink.
//!
//! A prompt, an echo, answers of one line or of pages, and lines that the board says unasked, in the dialect of its make.

mod config;
mod dialect;
mod finch_c;
mod number;
mod terminal;
mod verbs;

pub use config::ConsoleConfig;
pub use dialect::{Dialect, Exchange, Form, IdForm, Part, Slot, Verb};
pub use finch_c::finch_c;
pub use terminal::Console;
