//! Whether the live page stands, and what happened while it did.
//!
//! Must not be here: what is on it.

use crate::board::signals::Identity;
use crate::measure::time::Time;

/// The live page, while it stands on the screen.
#[derive(Debug, Default)]
pub struct Monitor {
    pub(in crate::bench) open: bool,
    /// A key came while the page stood.
    pub(in crate::bench) pressed: bool,
    /// Since when the wire is gone, while the page stands.
    pub(in crate::bench) lost: Option<Time>,
    /// Who was seen on the page, to know the board again after a lost link.
    pub(in crate::bench) board: Option<Identity>,
}

impl Monitor {
    /// The page stands from now on: a key ends it, and a lost link is waited for on it.
    pub(in crate::bench) fn opens(&mut self) {
        (self.open, self.pressed, self.lost) = (true, false, None);
    }

    pub(in crate::bench) fn closes(&mut self) {
        (self.open, self.lost) = (false, None);
    }

    pub(in crate::bench) fn link_lost(&mut self, now: Time) {
        if self.open {
            self.lost = Some(now);
        }
    }
}
