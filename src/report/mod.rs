//! What happened, what is wrong and what would change, as text and JSON.
//!
//! Knows records, plans and findings. Must not know links, terminals or how a command was called.

pub mod ascii;
pub mod cautions;
pub mod checked;
pub mod crafts;
pub mod difference;
mod fields;
pub mod findings;
pub mod fleet;
pub mod gate;
pub mod html;
pub mod listening;
pub mod page;
pub mod plan_json;
pub mod plan_text;
pub mod rehearsal;
pub mod review;
pub mod sarif;
pub mod screen;
pub mod series;
pub mod sheet;
mod sheet_facts;
pub mod style;
pub mod transcript;
pub mod wire;
pub mod words;
