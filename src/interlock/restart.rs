//! A restart that was announced: of whom, until when, what is kept over it, and what showed that it was one.
//!
//! An acknowledgement shows nothing. Promises: silence shows a restart only of a board that can show it by nothing else,
//! and only where questions went unanswered for longer than any answer of it takes. Must not be here: what follows.

use super::BACK_WITHIN;
use super::contact::{Attested, Contact};
use crate::board::sheet::Sheet;
use crate::board::signals::{Identity, LinkEvent};
use crate::measure::time::Time;
use std::time::Duration;

/// Without any answer for so long, beyond what answers take, a board was away.
const AWAY: Duration = Duration::from_secs(1);
/// How long a board may be dark in a power cycle.
pub(super) const DARK_FOR: Duration = Duration::from_secs(120);
/// A clock that started with the board may run so much ahead of ours by then.
const CLOCK_OFF: Duration = Duration::from_millis(700);
/// So many questions at least went unanswered meanwhile: one that the wire lost shows nothing.
const UNANSWERED: u32 = 3;

/// What showed that a board has really restarted. An acknowledgement shows nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RestartSeen {
    /// Its wire went and came.
    Wire,
    /// Its clock started anew.
    Clock,
    /// It said what it says when it starts.
    Banner,
    /// It gave no answer for a while, and then the same one: as far as silence shows.
    Silence,
}

/// See the module.
#[derive(Debug, Clone)]
pub(super) struct Announced {
    at: Time,
    pub until: Time,
    pub of: Identity,
    pub attested: Attested,
    pub seen: Option<RestartSeen>,
    /// The clock that is heard now has run for longer than since then.
    runs_on: bool,
    /// Unanswered for so long, it was away; `None`: its silence shows nothing.
    away_after: Option<Duration>,
    /// Since when questions go unanswered, and how many left since.
    unanswered: Option<(Time, u32)>,
    was_away: bool,
    /// The power goes and comes as well; nothing that was said of the craft outlives that.
    pub cycle: bool,
    /// The plug-in of a dark board was invited.
    pub invited: bool,
    /// When something showed first that it is powered again.
    pub back_at: Option<Time>,
    /// What has to be stopped was seen, and whose it is was asked for that.
    asked_whose: bool,
}

impl Announced {
    /// A restart of the board of this contact, now.
    pub fn new(of: &Identity, contact: Option<&Contact>, sheet: Option<&Sheet>, has_clock: bool, now: Time) -> Self {
        let says_nothing = sheet.is_some_and(Sheet::starts_silently);
        let answers_take = contact.and_then(Contact::last_trip).filter(|_| says_nothing && !has_clock);
        Self {
            at: now,
            until: now + BACK_WITHIN,
            of: of.clone(),
            attested: contact.map(|contact| contact.attested).unwrap_or_default(),
            seen: None,
            runs_on: false,
            away_after: answers_take.map(|take| AWAY + take),
            unanswered: None,
            was_away: false,
            cycle: false,
            invited: false,
            back_at: None,
            asked_whose: false,
        }
    }

    /// Its power goes and comes as well: nothing that was said stands after it.
    pub fn with_its_power(self) -> Self {
        let until = self.until - BACK_WITHIN + DARK_FOR;
        Self { until, cycle: true, attested: Attested::default(), ..self }
    }

    /// Whether this contact began after it: its numbers have started anew by then.
    pub fn was_before(&self, contact: &Contact) -> bool {
        contact.began > self.at
    }

    /// Another clock runs: its own from its start, or one that was only set, which has run for longer than since then.
    pub fn shows_clock(&mut self, now: Time, event: &LinkEvent) {
        if self.began_by(now, event) == Some(true) {
            self.seen = Some(RestartSeen::Clock);
        }
    }

    /// A clock that counts from the board's start, by the standard those of channels and attitude, says whether there was one.
    pub fn hears_clock(&mut self, now: Time, event: &LinkEvent) {
        if !matches!(event, LinkEvent::Outputs { .. }) {
            self.runs_on = self.began_by(now, event).map_or(self.runs_on, |began| !began);
        }
    }

    /// Whether the clock in it has run for no longer than since the restart was told.
    fn began_by(&self, now: Time, event: &LinkEvent) -> Option<bool> {
        let (LinkEvent::Channels { board_time, .. }
        | LinkEvent::Outputs { board_time, .. }
        | LinkEvent::Attitude { board_time, .. }) = event
        else {
            return None;
        };
        let runs = board_time.map(|ms| Duration::from_millis(ms.into()));
        runs.map(|runs| runs <= now.since(self.at) + CLOCK_OFF)
    }

    /// What showed the restart. A wire may go without its board, whose clock has run on then.
    pub fn shown(&self) -> Option<RestartSeen> {
        self.seen.filter(|seen| *seen != RestartSeen::Wire || !self.runs_on)
    }

    /// What has to be stopped is seen for the first time, in a contact of before: another craft may have come since.
    pub fn asks_whose(&mut self, contact: &Contact) -> bool {
        contact.is_unique() && contact.began < self.at && !std::mem::replace(&mut self.asked_whose, true)
    }

    /// Its wire is open again, or an answer came: after the invitation it has its power.
    pub fn shows(&mut self, now: Time) {
        if self.invited {
            self.back_at.get_or_insert(now);
        }
    }

    /// A question leaves.
    pub fn asked(&mut self, now: Time) {
        let (_, count) = self.unanswered.get_or_insert((now, 0));
        *count += 1;
    }

    /// An answer came, of whoever is on the wire.
    pub fn answered(&mut self, now: Time) {
        self.shows(now);
        if let (Some(after), Some((since, count))) = (self.away_after, self.unanswered.take()) {
            // The last of them is the one that was answered.
            self.was_away |= count > UNANSWERED && now.since(since) >= after;
        }
    }

    /// The board said who it is; whether it is the one, back in time, and told from every other by its id.
    pub fn is_back(&mut self, identity: &Identity, now: Time) -> bool {
        let back = now < self.until && self.of.id == identity.id && identity.is_unique();
        if back && self.was_away {
            self.seen.get_or_insert(RestartSeen::Silence);
        }
        back
    }
}
