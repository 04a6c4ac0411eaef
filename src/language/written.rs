//! A statement in its canonical words, as the typed recipe carries it.
//!
//! Must not be here: which words those are (see `canonical`).

use super::quantity_kind::QuantityKind;

/// A statement's canonical words, with places for parameters.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Written(pub(super) Vec<Piece>);

#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Piece {
    /// A word, a string or a quantity.
    Text(String),
    /// A parameter, by its number among the recipe's, where this kind of value stands.
    Given(usize, QuantityKind),
    /// Values with commas between; in which order they stand says nothing where they are a set.
    List { items: Vec<Piece>, set: bool },
}
