//! How the virtual board's console behaves. Plain data.

use std::time::Duration;

/// The console of a board that has one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ConsoleConfig {
    /// From the end of a line to its answer; what the line asks for is done at once.
    pub answers_after: Duration,
    /// Whether the board refuses to arm while its console is open.
    pub blocks_arming: bool,
    /// Whether it says nothing of itself when the board starts: its prompt stands there, and that is all.
    pub no_banner: bool,
}
