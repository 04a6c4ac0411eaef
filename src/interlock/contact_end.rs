//! The end of a contact: all that was known ends with it, and what could turn is stopped for.
//!
//! Must not be here: what ends one (see `events`), and what goes on of an announced restart (see `restart`).

use super::phase::{Happening, Phase};
use super::signals::Pack;
use super::{Interlock, Order, RestartSeen};
use crate::board::signals::Identity;
use crate::seam::fault::Fault;

/// Why a contact is over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ended {
    /// The wire is gone.
    WireLost,
    /// Somebody else answered.
    Another(Identity),
    /// The board's clock started anew: it has restarted, or it is another.
    ClockAnew,
    /// This program did not run for longer than a contact may stand, as in a sleep of the computer.
    Asleep,
    /// Nothing was heard for too long.
    Silent,
    /// Two speak with the id of one.
    TwoSpeakers,
    /// Another address speaks on a link without a wire.
    AnotherPeer,
}

impl std::fmt::Display for Ended {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::WireLost => f.write_str("the link to the board was lost"),
            Self::Another(_) => f.write_str("another board answers on this wire"),
            Self::ClockAnew => f.write_str("the board restarted without being asked to, or another one is on the wire"),
            Self::Asleep => f.write_str("this program or its computer slept, so nobody knows what happened meanwhile"),
            Self::Silent => f.write_str("the board has fallen silent"),
            Self::TwoSpeakers => f.write_str("two boards speak with one id on this link, so take one of them off it"),
            Self::AnotherPeer => f.write_str("another address speaks on this link, as another board would"),
        }
    }
}

impl Interlock {
    /// The contact is over: all that was known ends with it.
    pub(super) fn end_contact(&mut self, why: Ended) {
        let now = self.now;
        self.revoke();
        self.asked.clear();
        let was = self.contact.take();
        if let Some(warrant) = &mut self.warrant {
            warrant.outlives(now);
        }
        if let Some(announced) = self.restart.as_mut().filter(|announced| now < announced.until) {
            match why {
                Ended::WireLost => announced.seen = Some(RestartSeen::Wire),
                Ended::ClockAnew => announced.seen = announced.seen.or(Some(RestartSeen::Clock)),
                Ended::Another(_) | Ended::Asleep | Ended::Silent | Ended::TwoSpeakers | Ended::AnotherPeer => {}
            }
            if announced.cycle {
                self.pack = Pack::Unknown;
            }
            self.signals.forget(!announced.cycle);
            return;
        }
        self.signals.forget(false);
        self.pack = Pack::Unknown;
        self.restart = None;
        self.signs_of_life = false;
        if self.looks_only {
            if self.wire.is_none() {
                self.orders.push(Order::Ends(Fault::LinkLost));
            }
            return;
        }
        let before = self.phase;
        let _as_the_table_says = self.happens(Happening::Over);
        match (before, self.phase) {
            (Phase::Stopping, _) => {
                self.says_what_to_pull(&why, was.as_ref());
                self.reopen();
            }
            (_, Phase::Stopping) => {
                self.begin_stop(format!("{why} while motors could turn"));
                self.says_what_to_pull(&why, was.as_ref());
            }
            _ => self.orders.push(Order::Ends(fault_of(why, was.map(|contact| contact.identity)))),
        }
    }

    /// Whoever is at the far end of the link has changed. Gives whether all that was known has ended.
    pub fn is_at_another_peer(&mut self) -> bool {
        // A board that starts anew may speak from another port.
        if self.restart.is_some() {
            self.has_to_answer_anew();
            return false;
        }
        if self.contact.is_some() {
            self.end_contact(Ended::AnotherPeer);
        } else {
            self.asked.clear();
            self.signals.forget(false);
        }
        self.ask_at = self.now;
        true
    }

    pub(super) fn reopen(&mut self) {
        if self.wire.is_none() {
            self.orders.push(Order::Reopen);
        }
    }
}

fn fault_of(why: Ended, was: Option<Identity>) -> Fault {
    match why {
        Ended::WireLost => Fault::LinkLost,
        Ended::Another(now) => {
            Fault::AnotherBoard { was: was.map(|was| was.told()).unwrap_or_default(), now: now.told() }
        }
        other => Fault::ContactOver(other.to_string()),
    }
}
