//! The worst that a step can do.

use crate::measure::words::words;
use serde::{Deserialize, Serialize};

words! {
    /// Ordered from harmless to worst; a sheet can only raise it.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
    #[serde(rename_all = "kebab-case")]
    pub enum Effect, word {
        /// Only reads and watches.
        Looks = "looks",
        /// Asks the operator something.
        Asks = "asks",
        /// Writes into the board's working memory.
        Writes = "writes",
        /// Stores what was written so that it outlives a restart.
        Stores = "stores",
        /// Restarts the board.
        Restarts = "restarts",
        /// Can turn a motor.
        TurnsMotors = "turns-motors",
    }
}
