//! Reading and writing single settings.
//!
//! Several reads may be on their way, but one write at a time, in the order given: the order of writes is part of
//! what keeps a craft safe. A write ends by comparing what the board answers; another value is asked for once more
//! before it counts, since a late answer may have come in between. Source: developer guide, `services/parameter`.

use super::encoding::{Kind, encode};
use super::gate::Gate;
use super::make::{self, Target};
use super::refusal::Refusal;
use crate::board::signals::{Done, Ticket};
use crate::board::value::{Number, SettingName};
use crate::measure::time::Time;
use std::collections::{BTreeMap, VecDeque};
use std::time::Duration;

/// First wait for a setting's answer; doubled with every repeat.
pub const FIRST_WAIT: Duration = Duration::from_millis(300);
/// How often a read or a write is sent at most.
pub const TRIES: u8 = 4;
/// Reads on their way at a time.
pub const WINDOW: usize = 8;
/// Names whose type is remembered at most; a list can't be longer.
const MOST_NAMES: usize = 65_536;

#[derive(Debug)]
struct Read {
    ticket: Ticket,
    name: SettingName,
    /// 0: not sent yet.
    sent: u8,
    wait: Duration,
    due: Time,
}

#[derive(Debug)]
struct Write {
    ticket: Ticket,
    name: SettingName,
    value: Number,
    sent: u8,
    wait: Duration,
    due: Time,
    /// What the board answered instead; set: being asked for once more.
    other: Option<Number>,
    ask: bool,
}

/// Single settings on their way, and the types learned from all that were heard.
#[derive(Debug, Default)]
pub(super) struct Settings {
    kinds: BTreeMap<SettingName, Kind>,
    reads: Vec<Read>,
    writes: VecDeque<Write>,
    ended: Vec<(Ticket, Done)>,
}

/// The encoding to write with, or why not.
pub(super) type Proved = Result<super::encoding::Encoding, Refusal>;

impl Settings {
    pub(super) fn read(&mut self, ticket: Ticket, name: SettingName) {
        self.reads.push(Read { ticket, name, sent: 0, wait: FIRST_WAIT, due: Time(0) });
    }

    /// Takes a write if it can be sent at all.
    pub(super) fn write(&mut self, ticket: Ticket, name: SettingName, value: Number, proved: Proved) {
        match self.bits(&name, value, proved) {
            Ok(_) => self.writes.push_back(Write {
                ticket,
                name,
                value,
                sent: 0,
                wait: FIRST_WAIT,
                due: Time(0),
                other: None,
                ask: false,
            }),
            Err(refusal) => self.ended.push((ticket, Done::Refused(refusal.to_string()))),
        }
    }

    /// Type and bits of a value, as they would be written.
    ///
    /// # Errors
    /// The encoding is not proved, the setting was never read, or the value does not fit its type.
    pub(super) fn bits(&self, name: &SettingName, value: Number, proved: Proved) -> Result<(Kind, u32), Refusal> {
        let encoding = proved?;
        let kind = *self.kinds.get(name).ok_or_else(|| Refusal::NotRead(name.clone()))?;
        Ok((kind, encode(name, kind, value, encoding)?))
    }

    /// Remembers a setting's type.
    pub(super) fn learn(&mut self, name: &SettingName, kind: Kind) {
        if let Some(known) = self.kinds.get_mut(name) {
            *known = kind;
        } else if self.kinds.len() < MOST_NAMES {
            self.kinds.insert(name.clone(), kind);
        }
    }

    /// Takes a value that the board told.
    pub(super) fn told(&mut self, name: &SettingName, value: Number) {
        let ended = &mut self.ended;
        self.reads.retain(|read| {
            let same = read.sent > 0 && read.name == *name;
            if same {
                ended.push((read.ticket, Done::Ok));
            }
            !same
        });
        let Some(write) = self.writes.front_mut().filter(|write| write.sent > 0 && write.name == *name) else { return };
        // The board holds 32 bits; a real that was asked for is compared as one.
        if value.same(write.value) {
            self.end_write(Done::Ok);
        } else if write.other.is_some() {
            self.end_write(Done::Differs(value));
        } else {
            write.other = Some(value);
            write.ask = true;
        }
    }

    /// Takes an error that the board told.
    pub(super) fn refused(&mut self, name: &SettingName, refusal: &Refusal) {
        let ended = &mut self.ended;
        self.reads.retain(|read| {
            let same = read.sent > 0 && read.name == *name;
            if same {
                ended.push((read.ticket, Done::Refused(refusal.to_string())));
            }
            !same
        });
        if self.writes.front().is_some_and(|write| write.sent > 0 && write.name == *name) {
            self.end_write(Done::Refused(refusal.to_string()));
        }
    }

    fn end_write(&mut self, done: Done) {
        if let Some(write) = self.writes.pop_front() {
            self.ended.push((write.ticket, done));
        }
    }

    /// A stop leaves: no write does any more.
    pub(super) fn overtake(&mut self) {
        let refused = || Done::Refused(Refusal::Overtaken.to_string());
        self.ended.extend(self.writes.drain(..).map(|write| (write.ticket, refused())));
    }

    /// Whether a write is open.
    pub(super) fn changes_open(&self) -> bool {
        !self.writes.is_empty()
    }

    /// Writes that would leave now are given up; one that waits for its answer goes on waiting.
    pub(super) fn give_up_repeats(&mut self, now: Time) {
        let (gone, kept) =
            std::mem::take(&mut self.writes).into_iter().partition(|write| write.due <= now && !write.ask);
        self.writes = kept;
        let gone: VecDeque<Write> = gone;
        let refused = || Done::Refused(Refusal::NotAtRest.to_string());
        self.ended.extend(gone.into_iter().map(|write| (write.ticket, refused())));
    }

    /// First sends, repeats and timeouts.
    pub(super) fn work(&mut self, now: Time, proved: &Proved, gate: &mut Gate, to: Target, out: &mut Vec<u8>) {
        let ended = &mut self.ended;
        let mut window = WINDOW;
        self.reads.retain_mut(|read| {
            if window == 0 {
                return true;
            }
            window -= 1;
            if read.due > now {
                return true;
            }
            if read.sent == TRIES || !gate.pass(&make::read(to, &read.name), out) {
                ended.push((read.ticket, Done::Silent));
                return false;
            }
            (read.sent, read.due) = (read.sent + 1, now + read.wait);
            read.wait *= 2;
            true
        });
        while self.work_write(now, proved, gate, to, out) {}
    }

    /// One step of the write at the front; whether it ended and the next may go.
    fn work_write(&mut self, now: Time, proved: &Proved, gate: &mut Gate, to: Target, out: &mut Vec<u8>) -> bool {
        let Some(write) = self.writes.front() else { return false };
        let bits = self.bits(&write.name, write.value, proved.clone());
        let Some(write) = self.writes.front_mut() else { return false };
        if write.due > now && !write.ask {
            return false;
        }
        // What was proved when the write was taken may no longer be.
        let (kind, raw) = match bits {
            Ok(bits) => bits,
            Err(refusal) => {
                self.end_write(Done::Refused(refusal.to_string()));
                return true;
            }
        };
        if std::mem::take(&mut write.ask) {
            write.due = now + FIRST_WAIT;
            return !gate.pass(&make::read(to, &write.name), out);
        }
        let message = make::write(to, &write.name, kind, raw);
        if write.sent == TRIES || !gate.pass(&message, out) {
            let done = write.other.map_or(Done::Silent, Done::Differs);
            self.end_write(done);
            return true;
        }
        (write.sent, write.due) = (write.sent + 1, now + write.wait);
        write.wait *= 2;
        false
    }

    /// When [`Settings::work`] has something to do.
    pub(super) fn wake(&self) -> Time {
        if !self.ended.is_empty() {
            return Time(0);
        }
        let write = self.writes.front().map(|write| if write.ask { Time(0) } else { write.due });
        let read = self.reads.iter().take(WINDOW).map(|read| read.due).min();
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
        self.ended.clear();
    }

    /// Forgets the types too: the board is another one.
    pub(super) fn forget(&mut self) {
        self.kinds.clear();
    }
}
