//! The live page as it looks: on screens of 80×24 and 120×40, with colour and without, and for a screen reader.

mod kit;
mod plain;
mod whole;

pub use whole::pages_in_colour;
