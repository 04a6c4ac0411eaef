//! How a run can end other than well: few kinds, each with its exit code decided in one place.
//!
//! Must not be here: words on how to go on (the report's), or codes of other commands.

use super::prompt::Declined;
use super::seam::OpenError;
use crate::record::RecordError;

/// Why nothing more is done.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Fault {
    /// The operator said no.
    #[error("{what}: {why}")]
    Declined {
        /// What was asked.
        what: String,
        /// How it was declined.
        why: Declined,
    },
    /// A guard does not hold, with what to do.
    #[error("{guard} {hint}")]
    Refused {
        /// What does not hold, a sentence.
        guard: String,
        /// What to do, a sentence.
        hint: String,
    },
    /// The operator did not do in time what was asked for.
    #[error("nothing happened for {seconds} s: {what}")]
    TimedOut {
        /// What was waited for.
        what: String,
        /// How long.
        seconds: u64,
    },
    /// A confirmation grew too old before its start, or was used up: nothing turned, it is asked again.
    #[error(
        "the answer came more than 10 s before the start, or the bench was not at rest three times, so nothing was started; put everything in place, then start again"
    )]
    StaleAnswer,
    /// A port could not be opened.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// Nobody answers on the port.
    #[error("{port} is open, but no board answers on it")]
    Silent {
        /// Which.
        port: String,
    },
    /// The link went away without being asked to.
    #[error("the link to the board was lost")]
    LinkLost,
    /// The board did not come back after a restart.
    #[error("the board did not come back within {0} s after its restart")]
    NotBack(u64),
    /// Another board than the one the run began with.
    #[error("another board answers now: {now} instead of {was}")]
    AnotherBoard {
        /// Id before.
        was: String,
        /// Id now.
        now: String,
    },
    /// The board did not answer a request, or refused it.
    #[error("{what}: {why}")]
    Board {
        /// What was asked of it.
        what: String,
        /// What came back, in words.
        why: String,
    },
    /// The board was found armed.
    #[error(
        "the board is armed: it may be flying, or about to. Nothing was written to it, and no stop was sent. Disarm it, then start again."
    )]
    FoundArmed,
    /// What stands on the board is not what was written.
    #[error("{setting} reads {found} on the board, {wanted} was written")]
    NotAsWritten {
        /// The board's own name.
        setting: String,
        /// What was read.
        found: String,
        /// What was wanted.
        wanted: String,
    },
    /// A proof that the recipe asked for was not given.
    #[error("not shown: {0}")]
    Unproved(String),
    /// The recipe's expectation does not hold on this board.
    #[error("the recipe expects {setting} to be {wanted}, and it is {found}")]
    Unexpected {
        /// In vocabulary words.
        setting: String,
        /// On the board.
        found: String,
        /// In the recipe.
        wanted: String,
    },
    /// Nothing fits: a search or find ended without a result.
    #[error("{0}")]
    NotFound(String),
    /// The plan after a find or search cannot be made, or left what was approved.
    #[error("{0}")]
    Plan(String),
    /// A record could not be read or written; nothing is written to the board any more.
    #[error(transparent)]
    Record(#[from] RecordError),
    /// Ended by the operator while nothing was turning; nothing was sent.
    #[error("interrupted by the operator")]
    Interrupted,
    /// A stop.
    #[error("stopped: {reason}")]
    Stopped {
        /// Why.
        reason: String,
        /// Whether the motors were seen at rest after it.
        confirmed: bool,
    },
}

impl Fault {
    /// A guard that does not hold.
    pub fn refused(guard: impl Into<String>, hint: impl Into<String>) -> Self {
        Self::Refused { guard: guard.into(), hint: hint.into() }
    }

    /// What to do, where that is known and not said already.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        match self {
            Self::Open(error) => error.hint(),
            Self::Record(error) => error.hint().map(str::to_owned),
            Self::Silent { .. } => Some(
                "check that it is the right port, that the board has power, and that its port speaks MAVLink at this speed"
                    .to_owned(),
            ),
            _ => None,
        }
    }

    /// The exit code: see the table in `DEVELOPERS.md`.
    #[must_use]
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Plan(_) => 1,
            Self::Declined { .. }
            | Self::Refused { .. }
            | Self::TimedOut { .. }
            | Self::StaleAnswer
            | Self::Interrupted
            | Self::FoundArmed
            | Self::Stopped { .. } => 4,
            Self::Open(_)
            | Self::Silent { .. }
            | Self::LinkLost
            | Self::NotBack(_)
            | Self::AnotherBoard { .. }
            | Self::Board { .. }
            | Self::Record(_) => 5,
            Self::NotAsWritten { .. } | Self::Unproved(_) | Self::Unexpected { .. } | Self::NotFound(_) => 6,
        }
    }
}
