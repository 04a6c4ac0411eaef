//! Reviews of recipes: statements of who reviewed what and how, each signed, beside the recipe.
//!
//! Promises: a statement counts only with a signature over its very bytes, by a key that the operator trusts for its
//! reviewer. Must not be here: boards, and any question at the bench, of which a review removes none.

pub mod beside;
pub mod signature;
pub mod signers;
pub mod statement;
