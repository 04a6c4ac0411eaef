//! What the core and its guardian process tell each other: the stop while the program itself cannot.
//!
//! The world carries both ways and decides nothing. Must not be here: when a guardian fires (see
//! `world::guardian::machine`), what the core makes of it (see `interlock::guardian`).

use std::time::Duration;

/// Between two stops of the first second, and after it: the core's, the guardian's, and those that a firing is prepared for.
pub const QUICK: Duration = Duration::from_millis(20);
/// See [`QUICK`].
pub const SLOW: Duration = Duration::from_millis(100);
/// How long the quick ones go on.
pub const QUICK_FOR: Duration = Duration::from_secs(1);
/// How long a hold stands that is not renewed: the writer's, and the guardian's.
pub const HOLDS: Duration = Duration::from_millis(200);
/// The longest frame of MAVLink 2 with its signature (developer guide, `guide/serialization`): what may have been
/// begun when the guardian takes over, and swallows what follows it.
pub const HALF_FRAME: usize = 280;

/// Everything that a guardian may have to send, made beforehand, since it has neither link nor key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StopFrames {
    /// One stop each, sent in this order and then from the first again.
    pub stops: Vec<Vec<u8>>,
    /// How long a firing goes on, from the last renewal.
    pub lasts: Duration,
}

/// How many stops the first burst has, each so long: so many that what a half-sent frame swallows, and the one in
/// which it ends, still leave one whole.
#[must_use]
pub fn burst(length: usize) -> usize {
    HALF_FRAME / length.max(1) + 2
}

/// How many stops of this length a whole firing takes.
#[must_use]
pub fn stops_in(lasts: Duration, length: usize) -> usize {
    let of = |time: Duration, step: Duration| usize::try_from(time.as_millis() / step.as_millis()).unwrap_or(0);
    burst(length) + of(lasts.min(QUICK_FOR), QUICK) + of(lasts.saturating_sub(QUICK_FOR), SLOW) + 1
}

/// What the core tells its guardian.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GuardianOrder {
    /// What to send, should it come to that.
    Prepare(StopFrames),
    /// Judged once more: another while. Answered by [`GuardianEvent::Held`] with the same number.
    Renew(u32),
    /// Everything was seen at rest. Answered by [`GuardianEvent::Released`].
    Release,
}

/// What the core hears of its guardian.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum GuardianEvent {
    /// It took this renewal.
    Held(u32),
    /// It holds no more, and has sent its last.
    Released,
    /// It sends stops, and takes no renewal any more.
    Fired,
    /// It did not run while it was to fire, and sends nothing any more: another craft may be on the wire.
    TooLate,
    /// It has ended.
    Gone,
}
