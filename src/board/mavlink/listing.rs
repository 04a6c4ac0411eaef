//! Reading all settings: one request for the list, then only the gaps by their place, as many at a time as fill the wire.
//!
//! Nothing is asked while the board is sending its list; that it has ended is told by its last place, or by a silence
//! that is long beside the time between its settings so far. Where places can't be asked for, the list is asked for
//! again. Complete means that every place was heard. It ends in bounded time whatever the board does, and keeps no
//! more than a mark and a name for each place. Source: MAVLink developer guide, `services/parameter`; it fixes no times, so
//! these are ours.

use super::encoding::Proof;
use super::gaps::Gaps;
use super::gate::Gate;
use super::make::{self, Target};
use super::param_type::ParamType;
use super::refusal::Refusal;
use crate::board::signals::{Done, LinkEvent, Ticket};
use crate::board::value::{NoValue, SettingName};
use crate::measure::time::Time;
use std::collections::BTreeMap;
use std::time::Duration;

/// First wait for the first setting; doubled with every repeat of the request.
pub const FIRST_WAIT: Duration = Duration::from_millis(300);
/// How often the list is asked for while nothing comes.
pub const TRIES: u8 = 4;
/// How often the list is asked for in all.
pub const LISTS: u8 = 12;
/// So many lists without anything new are enough: of a board that can be asked by place, and of one that can't.
const FRUITLESS: (u8, u8) = (1, 3);
/// A list that has been silent this long has ended, and sooner where its settings come fast.
pub const QUIET: Duration = Duration::from_millis(400);
/// No shorter silence ends a list.
const LEAST_QUIET: Duration = Duration::from_millis(15);
/// Places that are asked for and none of which is answered for so long, and so often: then the list is asked for again.
const DEAF: (Duration, u32) = (Duration::from_millis(600), 8);
/// Without any new setting for so long, and after so many requests, the list is asked for once more, then given up.
pub const GIVEN_UP: (Duration, u32) = (Duration::from_secs(4), 12);
/// The longest that a reading takes.
pub const LONGEST: Duration = Duration::from_secs(110);
/// So many places that come twice, once asked for and once not, show that a list has not ended.
const DOUBLED: u8 = 2;
/// From so many settings on, the time left is told.
const TELLS_FROM: u16 = 8;

/// A value whose reading waits for more to be known of the encoding.
#[derive(Debug)]
struct Held {
    name: SettingName,
    kind: ParamType,
    raw: u32,
    index: u16,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Phase {
    /// The list was asked for, and nothing has come since.
    #[default]
    Asked,
    /// It is coming.
    Coming,
    /// It has ended; gaps are asked for.
    Gaps,
}

/// How a list comes: its first setting, the last so far, and the longest time between two.
#[derive(Debug, Clone, Copy)]
struct Course {
    first: (Time, u16),
    last: (Time, u16),
    longest: Duration,
}

/// A reading of all settings under way.
#[derive(Debug, Default)]
pub(super) struct Listing {
    ticket: Ticket,
    got: Vec<bool>,
    /// Of the places that were heard, and whether two have it.
    names: BTreeMap<SettingName, bool>,
    have: u16,
    phase: Phase,
    /// Requests for the list: in a row without an answer, and in all.
    tries: u8,
    lists: u8,
    wait: Duration,
    asked: Time,
    /// When the present phase has lasted too long.
    due: Time,
    course: Option<Course>,
    /// Places that came twice since a list was taken for ended.
    doubled: u8,
    gaps: Gaps,
    /// Where to look for the next gap.
    next: usize,
    began: Time,
    first_new: Time,
    last_new: Time,
    /// What was had when the list was last asked for, and how many lists in a row brought nothing new.
    had: u16,
    fruitless: u8,
    changed: bool,
    /// A place beyond the announced number, and that number.
    beyond: Option<(u16, u16)>,
    held: Vec<Held>,
    end: Option<Done>,
}

/// One `PARAM_VALUE`, as far as the list is concerned.
pub(super) struct Item<'a> {
    pub(super) index: u16,
    pub(super) count: u16,
    /// Name, type and bits, where they can be used at all.
    pub(super) value: Option<(&'a SettingName, ParamType, u32)>,
    /// Whether the value was told already.
    pub(super) told: bool,
}

impl Listing {
    /// Begins: the first request.
    pub(super) fn begin(now: Time, ticket: Ticket, gate: &mut Gate, to: Target, out: &mut Vec<u8>) -> Self {
        let mut listing = Self {
            ticket,
            wait: FIRST_WAIT,
            asked: now,
            due: now,
            began: now,
            first_new: now,
            last_new: now,
            ..Self::default()
        };
        listing.ask_list(now, gate, to, out);
        listing
    }

    /// Takes a setting.
    pub(super) fn take(&mut self, now: Time, item: &Item, proof: Proof, heard: &mut Vec<LinkEvent>) {
        if self.end.is_some() {
            return;
        }
        if item.index >= item.count {
            // 65535 marks a setting that is told outside of any list.
            self.beyond = self.beyond.or(Some((item.index, item.count)).filter(|_| item.index != u16::MAX));
            return;
        }
        let count = usize::from(item.count);
        if self.got.len() != count {
            if !self.got.is_empty() && !self.restart() {
                return;
            }
            self.got = vec![false; count];
        }
        let place = usize::from(item.index);
        let asked = self.gaps.answer(now, item.index);
        if !asked && (self.phase != Phase::Gaps || !self.got[place] || self.goes_on(item.index)) {
            self.come(now, item);
        }
        if self.got[place] {
            return;
        }
        self.got[place] = true;
        if self.have == 0 {
            self.first_new = now;
        }
        self.have += 1;
        self.last_new = now;
        if let Some((name, ..)) = item.value {
            self.names.entry(name.clone()).and_modify(|twice| *twice = true).or_insert(false);
        }
        if let (Some((name, kind, raw)), false) = (item.value, item.told)
            && proof.open(kind)
        {
            self.held.push(Held { name: name.clone(), kind, raw, index: item.index });
        }
        heard.push(LinkEvent::Listing { have: self.have, of: item.count, left: self.left(now, item.count) });
        if self.have == item.count {
            self.end = Some(self.resolve(proof, heard));
        }
    }

    /// Whether a place that was had already shows that the list is still coming: it is beyond all that was listed, and
    /// not the first such. A place that was asked for then comes twice, once by the list.
    fn goes_on(&mut self, index: u16) -> bool {
        let beyond = self.course.is_some_and(|course| index > course.last.1);
        self.doubled += u8::from(beyond);
        beyond && self.doubled >= DOUBLED
    }

    /// The list is coming.
    fn come(&mut self, now: Time, item: &Item) {
        if self.phase == Phase::Asked && self.lists == 1 {
            self.gaps.first_answer(now.since(self.asked));
        }
        (self.phase, self.tries, self.doubled) = (Phase::Coming, 0, 0);
        let here = (now, item.index);
        let course = self.course.get_or_insert(Course { first: here, last: here, longest: Duration::ZERO });
        course.longest = course.longest.max(now.since(course.last.0));
        if item.index < course.first.1 {
            course.first = here;
        }
        course.last = here;
        let places = u32::from(course.last.1 - course.first.1);
        if places == 0 {
            self.due = now + QUIET;
            return;
        }
        let each = now.since(course.first.0) / places;
        self.gaps.pace(each);
        let last = item.index + 1 == item.count && self.have > item.count / 2;
        let quiet = (course.longest * 2 + each * 4).clamp(LEAST_QUIET, QUIET);
        self.due = if last { now } else { now + quiet };
    }

    /// The time left, from that taken so far.
    fn left(&self, now: Time, of: u16) -> Option<Duration> {
        let taken = now.since(self.first_new);
        (self.have >= TELLS_FROM).then(|| taken * u32::from(of - self.have) / u32::from(self.have - 1))
    }

    /// The number of settings changed: once, everything is read anew. Whether it goes on.
    fn restart(&mut self) -> bool {
        if self.changed {
            self.end = Some(Done::Refused(Refusal::ListChanged.to_string()));
            return false;
        }
        self.changed = true;
        self.have = 0;
        self.had = 0;
        self.phase = Phase::Coming;
        self.gaps.clear();
        self.course = None;
        self.next = 0;
        self.held.clear();
        self.names.clear();
        true
    }

    /// Values that were open, now that all were heard.
    fn resolve(&mut self, proof: Proof, heard: &mut Vec<LinkEvent>) -> Done {
        let mut open = false;
        for held in self.held.drain(..) {
            match proof.read(held.kind, held.raw) {
                Some(value) => heard.push(LinkEvent::Setting { name: held.name, value, index: Some(held.index) }),
                None => open = true,
            }
        }
        if open {
            return Done::Refused(Refusal::EncodingOpen.to_string());
        }
        if let Some((place, of)) = self.beyond {
            return Done::Refused(Refusal::ListCount { place, of }.to_string());
        }
        let names = std::mem::take(&mut self.names);
        let twice = names.iter().filter(|(_, twice)| **twice).map(|(name, _)| name.clone());
        heard.extend(twice.map(|name| LinkEvent::NoValue { name, why: NoValue::Twice }));
        heard.push(LinkEvent::Listed(names.into_keys().collect()));
        Done::Ok
    }

    /// The board answered with an error to a place that was asked for.
    pub(super) fn refused(&mut self, index: i16, refusal: &Refusal) {
        if u16::try_from(index).is_ok_and(|index| self.gaps.asked(index)) {
            self.end = Some(Done::Refused(refusal.to_string()));
        }
    }

    /// What came can't be read at all.
    pub(super) fn end_with(&mut self, refusal: &Refusal) {
        self.end.get_or_insert_with(|| Done::Refused(refusal.to_string()));
    }

    /// Repeats, gaps, timeouts. Gives the end of the reading, once.
    pub(super) fn work(&mut self, now: Time, gate: &mut Gate, to: Target, out: &mut Vec<u8>) -> Option<(Ticket, Done)> {
        if self.end.is_none() && now >= self.began + LONGEST {
            self.give_up();
        }
        if self.end.is_none() && self.phase == Phase::Asked && self.due <= now {
            if self.tries < TRIES { self.ask_list(now, gate, to, out) } else { self.give_up() }
        }
        if self.end.is_none() && self.phase == Phase::Coming && self.due <= now {
            self.phase = Phase::Gaps;
            self.gaps.unanswered = 0;
            self.due = now + DEAF.0;
        }
        if self.end.is_none() && self.phase == Phase::Gaps {
            self.ask_gaps(now, gate, to, out);
        }
        self.ended()
    }

    /// The end of the reading, once.
    pub(super) fn ended(&mut self) -> Option<(Ticket, Done)> {
        self.end.take().map(|end| (self.ticket, end))
    }

    fn ask_list(&mut self, now: Time, gate: &mut Gate, to: Target, out: &mut Vec<u8>) {
        if !gate.pass(&make::list(to), out) {
            self.end = Some(Done::Refused(Refusal::Gate.to_string()));
            return;
        }
        self.wait = if self.tries == 0 { FIRST_WAIT } else { self.wait * 2 };
        self.tries += 1;
        self.lists += 1;
        (self.phase, self.asked, self.due) = (Phase::Asked, now, now + self.wait);
        (self.course, self.next, self.had) = (None, 0, self.have);
        self.gaps.clear();
    }

    /// Asks for the list once more, if that can help at all.
    fn ask_again(&mut self, now: Time, gate: &mut Gate, to: Target, out: &mut Vec<u8>) {
        self.fruitless = if self.lists == 1 || self.have > self.had { 0 } else { self.fruitless + 1 };
        let enough = if self.gaps.answered { FRUITLESS.0 } else { FRUITLESS.1 };
        if self.lists < LISTS && self.fruitless < enough {
            self.ask_list(now, gate, to, out);
        } else {
            self.give_up();
        }
    }

    fn give_up(&mut self) {
        let of = u16::try_from(self.got.len()).unwrap_or(u16::MAX);
        self.end = Some(match self.beyond {
            Some((place, of)) if self.have == 0 => Done::Refused(Refusal::ListCount { place, of }.to_string()),
            _ if of == 0 => Done::Silent,
            _ => Done::Refused(Refusal::ListIncomplete { have: self.have, of }.to_string()),
        });
    }

    fn ask_gaps(&mut self, now: Time, gate: &mut Gate, to: Target, out: &mut Vec<u8>) {
        let asked = self.gaps.unanswered;
        let deaf = !self.gaps.answered && now >= self.due && asked >= DEAF.1;
        if deaf {
            return self.ask_again(now, gate, to, out);
        }
        if now.since(self.last_new.max(self.asked)) >= GIVEN_UP.0 && asked >= GIVEN_UP.1 {
            return self.ask_again(now, gate, to, out);
        }
        loop {
            let next = self.gaps.due(now).or_else(|| self.next_gap());
            let Some(index) = next else { break };
            match make::read_index(to, index) {
                Some(message) if gate.pass(&message, out) => self.gaps.ask(now, index),
                Some(_) => {
                    self.end = Some(Done::Refused(Refusal::Gate.to_string()));
                    return;
                }
                // Places beyond 32767 can only be listed.
                None => {
                    self.next = self.got.len();
                    break;
                }
            }
        }
        if self.gaps.is_empty() {
            self.ask_again(now, gate, to, out);
        }
    }

    /// The next gap, if there is room for one.
    fn next_gap(&mut self) -> Option<u16> {
        if !self.gaps.has_room() {
            return None;
        }
        while let Some(got) = self.got.get(self.next) {
            let place = self.next;
            self.next += 1;
            let index = u16::try_from(place).ok()?;
            if !got && !self.gaps.asked(index) {
                return Some(index);
            }
        }
        None
    }

    /// When [`Listing::work`] has something to do.
    pub(super) fn wake(&self) -> Time {
        if self.end.is_some() {
            return Time(0);
        }
        let ends = self.began + LONGEST;
        let due = match self.phase {
            Phase::Asked | Phase::Coming => self.due,
            Phase::Gaps if self.gaps.is_empty() || self.gaps.has_room() && self.next < self.got.len() => Time(0),
            Phase::Gaps => self.gaps.wake(),
        };
        due.min(ends)
    }
}
