//! The writer of one wire: a queue with deadlines, stops that overtake it, and the dead man's hold.
//!
//! Promises: a stop leaves before everything queued, which is thrown away; a hold that is not renewed in time gives its
//! bytes, and again every 20 ms, until it ends: by then another craft may be on the wire; what has begun to leave is finished for at most 20 ms, so that the board is not left
//! in the middle of a frame; what has not begun by its deadline never does; a wire that takes or drains nothing for 2 s
//! is lost, whatever waits for it. Must not be here: what the bytes mean.

use crate::measure::time::Time;
use std::collections::VecDeque;
use std::ops::Range;
use std::time::Duration;

/// The system is not given more of the queue while it has this many bytes left: they could not be overtaken any more.
/// At 115 200 baud they take 11 ms.
const AHEAD: usize = 128;
/// Between two sendings of a hold that is due.
const AGAIN: Duration = Duration::from_millis(20);
/// How long, and how much, of something begun is finished before a stop.
const FINISH: Duration = Duration::from_millis(20);
const FINISH_BYTES: usize = 512;
/// A wire that takes or drains nothing for this long is lost.
const STUCK: Duration = Duration::from_secs(2);
/// How long a closing wire may still send what is queued.
const CLOSING: Duration = Duration::from_millis(300);
/// Stops that wait at most; the oldest are dropped.
const STOPS: usize = 8;
/// Between two looks at a wire that takes nothing now.
const LOOK: Duration = Duration::from_millis(1);

/// What to do next.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Doing {
    /// Give these bytes to the system now, all in one write, and say by [`Writer::wrote`] how many it took.
    Write(Vec<u8>),
    /// Nothing before this moment, unless something is said to the writer meanwhile.
    Wait(Time),
    /// It was closed, and what had to leave has left.
    End,
    /// The wire is stuck.
    Lost,
}

/// See the module.
#[derive(Debug, Clone, Default)]
pub struct Writer {
    /// Bytes of the queue handed out at once: the rest can still be overtaken.
    at_once: usize,
    queue: VecDeque<Frame>,
    stops: VecDeque<Vec<u8>>,
    hold: Option<Hold>,
    /// How often held bytes have left.
    fired: u32,
    /// Part of the program broke down while something was held: nothing that its other parts say counts any more.
    broken: bool,
    close_by: Option<Time>,
    leaving: Option<Leaving>,
    /// The wire took nothing; not before this moment again.
    refused_until: Time,
    /// Bytes that the system took, and how many of them it has sent.
    taken: u64,
    drained: u64,
    /// When bytes were last seen to leave, or nothing waited to.
    progress: Time,
    idle: bool,
}

#[derive(Debug, Clone)]
struct Frame {
    bytes: Vec<u8>,
    by: Time,
}

#[derive(Debug, Clone)]
struct Hold {
    bytes: Vec<u8>,
    due: Time,
    ends: Time,
}

/// What is leaving, and how much of it has left.
#[derive(Debug, Clone)]
struct Leaving {
    bytes: Vec<u8>,
    left: usize,
    what: Sending,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sending {
    /// Of the queue: begins by then, and where a stop waits for its end, ends by the second.
    Frame(Time, Option<Time>),
    Stop,
    Held,
}

impl Writer {
    /// A writer with nothing to do. `at_once`: bytes of the queue that it hands out at once.
    #[must_use]
    pub fn new(at_once: usize) -> Self {
        Self { at_once, idle: true, ..Self::default() }
    }

    /// Bytes after what is queued; those that have not begun to leave `by` then are dropped.
    pub fn send(&mut self, bytes: Vec<u8>, by: Time) {
        if !self.broken {
            self.queue.push_back(Frame { bytes, by });
        }
    }

    /// Bytes before what is queued, which is thrown away.
    pub fn stop(&mut self, bytes: Vec<u8>) {
        self.queue.clear();
        if self.stops.len() == STOPS {
            self.stops.pop_front();
        }
        self.stops.push_back(bytes);
    }

    /// Gives these bytes through this time, unless renewed or released before. Meanwhile each frame leaves in one write, so that
    /// whoever else writes into this wire never falls into the middle of one.
    pub fn hold(&mut self, bytes: Vec<u8>, through: Range<Time>) {
        if !self.broken {
            self.hold = Some(Hold { bytes, due: through.start, ends: through.end });
        }
    }

    /// Ends the hold; stops that have not begun to leave are nobody's any more.
    pub fn release(&mut self) {
        if !self.broken {
            self.hold = None;
            self.stops.clear();
            self.leaving.take_if(|leaving| leaving.left == 0 && !matches!(leaving.what, Sending::Frame(..)));
        }
    }

    /// Makes the hold due at once, and no more to be renewed or ended; whether there is one.
    pub fn fire(&mut self) -> bool {
        let Some(hold) = &mut self.hold else { return false };
        hold.due = Time(0);
        self.broken = true;
        true
    }

    /// How often held bytes have left.
    #[must_use]
    pub fn fired(&self) -> u32 {
        self.fired
    }

    /// Sends what is queued (or, where a hold was not released, its bytes alone) and ends.
    pub fn close(&mut self, now: Time) {
        self.close_by = self.close_by.or(Some(now + CLOSING));
    }

    /// What to do at this moment; `pending`: bytes that the system holds and has not sent, where it can tell.
    pub fn next(&mut self, now: Time, pending: usize) -> Doing {
        self.look(now, pending);
        self.choose(now);
        self.idle = self.leaving.is_none();
        let Some(leaving) = &self.leaving else {
            let due = self.hold.as_ref().map_or(Time::NEVER, |hold| hold.due);
            return if self.close_by.is_some() { Doing::End } else { Doing::Wait(due) };
        };
        if self.close_by.is_some_and(|by| by <= now) {
            return Doing::End;
        }
        if now.since(self.progress) > STUCK {
            return Doing::Lost;
        }
        if now < self.refused_until {
            return Doing::Wait(self.refused_until);
        }
        let rest = &leaving.bytes[leaving.left..];
        let most = match leaving.what {
            Sending::Frame(_, None) if pending >= AHEAD => return Doing::Wait(now + LOOK),
            Sending::Frame(..) if self.hold.is_none() => self.at_once,
            _ => usize::MAX,
        };
        Doing::Write(rest[..rest.len().min(most)].to_vec())
    }

    /// So many bytes of what was handed out last were taken; none: the wire takes nothing now.
    pub fn wrote(&mut self, now: Time, count: usize) {
        if count == 0 {
            self.refused_until = now + LOOK;
        }
        self.taken += count as u64;
        let Some(leaving) = &mut self.leaving else { return };
        leaving.left += count;
        if leaving.left >= leaving.bytes.len() {
            self.fired += u32::from(leaving.what == Sending::Held);
            self.leaving = None;
        }
    }

    /// Notes whether the wire gets on.
    fn look(&mut self, now: Time, pending: usize) {
        let drained = self.taken.saturating_sub(pending as u64);
        // Less than before: the guardian writes into this wire as well.
        if drained != self.drained || (self.idle && pending == 0) {
            self.progress = now;
        }
        self.drained = drained;
    }

    /// Settles what is leaving.
    fn choose(&mut self, now: Time) {
        let closing = self.close_by.is_some();
        self.hold.take_if(|hold| hold.ends <= now);
        let due = self.hold.as_ref().is_some_and(|hold| hold.due <= now || closing);
        let overtaken = due || !self.stops.is_empty();
        if due {
            self.queue.clear();
        }
        if let Some(Leaving { bytes, left, what: Sending::Frame(by, end) }) = &mut self.leaving {
            if overtaken && *left > 0 {
                end.get_or_insert(now + FINISH);
            }
            let begun = *left > 0 && end.is_none_or(|end| now < end && bytes.len() - *left <= FINISH_BYTES);
            if !begun && (overtaken || *left > 0 || *by < now) {
                self.leaving = None;
            }
        }
        if self.leaving.is_some() {
            return;
        }
        let leaving = |bytes, what| Some(Leaving { bytes, left: 0, what });
        if let Some(stop) = self.stops.pop_front() {
            self.leaving = leaving(stop, Sending::Stop);
        } else if due && let Some(mut hold) = self.hold.take() {
            self.leaving = leaving(hold.bytes.clone(), Sending::Held);
            hold.due = now + AGAIN;
            self.hold = Some(hold).filter(|_| !closing);
        } else {
            while let Some(frame) = self.queue.pop_front() {
                // Whatever came too late for its moment is nobody's any more.
                if frame.by >= now && !frame.bytes.is_empty() {
                    self.leaving = leaving(frame.bytes, Sending::Frame(frame.by, None));
                    return;
                }
            }
        }
    }
}
