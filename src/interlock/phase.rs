//! The states of the bench and the only ways from one to another.
//!
//! Promises: every state answers to every event, without a default; what is not in the table does not happen. A test
//! walks it whole and keeps it as a picture. Must not be here: what an event is judged from.

use crate::measure::words::words;

words! {
    /// Where the bench stands with the craft.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
    pub enum Phase {
        /// No wire, or whoever is on it is not known.
        #[default]
        NoContact,
        /// A board is met that was not seen at rest yet: nothing but looking, and no stop is sent to it.
        Looking,
        /// Nothing may turn.
        Still,
        /// The operator works switches; nothing is written meanwhile.
        SwitchesWorked,
        /// The board was told to store.
        Storing,
        /// The board was told to restart, or the battery was to be cycled.
        Restarting,
        /// A confirmed start is invited.
        Invited,
        /// It has begun.
        Turning,
        /// A stop is being sent and watched.
        Stopping,
        /// After a stop or a lost contact: nothing resumes, nothing is written.
        Latched,
    }
}

words! {
    /// What can happen to it.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
    pub enum Happening {
        /// The board on the wire said who it is.
        Met,
        /// The craft of this session was seen at rest, and may be worked on.
        SeenAtRest,
        /// The operator is asked to work switches.
        WorkSwitches,
        /// The switches rest again.
        SwitchesRest,
        /// A store leaves.
        Store,
        /// It was answered.
        Stored,
        /// A restart leaves.
        Restart,
        /// A confirmed start is invited.
        Invite,
        /// It has begun.
        Begin,
        /// It has ended, and everything was seen at rest.
        ComeToRest,
        /// Something has to stop.
        Stop,
        /// The stop was confirmed or given up.
        StopEnded,
        /// The contact is over.
        Over,
        /// A script ended in a fault: nothing resumes by itself.
        Latch,
    }
}

impl Phase {
    /// What becomes of it; `None`: this cannot happen here, and whoever wants it is refused.
    #[must_use]
    #[expect(clippy::match_same_arms, clippy::unnested_or_patterns, reason = "an arm is a reason, not a result")]
    pub fn after(self, happening: Happening) -> Option<Self> {
        use Happening as H;
        Some(match (self, happening) {
            // What could turn is stopped wherever it is; a stop goes on until it has ended.
            (Self::Stopping, H::StopEnded) => Self::Latched,
            (Self::Stopping, H::Stop | H::Over | H::Latch) => Self::Stopping,
            (Self::Stopping, _) => return None,
            (_, H::Stop) => Self::Stopping,
            (Self::SwitchesWorked | Self::Invited | Self::Turning, H::Over) => Self::Stopping,
            (_, H::StopEnded) => return None,
            // An announced restart is no lost contact.
            (Self::Restarting, H::Over | H::Met) => Self::Restarting,
            (Self::Restarting | Self::Looking | Self::Latched, H::SeenAtRest) => Self::Still,
            (Self::NoContact | Self::Looking, H::Met) => Self::Looking,
            (Self::Latched, H::Met | H::Over) => Self::Latched,
            (Self::NoContact | Self::Looking | Self::Still | Self::Storing, H::Over) => Self::NoContact,
            (Self::Still | Self::Storing, H::Met) => self,
            (Self::Still, H::SeenAtRest) => Self::Still,
            (Self::Still, H::WorkSwitches) => Self::SwitchesWorked,
            (Self::SwitchesWorked, H::SwitchesRest) => Self::Still,
            (Self::Still, H::Store) => Self::Storing,
            (Self::Storing, H::Stored) => Self::Still,
            (Self::Still, H::Restart) => Self::Restarting,
            (Self::Still, H::Invite) => Self::Invited,
            (Self::Invited, H::Begin) => Self::Turning,
            (Self::Turning, H::Begin) => Self::Turning,
            (Self::Invited | Self::Turning, H::ComeToRest) => Self::Still,
            (Self::Invited | Self::Turning | Self::SwitchesWorked, H::Met) => self,
            (
                Self::NoContact
                | Self::Looking
                | Self::Still
                | Self::SwitchesWorked
                | Self::Storing
                | Self::Restarting
                | Self::Latched,
                H::Latch,
            ) => Self::Latched,
            // A start is never left but by coming to rest or by a stop.
            (Self::Invited | Self::Turning, H::Latch) => Self::Stopping,
            (Self::NoContact, H::SeenAtRest)
            | (Self::SwitchesWorked | Self::Storing | Self::Invited | Self::Turning, H::SeenAtRest)
            | (
                Self::NoContact
                | Self::Looking
                | Self::SwitchesWorked
                | Self::Storing
                | Self::Restarting
                | Self::Invited
                | Self::Turning
                | Self::Latched,
                H::WorkSwitches | H::Store | H::Restart,
            )
            | (
                Self::NoContact
                | Self::Looking
                | Self::Still
                | Self::Storing
                | Self::Restarting
                | Self::Invited
                | Self::Turning
                | Self::Latched,
                H::SwitchesRest,
            )
            | (
                Self::NoContact
                | Self::Looking
                | Self::Still
                | Self::SwitchesWorked
                | Self::Restarting
                | Self::Invited
                | Self::Turning
                | Self::Latched,
                H::Stored,
            )
            | (
                Self::NoContact
                | Self::Looking
                | Self::SwitchesWorked
                | Self::Storing
                | Self::Restarting
                | Self::Invited
                | Self::Turning
                | Self::Latched,
                H::Invite,
            )
            | (
                Self::NoContact
                | Self::Looking
                | Self::Still
                | Self::SwitchesWorked
                | Self::Storing
                | Self::Restarting
                | Self::Latched,
                H::Begin | H::ComeToRest,
            ) => return None,
        })
    }

    /// Whether a change may leave at all.
    #[must_use]
    pub fn takes_changes(self) -> bool {
        match self {
            Self::Still | Self::Storing | Self::Restarting => true,
            Self::NoContact
            | Self::Looking
            | Self::SwitchesWorked
            | Self::Invited
            | Self::Turning
            | Self::Stopping
            | Self::Latched => false,
        }
    }

    /// Whether a start may be invited.
    #[must_use]
    pub fn takes_starts(self) -> bool {
        self.after(Happening::Invite).is_some()
    }

    /// Whether any key is a stop.
    #[must_use]
    pub fn any_key_stops(self) -> bool {
        self.is_worked() || self == Self::Stopping
    }

    /// Whether a hand is at it, or may be.
    #[must_use]
    pub fn is_worked(self) -> bool {
        match self {
            Self::SwitchesWorked | Self::Invited | Self::Turning => true,
            Self::NoContact
            | Self::Looking
            | Self::Still
            | Self::Storing
            | Self::Restarting
            | Self::Stopping
            | Self::Latched => false,
        }
    }
}
