//! What happens to the interlock: wires, answers, signals, and the end of a contact.
//!
//! Promises: all that was known of a craft ends with its contact, at once. Must not be here: what the moment means (see
//! `judge`).

use super::clock::ClockSays;
use super::contact::{ANSWER_LATE, ANSWER_MOST, ASK_AGAIN, Contact, GAP_DOUBT, GAP_OVER, OWN_GAP};
use super::contact_end::Ended;
use super::phase::{Happening, Phase};
use super::questions::AnsweredQuestion;
use super::silence::Silence;
use super::{Doubt, Guardian, Interlock, Order, RestartSeen, WATCH, WireKind, guards};
use crate::board::signals::{Identity, LinkEvent, Outgoing};
use crate::board::value::SettingName;
use crate::measure::time::Time;
use crate::seam::PortInfo;
use crate::seam::fault::Fault;

/// What happens to it.
impl Interlock {
    /// This session only looks: nothing is ever stopped or changed.
    pub fn only_looks(&mut self) {
        self.looks_only = true;
    }

    /// Whether it only looks.
    #[must_use]
    pub fn is_only_looking(&self) -> bool {
        self.looks_only
    }

    /// What is to be done now.
    pub fn orders(&mut self) -> Vec<Order> {
        std::mem::take(&mut self.orders)
    }

    /// The moment of an event. `due`: when it was to come at the latest; later means that this program did not run.
    /// Gives whether what was buffered has to be asked for afresh.
    pub fn wakes(&mut self, now: Time, due: Time) -> bool {
        self.now = now;
        let gap = now.since(due);
        if gap <= OWN_GAP || self.wire.is_none() {
            return false;
        }
        self.signals.mark_stale(now);
        if gap > GAP_OVER {
            self.end_contact(Ended::Asleep);
        } else if gap > GAP_DOUBT {
            self.doubts(Doubt::OwnGap);
        }
        true
    }

    /// What carries no clock of the board's is not believed until a fresh answer came.
    pub fn is_deaf(&mut self, deaf: bool) {
        self.signals.deaf = deaf;
    }

    /// A wire is open. Nothing is known of whoever is on it.
    pub fn opened(&mut self, info: &PortInfo) {
        let kind = WireKind::of(info);
        self.wire = Some(kind);
        self.guardian = Guardian::opened(info.guarded, kind.stops_into_silence());
        // The one exception: an announced restart keeps that the sensor was seen working.
        self.signals.forget(self.restart.as_ref().is_some_and(|announced| !announced.cycle));
        if let Some(announced) = &mut self.restart {
            announced.shows(self.now);
        }
        self.contact = None;
        self.another = None;
        self.asked.clear();
        self.ask_at = self.now;
        self.signs_of_life = false;
    }

    /// The wire is gone, or was left.
    pub fn lost(&mut self) {
        self.wire = None;
        self.guardian = Guardian::default();
        self.end_contact(Ended::WireLost);
    }

    /// The wire is left on purpose: nothing is known of it any more.
    pub fn left(&mut self) {
        self.wire = None;
        self.contact = None;
        self.asked.clear();
        self.signals.forget(false);
    }

    /// A question leaves.
    pub fn asks(&mut self, frame: &Outgoing) {
        let question = matches!(frame, Outgoing::Identify | Outgoing::Presence | Outgoing::Ask);
        if let Some(announced) = self.restart.as_mut().filter(|_| question) {
            announced.asked(self.now);
        }
        if matches!(frame, Outgoing::Disarm { .. }) {
            self.disarms();
        }
        if *frame == Outgoing::Identify {
            self.asked.leaves(self.now);
            self.asked_at = self.now;
            self.ask_at = self.now + ASK_AGAIN;
        }
    }

    /// It is not sure any more who is there.
    fn doubts(&mut self, doubt: Doubt) {
        if let Some(contact) = &mut self.contact {
            contact.becomes_doubtful(self.now, doubt);
            self.asks_soon();
        }
    }

    /// In an announced restart another clock runs, another peer speaks, or what is seen has to be stopped: whoever it is has
    /// to answer.
    pub(super) fn has_to_answer_anew(&mut self) {
        if let Some(contact) = &mut self.contact {
            contact.has_to_answer(self.now);
            self.asks_soon();
        }
    }

    /// A question follows at once, but never so that questions and answers chase each other as fast as the wire goes.
    fn asks_soon(&mut self) {
        self.ask_at = self.now.max(self.asked_at + WATCH);
    }

    /// The guardian process, to be told and heard.
    pub fn guardian(&mut self) -> &mut Guardian {
        &mut self.guardian
    }

    /// What was answered before is no answer to the question that is asked now.
    pub fn forget_identity(&mut self) {
        self.signals.identity = None;
    }

    /// Something was heard.
    pub fn hear(&mut self, event: &LinkEvent) {
        let now = self.now;
        let knew_clock = self.signals.has_clock();
        self.signals.doubted = !self.looks_only
            && match &self.contact {
                Some(contact) => contact.is_unique() && contact.is_unproved(now),
                None => self.restart.is_some(),
            };
        let unsettled = matches!(self.phase, Phase::Looking | Phase::Restarting | Phase::Stopping);
        let silence = Silence::of(&self.signals, self.contact.as_ref().is_some_and(Contact::is_unique), unsettled);
        let says = self.signals.hear(now, event);
        let of_the_craft = is_of_the_craft(event);
        let answers = of_the_craft || matches!(event, LinkEvent::Identity(_));
        if let Some(announced) = &mut self.restart {
            announced.hears_clock(now, event);
        }
        if let Some(announced) = self.restart.as_mut().filter(|_| answers) {
            announced.answered(now);
            // What was asked of a dark board was lost.
            let back = announced.back_at.unwrap_or_default();
            self.asked.were_lost_before(back - ANSWER_LATE);
        }
        if *event == LinkEvent::Banner {
            self.starts_anew();
        }
        let contact = self.contact.as_mut().filter(|_| *event == LinkEvent::Unplaced);
        if contact.is_some_and(|contact| contact.overhears(now, silence)) {
            self.asks_soon();
        }
        if let (Some(contact), true) = (&mut self.contact, of_the_craft) {
            let unproved = contact.is_unproved(now);
            contact.hears(now, &self.signals, says, silence);
            // Who answered before a clock was heard may have gone since: whose it is has to be asked. A stop goes on meanwhile.
            if !knew_clock && self.signals.has_clock() && contact.is_unique() {
                match self.phase {
                    Phase::Looking | Phase::Restarting | Phase::Still => contact.has_to_answer(now),
                    Phase::Stopping => contact.is_asked_again(now),
                    _ => {}
                }
            }
            if contact.is_unproved(now) && !unproved || !knew_clock && contact.has_not_answered_again() {
                self.asks_soon();
            }
        }
        match (says, &mut self.restart, &mut self.contact) {
            (Some(clock @ (ClockSays::Anew | ClockSays::Unlikely)), Some(announced), _) => {
                if clock == ClockSays::Anew {
                    announced.shows_clock(now, event);
                    self.signals.new_clocks();
                }
                self.has_to_answer_anew();
            }
            (Some(ClockSays::Two), ..) => self.two_speak(),
            (Some(ClockSays::Anew), None, Some(_)) => self.end_contact(Ended::ClockAnew),
            (Some(ClockSays::Unlikely), None, Some(contact)) => {
                contact.is_told_apart(now, self.phase.any_key_stops());
                self.doubts(Doubt::Clock);
            }
            // One that can't be asked is told by its clock alone; what was buffered while we stood still is late by that.
            (Some(ClockSays::Late), None, Some(contact)) if contact.may_be_another(now) && !self.signals.deaf => {
                self.end_contact(Ended::ClockAnew);
            }
            // What turns goes on until it is too old.
            (Some(ClockSays::Late), None, Some(contact))
                if contact.falls_behind(now) && !self.phase.is_worked() && !self.signals.deaf =>
            {
                self.doubts(Doubt::Late);
            }
            (Some(_) | None, ..) => {}
        }
        let back = self.restart.as_ref().zip(self.contact.as_ref()).filter(|(_, contact)| contact.is_unique());
        if *event == LinkEvent::Leapt && back.is_some_and(|(announced, contact)| announced.was_before(contact)) {
            self.has_to_answer_anew();
        }
        if *event == LinkEvent::Leapt && self.restart.is_none() {
            // What nobody started is stopped once it is known whose it is, and so is what is worked while it rests; what
            // was started at once.
            let rests = guards::disarmed(&self.signals, now).and_then(|()| guards::outputs_at_rest(&self.signals, now));
            let worked = self.phase == Phase::SwitchesWorked && rests.is_ok();
            if let Some(contact) = self.contact.as_mut().filter(|_| worked || !self.phase.any_key_stops()) {
                contact.has_to_answer(now);
            }
            self.doubts(Doubt::Sequence);
        }
        // A board whose signatures are behind takes up the time only from a frame of ours: until then nobody hears it.
        self.signs_of_life |= matches!(event, LinkEvent::Untrusted { old, .. } if *old > 0);
        if let LinkEvent::Identity(identity) = event {
            self.answered(identity);
        } else if *event == LinkEvent::TwoSpeakers {
            self.two_speak();
        }
    }

    /// The board says that it starts: in an announced restart that shows it, and else the contact is over.
    fn starts_anew(&mut self) {
        if let Some(announced) = &mut self.restart {
            announced.seen.get_or_insert(RestartSeen::Banner);
            self.has_to_answer_anew();
        } else if self.contact.is_some() {
            self.end_contact(Ended::ClockAnew);
        }
    }

    /// Whoever is meant by what leaves, another hears it too. Who only looks is told; nobody else goes on.
    fn two_speak(&mut self) {
        self.another = Some(self.now);
        if self.contact.is_some() && !self.looks_only {
            self.end_contact(Ended::TwoSpeakers);
        }
        self.signals.two_speak = true;
    }

    /// How the encoding of settings stands.
    pub fn encoding(&mut self, proved: bool) {
        self.encoding_proved = proved;
    }

    pub(super) fn answered(&mut self, identity: &Identity) {
        let patience = self.contact.as_ref().map_or(ANSWER_MOST, Contact::patience);
        let asked = self.asked.answered(self.now, patience);
        // A question from before the board was there measures no link.
        let back = self.restart.as_ref().and_then(|announced| announced.back_at).unwrap_or_default();
        let measures = asked.filter(|asked| asked.at >= back);
        match &self.contact {
            Some(contact) if contact.identity.id == identity.id => {
                if let Some(asked) = measures {
                    self.measures(asked);
                    // One that proves too little of frames after a silence is followed by another at once.
                    if self.contact.as_ref().is_some_and(|contact| contact.is_unproved(self.now)) {
                        self.asks_soon();
                    }
                }
            }
            Some(_) => {
                self.another = Some(self.now);
                self.end_contact(Ended::Another(identity.clone()));
            }
            None if self.session_craft.as_ref().is_some_and(|craft| craft.id != identity.id) => {
                self.another = Some(self.now);
            }
            None if asked.is_some_and(|asked| asked.proves.is_some()) => self.begin_contact(identity, measures),
            None if asked.is_some() => self.asks_soon(),
            // Nobody was asked on this opening: an answer to an earlier one tells nothing.
            None => {}
        }
    }

    /// A contact begins, by what was answered or by the operator's word.
    pub(super) fn begin_contact(&mut self, identity: &Identity, asked: Option<AnsweredQuestion>) {
        if !self.is_session_craft(identity) {
            return;
        }
        let mut contact = Contact::begin(identity.clone(), self.now);
        let now = self.now;
        let back = self.restart.as_mut().and_then(|was| was.is_back(identity, now).then_some(was.attested));
        match back {
            Some(attested) => contact.attested = attested,
            // Whose sensor was seen working nobody knows.
            None => self.signals.pack_sensor = false,
        }
        self.contact = Some(contact);
        self.signals.mark_heard_stale();
        if let Some(asked) = asked {
            self.measures(asked);
        }
        let _as_it_is = self.happens(Happening::Met);
        if let Some(stop) = &mut self.stop {
            stop.meets_anew();
            self.orders.push(Order::Streams);
        }
    }

    /// A setting to ask for of a board whose id tells nothing: its name comes back with the answer, so that one of which
    /// nothing was asked or heard for as long as any answer takes is answered by nothing older than this question.
    pub fn asks_setting(&mut self) -> Option<SettingName> {
        let now = self.now;
        let trip = self.contact.as_ref().and_then(Contact::last_trip).unwrap_or_default();
        self.signals.quiet_setting(now, trip + ANSWER_LATE)
    }

    /// A setting that was asked for then, and of which nothing had been heard for long, was told.
    pub fn answered_after(&mut self, asked: Time) {
        self.measures(AnsweredQuestion { at: asked, alone: true, proves: Some(asked) });
    }

    fn measures(&mut self, asked: AnsweredQuestion) {
        if let Some(contact) = &mut self.contact {
            let unproved = contact.is_unproved(self.now);
            contact.answers(self.now, asked);
            // What turns is watched by what its own streams tell.
            if unproved && !contact.is_unproved(self.now) && !self.phase.is_worked() {
                self.signals.mark_heard_stale();
            }
            self.signals.lag = contact.round_trip(self.now).unwrap_or_default() / 2;
        }
    }

    /// A board whose id tells it from no other is named by the operator: the contact begins with that name, or goes on
    /// under it.
    pub fn named(&mut self, identity: &Identity) {
        self.asked.clear();
        match &mut self.contact {
            Some(contact) if contact.identity.id == identity.id => contact.identity = identity.clone(),
            Some(_) | None => self.begin_contact(identity, None),
        }
    }

    /// Moves along the table.
    pub(super) fn happens(&mut self, happening: Happening) -> Result<(), Fault> {
        let Some(next) = self.phase.after(happening) else {
            return Err(Fault::refused("Nothing may be done now.", "Take the battery out, then start again."));
        };
        if let Some(contact) = self.contact.as_mut().filter(|_| next != self.phase) {
            contact.rested = false;
        }
        self.phase = next;
        Ok(())
    }
}

/// Whether it came from the craft itself.
fn is_of_the_craft(event: &LinkEvent) -> bool {
    match event {
        LinkEvent::Alive { .. }
        | LinkEvent::Channels { .. }
        | LinkEvent::Outputs { .. }
        | LinkEvent::Attitude { .. }
        | LinkEvent::Power { .. }
        | LinkEvent::Speeds { .. }
        | LinkEvent::Text { .. }
        | LinkEvent::Setting { .. }
        | LinkEvent::NoValue { .. }
        | LinkEvent::Spoke => true,
        LinkEvent::Banner
        | LinkEvent::Misread { .. }
        | LinkEvent::Unplaced
        | LinkEvent::Identity(_)
        | LinkEvent::Listed(_)
        | LinkEvent::Listing { .. }
        | LinkEvent::Done { .. }
        | LinkEvent::Stranger { .. }
        | LinkEvent::Rival { .. }
        | LinkEvent::Leapt
        | LinkEvent::TwoSpeakers
        | LinkEvent::Signed
        | LinkEvent::Untrusted { .. }
        | LinkEvent::Progress { .. } => false,
    }
}
