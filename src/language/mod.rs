//! Recipes as text: reading, checking and formatting, with a place for every finding.
//!
//! Knows text, spans, units and the typed recipe. Must not know boards' links, terminals or files
//! other than through [`Sources`](sources::Sources).

pub mod bands;
pub mod ceilings;
pub mod checks;
pub mod finding;
pub mod nearest;
pub mod quantity;
pub mod recipe;
pub mod search;
pub mod span;
pub mod turning;
pub mod units;
