//! How screens and pages may look, and the colours that both draw with.
//!
//! Promises: each colour is read on a black ground and on a white one at a contrast of 4.5 at least, or brings its ground
//! along. Must not be here: what is drawn.
//!
//! Source of the numbers: xterm's table of 256 colours, since what a terminal makes of the first sixteen differs.

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

/// What stands back.
pub(super) const QUIET: u8 = 243;
/// It is as it should be.
pub(super) const GOOD: u8 = 29;
/// Mind this.
pub(super) const WARNING: u8 = 131;
/// What motors are about to do, or do: text and ground, unlike every other warning.
pub(super) const DANGER: (u8, u8) = (231, 124);
