//! When a wire was silent for so long that somebody else may speak on it.
//!
//! Must not be here: what a silence means (see `contact`), how often the flag comes (see `rhythm`).

use super::signals::Signals;
use std::time::Duration;

/// A wire on which nothing came for this long may carry somebody else when it speaks again.
const SILENCE: Duration = Duration::from_millis(500);
/// A wire whose streams come at 20 Hz and more is silent after this time.
pub(super) const STREAM_MISSED: Duration = Duration::from_millis(250);

/// What is a silence, by what came before it: the message that ends one has no say in that.
#[derive(Debug, Clone, Copy)]
pub(super) struct Silence {
    /// After how long somebody else may be on a wire that speaks again: [`SILENCE`] at least. Where streams come often, a
    /// flag that comes seldom makes it no longer: all of them were missing. Where they do not, as before they were asked
    /// for, it is when the flag is late, which costs a question of who it is. Until the flag's rhythm is known it is
    /// [`SILENCE`] as well, where the phase is `unsettled`: nothing goes on but a look, a restart or a stop. One whose
    /// answer tells nobody from another waits as long as it may.
    pub after: Duration,
    /// Outputs came so often that a wire which is silent for [`STREAM_MISSED`] is silent as a whole. What is missing beside
    /// a craft that goes on speaking makes nobody else of it.
    pub streams_come_often: bool,
}

impl Silence {
    /// As things stand, before what is heard now.
    pub fn of(signals: &Signals, unique: bool, unsettled: bool) -> Self {
        let mut last = signals.outputs.newest_first();
        let streams_come_often = matches!((last.next(), last.next()), (Some(last), Some(before)) if last.at.since(before.at) <= STREAM_MISSED / 2);
        let after = match (streams_come_often, unique) {
            (true, _) => SILENCE,
            (false, true) if unsettled && signals.flag_interval().is_none() => SILENCE,
            (false, true) => SILENCE.max(signals.flag_rhythm.asked_after()),
            (false, false) => SILENCE.max(signals.flag_limit()),
        };
        Self { after, streams_come_often }
    }
}
