//! Reading all settings: one request, then only the gaps again by their place, several at a time.
//!
//! Nothing is asked while the board is sending its list. Complete means that every place was heard; tries are bounded.
//! Source: MAVLink developer guide, `services/parameter`; it fixes no times, so these are ours.

use super::encoding::{Kind, Proof};
use super::gate::Gate;
use super::make::{self, Target};
use super::refusal::Refusal;
use crate::board::signals::{Done, Heard, Ticket};
use crate::board::value::SettingName;
use crate::measure::time::Time;
use std::time::Duration;

/// First wait for the first setting; doubled with every repeat of the request.
pub const FIRST_WAIT: Duration = Duration::from_millis(500);
/// How often the list is asked for while nothing comes.
pub const TRIES: u8 = 4;
/// A list that has been silent this long has ended.
pub const QUIET: Duration = Duration::from_millis(400);
/// Gaps asked for at a time.
pub const WINDOW: usize = 8;
/// First wait for one gap; doubled with every repeat.
pub const GAP_WAIT: Duration = Duration::from_millis(300);
/// How often one gap is asked for.
pub const GAP_TRIES: u8 = 5;

#[derive(Debug)]
struct Gap {
    index: u16,
    tries: u8,
    wait: Duration,
    due: Time,
}

/// A value whose reading waits for more to be known of the encoding.
#[derive(Debug)]
struct Held {
    name: SettingName,
    kind: Kind,
    raw: u32,
    index: u16,
}

/// A reading of all settings under way.
#[derive(Debug)]
pub(super) struct Listing {
    ticket: Ticket,
    got: Vec<bool>,
    have: u16,
    tries: u8,
    wait: Duration,
    due: Time,
    /// Gaps that are asked for; `None` while the list itself is coming.
    gaps: Option<Vec<Gap>>,
    /// Where to look for the next gap.
    next: usize,
    changed: bool,
    held: Vec<Held>,
    end: Option<Done>,
}

/// One `PARAM_VALUE`, as far as the list is concerned.
pub(super) struct Item<'a> {
    pub(super) index: u16,
    pub(super) count: u16,
    /// Name, type and bits, where they can be used at all.
    pub(super) value: Option<(&'a SettingName, Kind, u32)>,
    /// Whether the value was told already.
    pub(super) told: bool,
}

impl Listing {
    /// Begins: the first request.
    pub(super) fn begin(now: Time, ticket: Ticket, gate: &mut Gate, to: Target, out: &mut Vec<u8>) -> Self {
        let end = (!gate.pass(&make::list(to), out)).then(|| Done::Refused(Refusal::Gate.to_string()));
        Self {
            ticket,
            got: Vec::new(),
            have: 0,
            tries: 1,
            wait: FIRST_WAIT,
            due: now + FIRST_WAIT,
            gaps: None,
            next: 0,
            changed: false,
            held: Vec::new(),
            end,
        }
    }

    /// Takes a setting.
    pub(super) fn take(&mut self, now: Time, item: &Item, proof: Proof, heard: &mut Vec<Heard>) {
        if self.end.is_some() || item.index >= item.count {
            return;
        }
        let count = usize::from(item.count);
        if self.got.len() != count {
            if !self.got.is_empty() && !self.restart(now) {
                return;
            }
            self.got = vec![false; count];
        }
        if self.gaps.is_none() {
            self.due = now + QUIET;
        }
        let place = usize::from(item.index);
        if self.got[place] {
            return;
        }
        self.got[place] = true;
        self.have += 1;
        if let Some(gaps) = &mut self.gaps {
            gaps.retain(|gap| gap.index != item.index);
        }
        if let (Some((name, kind, raw)), false) = (item.value, item.told)
            && proof.open(kind)
        {
            self.held.push(Held { name: name.clone(), kind, raw, index: item.index });
        }
        heard.push(Heard::Listing { have: self.have, of: item.count });
        if self.have == item.count {
            self.end = Some(self.resolve(proof, heard));
        }
    }

    /// The number of settings changed: once, everything is read anew. Whether it goes on.
    fn restart(&mut self, now: Time) -> bool {
        if self.changed {
            self.end = Some(Done::Refused(Refusal::ListChanged.to_string()));
            return false;
        }
        self.changed = true;
        self.have = 0;
        self.gaps = None;
        self.next = 0;
        self.held.clear();
        self.due = now + QUIET;
        true
    }

    /// Values that were open, now that all were heard.
    fn resolve(&mut self, proof: Proof, heard: &mut Vec<Heard>) -> Done {
        let mut open = false;
        for held in self.held.drain(..) {
            match proof.read(held.kind, held.raw) {
                Some(value) => heard.push(Heard::Setting { name: held.name, value, index: Some(held.index) }),
                None => open = true,
            }
        }
        if open { Done::Refused(Refusal::EncodingOpen.to_string()) } else { Done::Ok }
    }

    /// The board answered with an error to a place that was asked for.
    pub(super) fn refused(&mut self, index: i16, refusal: &Refusal) {
        let asked = |gaps: &Vec<Gap>| gaps.iter().any(|gap| i32::from(gap.index) == i32::from(index));
        if self.gaps.as_ref().is_some_and(asked) {
            self.end = Some(Done::Refused(refusal.to_string()));
        }
    }

    /// Repeats, gaps, timeouts. Gives the end of the reading, once.
    pub(super) fn work(&mut self, now: Time, gate: &mut Gate, to: Target, out: &mut Vec<u8>) -> Option<(Ticket, Done)> {
        if self.end.is_none() {
            if self.gaps.is_none() && self.due <= now {
                self.quiet(now, gate, to, out);
            }
            if self.end.is_none() {
                self.ask_gaps(now, gate, to, out);
            }
        }
        self.end.take().map(|end| (self.ticket, end))
    }

    /// Nothing has come for a while.
    fn quiet(&mut self, now: Time, gate: &mut Gate, to: Target, out: &mut Vec<u8>) {
        if !self.got.is_empty() {
            self.gaps = Some(Vec::new());
        } else if self.tries < TRIES && gate.pass(&make::list(to), out) {
            self.tries += 1;
            self.wait *= 2;
            self.due = now + self.wait;
        } else {
            self.end = Some(Done::Silent);
        }
    }

    fn ask_gaps(&mut self, now: Time, gate: &mut Gate, to: Target, out: &mut Vec<u8>) {
        let Some(gaps) = &mut self.gaps else { return };
        for gap in gaps.iter_mut().filter(|gap| gap.due <= now) {
            let message = make::read_index(to, gap.index).filter(|_| gap.tries < GAP_TRIES);
            if !message.is_some_and(|message| gate.pass(&message, out)) {
                self.end = Some(Done::Silent);
                return;
            }
            gap.tries += 1;
            gap.wait *= 2;
            gap.due = now + gap.wait;
        }
        while gaps.len() < WINDOW {
            let Some(missing) = self.got[self.next..].iter().position(|got| !got) else { return };
            let place = self.next + missing;
            self.next = place + 1;
            let Ok(index) = u16::try_from(place) else { return };
            if !make::read_index(to, index).is_some_and(|message| gate.pass(&message, out)) {
                self.end = Some(Done::Silent);
                return;
            }
            gaps.push(Gap { index, tries: 1, wait: GAP_WAIT, due: now + GAP_WAIT });
        }
    }

    /// When [`Listing::work`] has something to do.
    pub(super) fn wake(&self) -> Time {
        if self.end.is_some() {
            return Time(0);
        }
        let Some(gaps) = &self.gaps else { return self.due };
        let more = gaps.len() < WINDOW && self.got[self.next..].iter().any(|got| !got);
        if more { Time(0) } else { gaps.iter().map(|gap| gap.due).min().unwrap_or(Time(0)) }
    }
}
