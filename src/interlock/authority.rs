//! Who may be stopped: the one table, and the warrant that outlives a contact.
//!
//! A craft that this session never saw at rest may be flying, and nothing is sent to it. Promises: after the first frame
//! of a craft without authority or warrant was read, no stop leaves. The hold follows this table and nothing else. Must
//! not be here: when a stop is wanted.

use super::Interlock;
use super::contact::{Contact, WireKind};
use crate::board::console::Capability;
use crate::measure::time::Time;
use crate::seam::ui::Delivery;
use std::time::Duration;

/// How long a warrant outlives its contact.
const OUTLIVES: Duration = Duration::from_secs(30);
/// How long one that was written for a restart stands.
const FOR_A_RESTART: Duration = Duration::from_secs(60);
/// And for a plug-in that was invited: for as long as that is waited for, and what a board takes to start.
const FOR_A_PLUG_IN: Duration = Duration::from_secs(130);

/// What may be sent to whoever is on the wire now.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Authority {
    /// Nothing: it may be flying.
    Nothing,
    /// An ordinary disarm, and the running command's own stop.
    Disarm,
    /// Also a forced disarm, as a second try.
    Forced,
}

/// Leave to stop one craft, bound to its id; it permits nothing else.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Warrant {
    id: String,
    /// A start was invited or seen: also by force.
    started: bool,
    /// When it ends; `None` while its contact stands.
    ends: Option<Time>,
}

impl Warrant {
    /// A start was invited, or seen to begin, in a contact in which the craft was seen at rest.
    pub fn for_a_start(contact: &Contact) -> Option<Self> {
        contact.seen_at_rest.then(|| Self { id: contact.identity.id.clone(), started: true, ends: None })
    }

    /// A restart or a plug-in was announced after the craft was seen at rest: it may come armed out of it.
    pub fn for_a_restart(contact: &Contact, now: Time) -> Option<Self> {
        let ends = Some(now + FOR_A_RESTART);
        contact.seen_at_rest.then(|| Self { id: contact.identity.id.clone(), started: false, ends })
    }

    /// A plug-in of a board that is dark was announced as well.
    pub fn is_announced(&mut self, now: Time) {
        if !self.started {
            self.ends = Some(now + FOR_A_PLUG_IN);
        }
    }

    /// Its contact is over.
    pub fn outlives(&mut self, now: Time) {
        self.ends.get_or_insert(now + OUTLIVES);
    }

    /// A start was seen after the restart.
    pub fn is_started(&mut self) {
        self.started = true;
    }

    fn stands(&self, now: Time) -> bool {
        self.ends.is_none_or(|ends| now < ends)
    }

    fn authority(&self) -> Authority {
        if self.started { Authority::Forced } else { Authority::Disarm }
    }
}

/// The table: what may leave now.
pub(super) fn authority(
    contact: Option<&Contact>,
    warrant: Option<&Warrant>,
    wire: Option<WireKind>,
    now: Time,
) -> Authority {
    let (Some(contact), Some(wire)) = (contact, wire) else { return Authority::Nothing };
    if contact.is_unproved(now) || contact.is_silent(now, wire) {
        return Authority::Nothing;
    }
    let by_contact = match (contact.seen_at_rest, contact.started) {
        (false, _) => Authority::Nothing,
        (true, false) => Authority::Disarm,
        (true, true) => Authority::Forced,
    };
    let by_warrant = warrant
        .filter(|warrant| warrant.stands(now) && contact.is_unique() && warrant.id == contact.identity.id)
        .map_or(Authority::Nothing, Warrant::authority);
    by_contact.max(by_warrant)
}

impl Interlock {
    /// Whether a stop leaves now, and why not.
    pub(super) fn delivery(&self) -> Delivery {
        let Some(wire) = self.wire else { return Delivery::Unreached };
        match (self.authority(), &self.contact) {
            (Authority::Disarm | Authority::Forced, _) if self.signals.lacks.needs.contains(&Capability::Stop) => {
                Delivery::NoStop
            }
            (Authority::Disarm | Authority::Forced, _) => Delivery::Sent,
            (Authority::Nothing, Some(contact)) if contact.is_silent(self.now, wire) => Delivery::Unreached,
            (Authority::Nothing, Some(contact)) if !contact.is_unproved(self.now) && !self.another_hears() => {
                Delivery::NeverAtRest
            }
            (Authority::Nothing, _) => Delivery::Unsure,
        }
    }
}
