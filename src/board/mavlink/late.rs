//! Acknowledgements of commands that have ended, which may still come: an acknowledgement names only a command's number.
//!
//! The next of a number waits until none of the one before can come any more; what can't wait takes none that may be of
//! one before. An answer to what was sent again can't be told to which sending it belongs (Karn's rule: RFC 6298, section
//! 3). Counted from the first it took no longer than this; so that of the last is here as soon after it, or lost. Must not
//! be here: what is sent again, and how often.

use crate::measure::time::Time;
use mavlink::dialects::common::MavCmd;
use std::time::Duration;

/// How long an answer that never came, or one of what can't wait, is left out of account at least.
pub const LATE: Duration = Duration::from_secs(1);
/// An answer takes this much longer than the one before it at most.
pub const JITTER: Duration = Duration::from_millis(50);

/// A command that has ended.
#[derive(Debug)]
pub(super) struct Ended {
    pub id: MavCmd,
    /// Sendings without an answer.
    pub owed: u8,
    /// When it was sent first, and when last.
    pub left: (Time, Time),
    /// Whether it was answered at all.
    pub answered: bool,
    /// Whether another of its number may leave at any time.
    pub at_once: bool,
}

#[derive(Debug)]
struct Owed {
    id: MavCmd,
    count: u8,
    until: Time,
    holds: bool,
}

/// See the module.
#[derive(Debug, Default)]
pub(super) struct Late {
    owed: Vec<Owed>,
    took: Duration,
}

impl Late {
    /// A command has ended.
    pub(super) fn ends(&mut self, now: Time, ended: &Ended) {
        let Ended { id, owed: count, left: (first, last), answered, at_once } = *ended;
        let took = now.since(first);
        if answered {
            self.took = took;
        }
        let due = last + took + JITTER;
        let until = if answered && !at_once { due } else { due.max(now + LATE) };
        if count > 0 {
            self.owed.push(Owed { id, count, until, holds: answered });
        }
    }

    /// Whether an acknowledgement is of a command that has ended.
    pub(super) fn takes(&mut self, now: Time, id: u16) -> bool {
        self.owed.retain(|owed| owed.count > 0 && owed.until > now);
        let owed = self.owed.iter_mut().find(|owed| owed.id as u32 == u32::from(id));
        owed.is_some_and(|owed| {
            owed.count -= 1;
            true
        })
    }

    /// When the next of a number may leave that can wait.
    pub(super) fn free_at(&self, id: MavCmd) -> Time {
        let holds = self.owed.iter().filter(|owed| owed.id == id && owed.holds && owed.count > 0);
        holds.map(|owed| owed.until).max().unwrap_or_default()
    }

    /// How long an answer as slow as the last one takes at most. Nothing is sent again before (RFC 6298, section 5.7).
    pub(super) fn patience(&self) -> Duration {
        self.took + JITTER
    }
}
