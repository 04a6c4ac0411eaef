//! The worst that a step can do.

use serde::{Deserialize, Serialize};

/// Ordered from harmless to worst; a sheet can only raise it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Effect {
    /// Only reads and watches.
    Looks,
    /// Asks the operator something.
    Asks,
    /// Writes into the board's working memory.
    Writes,
    /// Stores what was written so that it outlives a restart.
    Stores,
    /// Restarts the board.
    Restarts,
    /// Can turn a motor.
    TurnsMotors,
}

impl Effect {
    /// All, from harmless to worst.
    pub const ALL: [Self; 6] = [Self::Looks, Self::Asks, Self::Writes, Self::Stores, Self::Restarts, Self::TurnsMotors];

    /// The word for it in documents and records.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Looks => "looks",
            Self::Asks => "asks",
            Self::Writes => "writes",
            Self::Stores => "stores",
            Self::Restarts => "restarts",
            Self::TurnsMotors => "turns-motors",
        }
    }
}
