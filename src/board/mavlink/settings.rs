//! Reading and writing single settings.
//!
//! Several reads may be on their way, but one write at a time, in the order given: the order of writes is part of
//! what keeps a craft safe. Only free writes, of which whoever asks says that their order does not matter, are on their
//! way together; they overtake no other write and no other overtakes them. A write ends by comparing what the board
//! answers; another value is asked for once more before it counts, since a late answer may have come in between.
//! Source: developer guide, `services/parameter`.

use super::encoding::encode;
use super::gate::Gate;
use super::make::{self, Target};
use super::param_type::{Encoding, ParamType};
use super::refusal::Refusal;
use super::round_trip::RoundTrip;
use crate::board::refusal::Common;
use crate::board::signals::{Done, Ticket};
use crate::board::value::{Number, SettingName};
use crate::measure::time::Time;
use std::collections::{BTreeMap, VecDeque};
use std::time::Duration;

/// First wait for a setting's answer, where no answer's time is known yet; doubled with every repeat.
pub const FIRST_WAIT: Duration = Duration::from_millis(300);
/// The shortest first wait, and the longest of all.
const LEAST_WAIT: Duration = Duration::from_millis(100);
const LONGEST_WAIT: Duration = Duration::from_millis(600);
/// How often a read or a write is sent at most.
pub const TRIES: u8 = 8;
/// Reads on their way at a time, and free writes.
pub const WINDOW: usize = 8;
/// How long an answer to an earlier sending of a write may still come.
const LATE: Duration = Duration::from_secs(3);
/// Names whose type is remembered at most; a list can't be longer.
const MOST_NAMES: usize = 65_536;

/// How often something was sent, and when it is again.
#[derive(Debug, Default)]
struct Tries {
    /// 0: not sent yet.
    sent: u8,
    at: Time,
    wait: Duration,
    due: Time,
}

impl Tries {
    fn sent(&mut self, now: Time, trip: &RoundTrip) {
        self.wait = match self.sent {
            0 => trip.patience(FIRST_WAIT).clamp(LEAST_WAIT, FIRST_WAIT),
            _ => (self.wait * 2).min(LONGEST_WAIT),
        };
        self.sent += 1;
        (self.at, self.due) = (now, now + self.wait);
    }

    /// It was answered: of what was sent once, the time is known.
    fn answered(&self, now: Time, trip: &mut RoundTrip) {
        if self.sent == 1 {
            trip.note(now.since(self.at));
        }
    }
}

#[derive(Debug)]
struct Read {
    ticket: Ticket,
    name: SettingName,
    tries: Tries,
}

#[derive(Debug)]
struct Write {
    ticket: Ticket,
    name: SettingName,
    value: Number,
    /// Whether its place among other free ones does not matter.
    free: bool,
    tries: Tries,
    /// What the board answered instead; set: being asked for once more.
    other: Option<Number>,
    /// The question once more has not left yet.
    ask: bool,
    /// How often that left, and how many answers came to it and to the write.
    asked: u8,
    answers: u8,
}

/// Single settings on their way, and the types learned from all that were heard.
#[derive(Debug, Default)]
pub(super) struct Settings {
    kinds: BTreeMap<SettingName, ParamType>,
    reads: Vec<Read>,
    /// In their order; those on their way are among the first.
    writes: VecDeque<Write>,
    trip: RoundTrip,
    /// Answers that repeats may still bring, how many and until when.
    owed: Vec<(SettingName, u8, Time)>,
    /// What was to be written lately, and until when the wire may still bring a second answer to that, as if it had been sent twice.
    written: Vec<(SettingName, Time)>,
    ended: Vec<(Ticket, Done)>,
}

/// The encoding to write with, or why not.
pub(super) type Proved = Result<Encoding, Refusal>;

impl Settings {
    pub(super) fn read(&mut self, ticket: Ticket, name: SettingName) {
        self.reads.push(Read { ticket, name, tries: Tries::default() });
    }

    /// Takes a write if it can be sent at all; a `free` one may be on its way together with other such.
    pub(super) fn write(&mut self, ticket: Ticket, to: (SettingName, Number), free: bool, proved: Proved) {
        let (name, value) = to;
        match self.bits(&name, value, proved) {
            Ok(_) => {
                let tries = Tries::default();
                self.writes.push_back(Write {
                    ticket,
                    name,
                    value,
                    free,
                    tries,
                    other: None,
                    ask: false,
                    asked: 0,
                    answers: 0,
                });
            }
            Err(refusal) => self.ended.push((ticket, Done::Refused(refusal.to_string()))),
        }
    }

    /// How many of the first writes may be on their way: one, or as many free ones of different settings as follow
    /// each other.
    fn together(&self) -> usize {
        if self.writes.is_empty() {
            return 0;
        }
        let free = self.writes.iter().take(WINDOW).take_while(|write| write.free).count();
        let again = |at: &usize| self.writes.range(..*at).any(|before| before.name == self.writes[*at].name);
        (1..free).find(again).unwrap_or(free).max(1).min(self.writes.len())
    }

    /// Type and bits of a value, as they would be written.
    ///
    /// # Errors
    /// The encoding is not proved, the setting was never read, or the value does not fit its type.
    pub(super) fn bits(&self, name: &SettingName, value: Number, proved: Proved) -> Result<(ParamType, u32), Refusal> {
        let encoding = proved?;
        let kind = *self.kinds.get(name).ok_or_else(|| Refusal::NotRead(name.clone()))?;
        Ok((kind, encode(name, kind, value, encoding)?))
    }

    /// Remembers a setting's type.
    pub(super) fn learn(&mut self, name: &SettingName, kind: ParamType) {
        if let Some(known) = self.kinds.get_mut(name) {
            *known = kind;
        } else if self.kinds.len() < MOST_NAMES {
            self.kinds.insert(name.clone(), kind);
        }
    }

    /// Takes a value that the board told.
    pub(super) fn told(&mut self, now: Time, name: &SettingName, value: Number) {
        if self.is_late_echo(now, name) {
            return;
        }
        self.written.retain(|(_, until)| *until > now);
        let written = self.written.iter().any(|(written, _)| written == name);
        let soon = if written { self.trip.least() / 2 } else { Duration::ZERO };
        let (ended, trip, owed) = (&mut self.ended, &mut self.trip, &mut self.owed);
        self.reads.retain(|read| {
            let same = read.tries.sent > 0 && read.name == *name;
            if same {
                // In less than half of what any of the last few took: it is to the write before.
                if read.tries.sent == 1 && now.since(read.tries.at) < soon {
                    return true;
                }
                read.tries.answered(now, trip);
                if read.tries.sent > 1 {
                    owed.push((read.name.clone(), read.tries.sent - 1, read.tries.at + LATE));
                }
                ended.push((read.ticket, Done::Ok));
            }
            !same
        });
        let Some(at) = self.on_its_way(name) else { return };
        let write = &mut self.writes[at];
        write.answers = write.answers.saturating_add(1);
        // The board holds 32 bits; a real that was asked for is compared as one.
        if value.same(write.value) {
            write.tries.answered(now, &mut self.trip);
            self.end_write(at, Done::Ok);
        } else if write.other.is_some() && !write.ask {
            self.end_write(at, Done::Differs(value));
        } else {
            write.other = Some(value);
            write.ask = true;
        }
    }

    /// Whether this is one of the answers that repeats still owe: it says nothing of a later question.
    fn is_late_echo(&mut self, now: Time, name: &SettingName) -> bool {
        self.owed.retain(|(_, count, until)| *count > 0 && *until > now);
        if self.on_its_way(name).is_some() {
            return false;
        }
        let owed = self.owed.iter_mut().find(|(owed, ..)| owed == name);
        owed.map(|(_, count, _)| *count -= 1).is_some()
    }

    /// The write of a setting that was sent and waits for its answer.
    fn on_its_way(&self, name: &SettingName) -> Option<usize> {
        self.writes.iter().take(WINDOW).position(|write| write.tries.sent > 0 && write.name == *name)
    }

    /// Takes an error that the board told.
    pub(super) fn refused(&mut self, name: &SettingName, refusal: &Refusal) {
        let ended = &mut self.ended;
        self.reads.retain(|read| {
            let same = read.tries.sent > 0 && read.name == *name;
            if same {
                ended.push((read.ticket, Done::Refused(refusal.to_string())));
            }
            !same
        });
        if let Some(at) = self.on_its_way(name) {
            self.writes[at].answers = self.writes[at].answers.saturating_add(1);
            self.end_write(at, Done::Refused(refusal.to_string()));
        }
    }

    fn end_write(&mut self, at: usize, done: Done) {
        if let Some(write) = self.writes.remove(at) {
            self.written.push((write.name.clone(), write.tries.at + LATE));
            let owed = (write.tries.sent + write.asked).saturating_sub(write.answers);
            if owed > 0 {
                self.owed.push((write.name, owed, write.tries.at + LATE));
            }
            self.ended.push((write.ticket, done));
        }
    }

    /// A stop leaves: no write does any more.
    pub(super) fn overtake(&mut self) {
        let refused = || Done::Refused(Common::Overtaken.to_string());
        self.ended.extend(self.writes.drain(..).map(|write| (write.ticket, refused())));
    }

    /// A frame of this write may not leave: it ends with this reason.
    pub(super) fn refuse(&mut self, name: &SettingName, why: &Refusal) {
        if let Some(at) = self.on_its_way(name) {
            self.end_write(at, Done::Refused(why.to_string()));
        }
    }

    /// First sends, repeats and timeouts.
    pub(super) fn work(&mut self, now: Time, proved: &Proved, gate: &mut Gate, to: Target, out: &mut Vec<u8>) {
        let (ended, trip) = (&mut self.ended, &self.trip);
        let mut window = WINDOW;
        self.reads.retain_mut(|read| {
            if window == 0 {
                return true;
            }
            window -= 1;
            if read.tries.due > now {
                return true;
            }
            if read.tries.sent == TRIES || !gate.pass(&make::read(to, &read.name), out) {
                ended.push((read.ticket, Done::Silent));
                return false;
            }
            read.tries.sent(now, trip);
            true
        });
        let mut at = 0;
        while at < self.together() {
            // One that has ended makes room at its place.
            at += usize::from(!self.work_write(at, now, proved, gate, to, out));
        }
    }

    /// One step of a write that may be on its way; whether it ended.
    fn work_write(
        &mut self,
        at: usize,
        now: Time,
        proved: &Proved,
        gate: &mut Gate,
        to: Target,
        out: &mut Vec<u8>,
    ) -> bool {
        let write = &self.writes[at];
        if write.tries.due > now && !write.ask {
            return false;
        }
        let bits = self.bits(&write.name, write.value, proved.clone());
        let write = &mut self.writes[at];
        // What was proved when the write was taken may no longer be.
        let (kind, raw) = match bits {
            Ok(bits) => bits,
            Err(refusal) => {
                self.end_write(at, Done::Refused(refusal.to_string()));
                return true;
            }
        };
        if std::mem::take(&mut write.ask) {
            write.tries.due = now + FIRST_WAIT;
            write.asked += 1;
            if gate.pass(&make::read(to, &write.name), out) {
                return false;
            }
            self.end_write(at, Done::Refused(Refusal::Gate.to_string()));
            return true;
        }
        let message = make::write(to, &write.name, kind, raw);
        if write.tries.sent == TRIES || !gate.pass(&message, out) {
            let done = write.other.map_or(Done::Silent, Done::Differs);
            self.end_write(at, done);
            return true;
        }
        write.tries.sent(now, &self.trip);
        false
    }

    /// When [`Settings::work`] has something to do.
    pub(super) fn wake(&self) -> Time {
        if !self.ended.is_empty() {
            return Time(0);
        }
        let due = |write: &Write| if write.ask { Time(0) } else { write.tries.due };
        let write = self.writes.iter().take(self.together()).map(due).min();
        let read = self.reads.iter().take(WINDOW).map(|read| read.tries.due).min();
        write.into_iter().chain(read).min().unwrap_or(Time::NEVER)
    }

    /// What has ended since the last call.
    pub(super) fn ended(&mut self) -> Vec<(Ticket, Done)> {
        std::mem::take(&mut self.ended)
    }

    /// Forgets what is on its way, not the types.
    pub(super) fn clear(&mut self) {
        self.reads.clear();
        self.writes.clear();
        self.owed.clear();
        self.written.clear();
        self.trip = RoundTrip::default();
        self.ended.clear();
    }

    /// Forgets the types too: the board is another one.
    pub(super) fn forget(&mut self) {
        self.kinds.clear();
    }
}
