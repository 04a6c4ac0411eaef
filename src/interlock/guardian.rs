//! What the core knows of its guardian: whether it stands ready, holds, has fired or is gone.
//!
//! Promises: nothing is believed of it but what it acknowledged on this opening. Must not be here: what a guardian does
//! by itself (see `world::guardian`), what a stop is.

use crate::measure::time::Time;
use crate::seam::guardian::{GuardianEvent, GuardianOrder, StopFrames};
use std::time::Duration;

/// A renewal that is not acknowledged for so long stops.
pub const ANSWERS_WITHIN: Duration = Duration::from_millis(100);
/// How often is judged while it holds.
const JUDGED_EVERY: Duration = Duration::from_millis(20);
/// How often what it would send is made anew: signed stops must not get old.
pub const PREPARED_FOR: Duration = Duration::from_secs(30);
/// See the module.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum GuardianState {
    /// The wire is in this process, or not open: there is nothing to outlive it.
    #[default]
    Absent,
    Ready,
    Held,
    /// Told to release, and not yet acknowledged.
    Releasing,
    Fired,
    Gone,
}

/// See the module.
#[derive(Debug, Clone, Default)]
pub struct Guardian {
    state: GuardianState,
    /// Number of the last renewal.
    renewed: u32,
    /// The first renewal that is not acknowledged, and when it was sent.
    open: Option<(u32, Time)>,
    /// The last judgement.
    judged: Time,
    prepared: Option<Time>,
    fires_for: Duration,
}

impl Guardian {
    /// A wire was opened, with a guardian or without; how long it fires on it.
    #[must_use]
    pub fn opened(guarded: bool, fires_for: Duration) -> Self {
        let state = if guarded { GuardianState::Ready } else { GuardianState::Absent };
        Self { state, fires_for, ..Self::default() }
    }

    /// Takes what it says.
    pub fn hear(&mut self, event: GuardianEvent) {
        match (event, self.state) {
            (
                GuardianEvent::Gone,
                GuardianState::Ready | GuardianState::Held | GuardianState::Releasing | GuardianState::Fired,
            ) => {
                self.state = GuardianState::Gone;
            }
            // One that is told to let go fired before it heard of it, and hears of it now.
            (GuardianEvent::Fired | GuardianEvent::TooLate, GuardianState::Ready | GuardianState::Held) => {
                self.state = GuardianState::Fired;
            }
            (GuardianEvent::Released, GuardianState::Releasing) => self.state = GuardianState::Ready,
            (GuardianEvent::Held(number), _) => {
                if self.open.is_some_and(|(first, _)| number >= first) {
                    self.open = None;
                }
            }
            (GuardianEvent::Gone | GuardianEvent::Fired | GuardianEvent::TooLate | GuardianEvent::Released, _) => {}
        }
    }

    /// Whether a start may be invited: it stands ready, or nothing is outside this process. Orders come to it in their
    /// order, so that it need not have acknowledged the last release.
    #[must_use]
    pub fn may_invite(&self) -> bool {
        matches!(
            self.state,
            GuardianState::Absent | GuardianState::Ready | GuardianState::Held | GuardianState::Releasing
        )
    }

    /// Whether a change may leave: it has fired its last, or never held.
    #[must_use]
    pub fn at_rest(&self) -> bool {
        matches!(self.state, GuardianState::Absent | GuardianState::Ready | GuardianState::Gone)
    }

    /// While it holds, a renewal that is not acknowledged stops. Asked at each judgement: time in which this process
    /// itself did not run is not counted, as its guardian may not have run either.
    pub fn overdue(&mut self, now: Time) -> bool {
        let stood_still = now.since(self.judged).saturating_sub(JUDGED_EVERY);
        self.judged = now;
        let Some((_, sent)) = &mut self.open else { return false };
        *sent = *sent + stood_still;
        self.state == GuardianState::Held && now.since(*sent) >= ANSWERS_WITHIN
    }

    /// It sends stops by itself: this process stood still for too long.
    #[must_use]
    pub fn fired(&self) -> bool {
        self.state == GuardianState::Fired
    }

    /// It has ended on a wire that stays.
    #[must_use]
    pub fn gone(&self) -> bool {
        self.state == GuardianState::Gone
    }

    /// How long a firing that has to be prepared now goes on; `None`: what it has is new enough, or it takes nothing.
    #[must_use]
    pub fn wants_stops(&self, now: Time) -> Option<Duration> {
        let old = self.prepared.is_none_or(|at| now.since(at) >= PREPARED_FOR);
        (old && self.holds_or_may()).then_some(self.fires_for)
    }

    fn holds_or_may(&self) -> bool {
        matches!(self.state, GuardianState::Ready | GuardianState::Held | GuardianState::Releasing)
    }

    /// Whether it fires for all of its time from now on, should this program renew no more: it has not begun, and answers.
    pub fn goes_on(&self, now: Time) -> bool {
        let answers = self.open.is_none_or(|(_, sent)| now.since(sent) < ANSWERS_WITHIN);
        self.state == GuardianState::Held && answers
    }

    /// How long a firing goes on, from the last renewal.
    #[must_use]
    pub fn fires_for(&self) -> Duration {
        self.fires_for
    }

    /// It was renewed and not released: without another renewal it fires, or does already.
    #[must_use]
    pub fn holds(&self) -> bool {
        matches!(self.state, GuardianState::Held | GuardianState::Fired)
    }

    /// What it is to send.
    pub fn prepare(&mut self, now: Time, stops: Vec<Vec<u8>>) -> GuardianOrder {
        self.prepared = Some(now);
        GuardianOrder::Prepare(StopFrames { stops, lasts: self.fires_for })
    }

    /// The watch judged: it holds on.
    pub fn renew(&mut self, now: Time) -> Option<GuardianOrder> {
        if !self.holds_or_may() || self.prepared.is_none() {
            return None;
        }
        self.state = GuardianState::Held;
        self.renewed = self.renewed.wrapping_add(1);
        self.open.get_or_insert((self.renewed, now));
        Some(GuardianOrder::Renew(self.renewed))
    }

    /// Everything was seen at rest.
    pub fn release(&mut self) -> Option<GuardianOrder> {
        if !self.holds() {
            return None;
        }
        self.state = GuardianState::Releasing;
        self.open = None;
        // It keeps nothing of what it had.
        self.prepared = None;
        Some(GuardianOrder::Release)
    }
}
