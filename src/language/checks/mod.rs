//! Checks that the text of a recipe decides alone: what would go wrong at the bench, said at the desk.
//!
//! Promises: all findings, never the first only; each with a code of [`codes`], the exact
//! place, and words that say what would happen. Must not be here: what needs a sheet or a card
//! (see the plan's checks), and reading.

pub mod codes;
