//! Recipes as text: reading, checking and formatting, with a place for every finding.
//!
//! Knows text, spans, units and the typed recipe. Must not know boards' links, terminals or files
//! other than through [`Sources`](sources::Sources).

pub mod again;
mod agree;
pub mod bands;
pub mod canonical;
pub mod ceilings;
pub mod characters;
pub mod checks;
pub mod codes;
pub mod complete;
pub mod difference;
pub mod explain;
pub mod finding;
pub mod format;
mod givens;
mod grammar;
mod header;
pub mod known;
pub mod layout;
pub mod limits;
mod lines;
mod lower;
mod mend;
mod near_misses;
pub mod outline;
pub mod quantity;
mod quantity_kind;
mod reader;
pub mod recipe;
pub mod reference;
pub mod root;
pub mod search;
pub mod sets;
pub mod setting_word;
pub mod sources;
pub mod span;
pub mod statement;
mod syntax;
mod tree;
pub mod turning;
pub mod units;
mod uses;
mod value;
mod written;

pub use lines::goes_on;
pub use reader::{Reading, read, read_statement};
pub use uses::cannot_read;
