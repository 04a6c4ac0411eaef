//! What somebody said of a craft, and how long it stands.
//!
//! Must not be here: what each word opens (see `doors` and `guards`).

use crate::measure::time::Time;
use std::time::Duration;

/// How long the attestation of taken-off propellers stands without a step.
const PROPS_STAND: Duration = Duration::from_secs(15 * 60);

/// What the operator said of this craft, in this contact.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Attested {
    /// Propellers off and no other craft on this radio; when it was said or stepped on last.
    pub props_off: Option<Time>,
    /// The video antenna is on.
    pub antenna_on: bool,
    /// The battery is out.
    pub battery_out: bool,
    /// The battery is in, where nothing measures it.
    pub battery_in: bool,
}

impl Attested {
    /// What was said of the battery does not stand any more.
    pub fn battery_unsaid(&mut self) {
        (self.battery_out, self.battery_in) = (false, false);
    }

    /// Whether propellers off still stands.
    pub fn props_stand(&self, now: Time) -> bool {
        self.props_off.is_some_and(|at| now.since(at) < PROPS_STAND)
    }
}
