//! The exit codes, in one place: few, fixed, the same for every command, and what each says of a run.
//!
//! Promises: a code never changes its meaning. Must not be here: words for the operator.

use std::process::ExitCode;

/// How a command ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(u8)]
pub enum Exit {
    /// Everything asked for was done.
    Done = 0,
    /// A recipe or another document is wrong, or asks for what this board or version can't do.
    Document = 1,
    /// The command line is wrong.
    Usage = 2,
    /// Changes are pending, where that was asked for.
    Pending = 3,
    /// Declined or stopped by the operator or a guard, or no terminal for a question.
    Stopped = 4,
    /// The board, its link or the disk failed.
    Link = 5,
    /// A verification failed, a proof was not given, or settings were left in between.
    Unproved = 6,
    /// A mistake of our own, or the system would not give what every run needs.
    Bug = 70,
}

impl Exit {
    /// The number that the shell sees.
    #[must_use]
    pub fn code(self) -> u8 {
        self as u8
    }

    /// In one word what it says of a run.
    #[must_use]
    pub fn outcome(self) -> &'static str {
        match self {
            Self::Done => "finished",
            Self::Document | Self::Usage | Self::Pending => "refused",
            Self::Stopped => "stopped",
            Self::Link | Self::Bug => "broken-off",
            Self::Unproved => "fell-short",
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit.code())
    }
}
