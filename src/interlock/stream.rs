//! A stream of samples of one kind, each with the moment at which it was true, and a short past of them.
//!
//! Must not be here: what they are samples of (see `signals`).

use crate::measure::time::Time;
use std::collections::VecDeque;
use std::time::Duration;

/// How much of each stream is kept; there is room for it from the first, as growing would copy it again and again.
const KEPT: usize = 4096;

/// One sample and the moment it was true, as far as can be known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample<T> {
    /// When.
    pub at: Time,
    /// What.
    pub value: T,
}

/// What counts as unheard.
#[derive(Debug, Clone, Copy)]
pub(super) enum Unheard {
    /// What was true until then.
    Until(Time),
    /// All that was heard so far, whenever it was true.
    SoFar,
}

/// A stream of samples, the newest last.
#[derive(Clone)]
pub struct Stream<T> {
    samples: VecDeque<Sample<T>>,
    fresh_after: Time,
    /// Nothing came since all that was heard was taken for another's.
    unheard: bool,
}

/// The newest alone: a past of thousands tells a reader nothing.
impl<T: std::fmt::Debug> std::fmt::Debug for Stream<T> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("Stream").field(&self.samples.back()).field(&self.fresh_after).finish()
    }
}

impl<T> Default for Stream<T> {
    fn default() -> Self {
        Self { samples: VecDeque::with_capacity(KEPT), fresh_after: Time(0), unheard: false }
    }
}

impl<T: Copy> Stream<T> {
    pub(super) fn push(&mut self, at: Time, value: T) {
        if self.samples.len() == KEPT {
            self.samples.pop_front();
        }
        // A lag that was measured anew may not put a later sample before an earlier one.
        let at = self.samples.back().map_or(at, |last| last.at.max(at));
        self.samples.push_back(Sample { at, value });
        self.unheard = false;
    }

    /// The newest sample, however old.
    #[must_use]
    pub fn last(&self) -> Option<Sample<T>> {
        self.samples.back().copied()
    }

    /// The newest value if it is no older than `age` and was not marked stale.
    #[must_use]
    pub fn fresh(&self, now: Time, age: Duration) -> Option<T> {
        self.last().filter(|s| !self.is_stale(s.at) && now <= s.at + age).map(|s| s.value)
    }

    /// The newest sample of then.
    #[must_use]
    pub fn by(&self, then: Time) -> Option<Sample<T>> {
        let later = self.samples.partition_point(|s| s.at <= then);
        self.samples.get(later.checked_sub(1)?).copied()
    }

    /// All samples, the newest first.
    pub(super) fn newest_first(&self) -> impl Iterator<Item = Sample<T>> + '_ {
        self.samples.iter().rev().copied()
    }

    /// All samples later than `after`.
    pub fn since(&self, after: Time) -> impl DoubleEndedIterator<Item = Sample<T>> + '_ {
        let start = self.samples.partition_point(|s| s.at <= after);
        self.samples.range(start..).copied()
    }

    /// Whether a sample that was true then counts as unheard.
    pub(super) fn is_stale(&self, at: Time) -> bool {
        self.unheard || at <= self.fresh_after
    }

    pub(super) fn mark(&mut self, unheard: Unheard) {
        match unheard {
            Unheard::Until(now) => self.fresh_after = now,
            Unheard::SoFar => self.unheard = true,
        }
    }

    /// Nothing was heard since all was marked unheard, of what may be told again by then.
    pub(super) fn is_awaited(&self, now: Time, age: Duration) -> bool {
        self.unheard && self.last().is_some_and(|last| now <= last.at + age)
    }
}
