//! Kinds of virtual board, and how each talks.
//!
//! Plain data; must not be here: what a kind's settings are.

use crate::measure::words::words;

/// The firmware that a board has where nobody asks for another.
pub const FIRMWARE: [u8; 3] = [2, 4, 1];

/// A version in words.
pub fn version(of: [u8; 3]) -> String {
    of.map(|part| part.to_string()).join(".")
}

words! {
    /// Kinds of virtual board.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    pub enum BoardKind, name {
        /// Functions bound by three settings each; MAVLink.
        Finch = "Finch",
        /// Functions bound by a table of rows; MAVLink.
        FinchR = "Finch R",
        /// As the Finch R, but it answers lines of text on a console instead of MAVLink.
        FinchC = "Finch C",
        /// Functions bound by three settings each; packets with a length.
        FinchP = "Finch P",
        /// Functions bound by a table of rows; packets of stuffed bytes.
        FinchQ = "Finch Q",
    }
}

impl BoardKind {
    /// Whether its wire is a console.
    #[must_use]
    pub const fn has_console(self) -> bool {
        matches!(self, Self::FinchC)
    }

    /// Whether it speaks in packets, and if so, whether their bytes are stuffed.
    #[must_use]
    pub(super) const fn packets(self) -> Option<bool> {
        match self {
            Self::Finch | Self::FinchR | Self::FinchC => None,
            Self::FinchP => Some(false),
            Self::FinchQ => Some(true),
        }
    }

    /// Whether its functions are bound by a table of rows.
    pub(super) const fn has_rows(self) -> bool {
        matches!(self, Self::FinchR | Self::FinchC | Self::FinchQ)
    }
}
