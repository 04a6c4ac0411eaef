//! The language server: what `check`, `format` and the dry run know, told to an editor while somebody types.
//!
//! Promises: every request is answered or refused, whatever else came; no message ends the server but `exit` and the
//! end of its input; nothing is written, no board is met. Source: Language Server Protocol 3.17. Must not be here:
//! findings, the grammar, plans, terminals.

mod actions;
mod against;
mod answers;
mod buffers;
mod completion;
mod diagnostics;
mod edits;
mod folders;
mod frames;
mod hover;
mod markdown;
mod names;
mod positions;
mod server;
mod sheet_words;
mod symbols;
mod uri;
mod workspace;

pub use server::serve;
pub use workspace::Setup;
