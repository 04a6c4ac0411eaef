//! Kinds of virtual board, and how each talks.
//!
//! Plain data; must not be here: what a kind's settings are.

/// The firmware that a board has where nobody asks for another.
pub const FIRMWARE: [u8; 3] = [2, 4, 1];

/// A version in words.
pub fn version(of: [u8; 3]) -> String {
    of.map(|part| part.to_string()).join(".")
}

/// Kinds of virtual board.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BoardKind {
    /// Functions bound by three settings each; MAVLink.
    Finch,
    /// Functions bound by a table of rows; MAVLink.
    FinchR,
    /// As the Finch R, but it answers lines of text on a console instead of MAVLink.
    FinchC,
    /// Functions bound by three settings each; packets with a length.
    FinchP,
    /// Functions bound by a table of rows; packets of stuffed bytes.
    FinchQ,
}

impl BoardKind {
    /// All kinds.
    pub const ALL: [Self; 5] = [Self::Finch, Self::FinchR, Self::FinchC, Self::FinchP, Self::FinchQ];

    /// The name that the board gives of its kind.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Finch => "Finch",
            Self::FinchR => "Finch R",
            Self::FinchC => "Finch C",
            Self::FinchP => "Finch P",
            Self::FinchQ => "Finch Q",
        }
    }

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
