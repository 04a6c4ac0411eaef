//! How screens and pages may look.

/// How it may look.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Style {
    /// Colour, beside what the words say.
    pub colour: bool,
    /// Linear: `name: value`, one fact a line, no frames, nothing redrawn.
    pub plain: bool,
    /// The terminal shows no more than ASCII.
    pub ascii: bool,
}
