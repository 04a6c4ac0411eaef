//! What the core knows of its guardian: whether it stands ready, holds, has fired or is gone.
//!
//! Promises: nothing is believed of it but what it acknowledged on this opening. Must not be here: what a guardian does
//! by itself (see `world::guardian`), what a stop is.

use crate::measure::time::Time;
use crate::seam::PortInfo;
use crate::seam::guardian::{GuardianEvent, GuardianOrder, StopFrames};
use std::time::Duration;

/// A renewal that is not acknowledged for so long stops.
pub const ANSWERS_WITHIN: Duration = Duration::from_millis(100);
/// How often is judged while it holds.
const JUDGED_EVERY: Duration = Duration::from_millis(20);
/// How often what it would send is made anew: signed stops must not get old.
pub const PREPARED_FOR: Duration = Duration::from_secs(30);
/// How long it fires where another craft could answer on the same wire, and on the board's own USB.
const SHARED_WIRE: Duration = Duration::from_secs(3);
const OWN_USB: Duration = Duration::from_secs(10);

/// How long a guardian fires on this wire.
#[must_use]
pub fn fires_for(wire: &PortInfo) -> Duration {
    // Class drivers name a board's own USB port so, and those of adapters otherwise. *Common practice* on Linux, macOS.
    let own = ["ttyACM", "cu.usbmodem", "tty.usbmodem"].iter().any(|name| wire.name.contains(name));
    if wire.usb.is_some() && own { OWN_USB } else { SHARED_WIRE }
}

/// See the module.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum State {
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
    state: State,
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
    /// A wire was opened.
    #[must_use]
    pub fn opened(wire: &PortInfo) -> Self {
        let state = if wire.guarded { State::Ready } else { State::Absent };
        Self { state, fires_for: fires_for(wire), ..Self::default() }
    }

    /// Takes what it says.
    pub fn hear(&mut self, event: GuardianEvent) {
        match (event, self.state) {
            (GuardianEvent::Gone, State::Ready | State::Held | State::Releasing | State::Fired) => {
                self.state = State::Gone;
            }
            // One that is told to let go fired before it heard of it, and hears of it now.
            (GuardianEvent::Fired, State::Ready | State::Held) => self.state = State::Fired,
            (GuardianEvent::Released, State::Releasing) => self.state = State::Ready,
            (GuardianEvent::Held(number), _) => {
                if self.open.is_some_and(|(first, _)| number >= first) {
                    self.open = None;
                }
            }
            (GuardianEvent::Gone | GuardianEvent::Fired | GuardianEvent::Released, _) => {}
        }
    }

    /// Whether a start may be invited: it stands ready, or nothing is outside this process. Orders come to it in their
    /// order, so that it need not have acknowledged the last release.
    #[must_use]
    pub fn may_invite(&self) -> bool {
        matches!(self.state, State::Absent | State::Ready | State::Held | State::Releasing)
    }

    /// Whether a change may leave: it has fired its last, or never held.
    #[must_use]
    pub fn at_rest(&self) -> bool {
        matches!(self.state, State::Absent | State::Ready | State::Gone)
    }

    /// While it holds, a renewal that is not acknowledged stops. Asked at each judgement: time in which this process
    /// itself did not run is not counted, as its guardian may not have run either.
    pub fn overdue(&mut self, now: Time) -> bool {
        let stood_still = now.since(self.judged).saturating_sub(JUDGED_EVERY);
        self.judged = now;
        let Some((_, sent)) = &mut self.open else { return false };
        *sent = *sent + stood_still;
        self.state == State::Held && now.since(*sent) >= ANSWERS_WITHIN
    }

    /// It sends stops by itself: this process stood still for too long.
    #[must_use]
    pub fn fired(&self) -> bool {
        self.state == State::Fired
    }

    /// It has ended on a wire that stays.
    #[must_use]
    pub fn gone(&self) -> bool {
        self.state == State::Gone
    }

    /// How long a firing that has to be prepared now goes on; `None`: what it has is new enough, or it takes nothing.
    #[must_use]
    pub fn wants_stops(&self, now: Time) -> Option<Duration> {
        let old = self.prepared.is_none_or(|at| now.since(at) >= PREPARED_FOR);
        (old && self.holds_or_may()).then_some(self.fires_for)
    }

    fn holds_or_may(&self) -> bool {
        matches!(self.state, State::Ready | State::Held | State::Releasing)
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
        self.state = State::Held;
        self.renewed = self.renewed.wrapping_add(1);
        self.open.get_or_insert((self.renewed, now));
        Some(GuardianOrder::Renew(self.renewed))
    }

    /// Everything was seen at rest.
    pub fn release(&mut self) -> Option<GuardianOrder> {
        if !matches!(self.state, State::Held | State::Fired) {
            return None;
        }
        self.state = State::Releasing;
        self.open = None;
        // It keeps nothing of what it had.
        self.prepared = None;
        Some(GuardianOrder::Release)
    }
}
