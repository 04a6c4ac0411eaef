//! The bench session: statements typed one at a time on a live board, recipes gone through from its prompt, with looks,
//! undo and a recipe at its end.
//!
//! The same core, guards and procedures as a run: a statement typed here is planned, asked and carried out by the
//! very code that a recipe's statement is. Must not be here: line editing, layout.

mod beside;
pub mod commands;
pub mod complete;
pub mod draft;
mod held;
mod help;
mod leaving;
mod look;
mod recover;
mod repl;
mod run_recipe;
mod session;
mod statement;
mod under_way;
mod undo;
mod write_out;

pub use beside::beside;
pub use repl::{begin, go_on};
pub use session::{InteractiveJob, InteractiveSession};
