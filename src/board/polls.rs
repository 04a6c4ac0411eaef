//! Which signal is asked for next, on a link whose board says little or nothing by itself.
//!
//! The armed flag goes first whenever it is due; the others by how late they are for their own rate, so that on a slow
//! wire all become rarer alike. Must not be here: the questions themselves.

use super::console::Capability;
use super::refusal::Common;
use super::signals::Stream;
use crate::measure::time::Time;
use std::collections::BTreeMap;
use std::time::Duration;

/// How often the armed flag is asked for while nothing asks for streams.
const IDLE: Duration = Duration::from_millis(250);
/// A signal that was refused or not answered is asked for again after this.
const AGAIN: Duration = Duration::from_secs(1);

#[derive(Debug, Clone, Copy)]
struct Poll {
    every: Duration,
    due: Time,
    /// When it was asked for last.
    asked: Time,
    /// Questions without an answer since the last that had one.
    missed: u32,
}

/// So many unanswered questions make a signal that the board does not give now.
const MISSED: u32 = 3;
/// Least time that an answer to a signal is waited for, and what the slowest of late is taken times.
const LEAST_WAIT: Duration = Duration::from_millis(60);
const TIMES: u32 = 4;

/// How long the answer to a signal is waited for: by how long answers took of late, so that one that was lost on the
/// way does not leave the others old.
#[derive(Debug, Default)]
pub(super) struct Wait(Option<Duration>);

impl Wait {
    /// An answer took so long.
    pub(super) fn took(&mut self, time: Duration) {
        let faded = self.0.unwrap_or_default() * 15 / 16;
        self.0 = Some(faded.max(time));
    }

    /// How long to wait, at most `most`.
    pub(super) fn time(&self, most: Duration) -> Duration {
        self.0.map_or(most, |slowest| (slowest * TIMES).max(LEAST_WAIT).min(most))
    }
}

/// See the module.
#[derive(Debug)]
pub(super) struct Polls(BTreeMap<Stream, Poll>);

impl Default for Polls {
    fn default() -> Self {
        Self(BTreeMap::from([(Stream::Alive, Poll { every: IDLE, due: Time(0), asked: Time(0), missed: 0 })]))
    }
}

impl Polls {
    /// Asks for a signal, or leaves it, as a request says over a link that `gives` it or not; `true` if nothing is asked for
    /// any more.
    pub(super) fn request(
        &mut self,
        (stream, hertz): (Stream, Option<u32>),
        gives: bool,
        link: &'static str,
    ) -> Result<bool, Common> {
        match hertz {
            Some(0) => return Err(Common::RateZero),
            Some(_) if !gives => return Err(Common::NotGiven { link, need: Capability::of(stream) }),
            Some(hertz) => self.ask(stream, hertz),
            None => return Ok(self.leave(stream)),
        }
        Ok(false)
    }

    /// Asks for a signal so many times a second, at least once.
    fn ask(&mut self, stream: Stream, hertz: u32) {
        let every = Duration::from_secs(1) / hertz.max(1);
        self.0.insert(stream, Poll { every, due: Time(0), asked: Time(0), missed: 0 });
    }

    /// Asks for it no more; `true` if nothing is asked for any more.
    fn leave(&mut self, stream: Stream) -> bool {
        self.0.remove(&stream).is_some() && self.0.is_empty()
    }

    /// When the next is due.
    pub(super) fn wake(&self) -> Time {
        self.0.values().map(|poll| poll.due).min().unwrap_or(Time::NEVER)
    }

    /// The signal to ask for now, if one is due.
    pub(super) fn next(&self, now: Time) -> Option<Stream> {
        let due = |poll: &Poll| poll.due <= now;
        if self.0.get(&Stream::Alive).is_some_and(due) {
            return Some(Stream::Alive);
        }
        // How many of its own intervals each is late, in thousandths.
        let late = |poll: &Poll| now.since(poll.due).as_micros() * 1000 / poll.every.as_micros().max(1);
        self.0.iter().filter(|(_, poll)| due(poll)).max_by_key(|(_, poll)| late(poll)).map(|(stream, _)| *stream)
    }

    /// It was asked for at `now`.
    pub(super) fn asked(&mut self, stream: Stream, now: Time) {
        if let Some(poll) = self.0.get_mut(&stream) {
            poll.asked = now;
        }
        self.skips(stream, now);
    }

    /// It is not asked for this time.
    pub(super) fn skips(&mut self, stream: Stream, now: Time) {
        if let Some(poll) = self.0.get_mut(&stream) {
            poll.due = (poll.due + poll.every).max(now + poll.every / 2);
        }
    }

    /// It was answered.
    pub(super) fn answered(&mut self, stream: Stream) {
        if let Some(poll) = self.0.get_mut(&stream) {
            poll.missed = 0;
        }
    }

    /// The board said no: the others must not wait for it.
    pub(super) fn refused(&mut self, stream: Stream, now: Time) {
        if let Some(poll) = self.0.get_mut(&stream)
            && stream != Stream::Alive
        {
            poll.due = now + AGAIN;
        }
    }

    /// It was not answered: asked again at once, but not for ever, and where a wire that sends all back ends each question as
    /// it is asked, twice as often as it is due at most.
    pub(super) fn failed(&mut self, stream: Stream, now: Time) {
        let Some(poll) = self.0.get_mut(&stream) else { return };
        poll.missed = poll.missed.saturating_add(1);
        poll.due = now.max(poll.asked + poll.every / 2);
        if poll.missed >= MISSED {
            self.refused(stream, now);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// How often each was asked in ten seconds, where one question takes so long.
    fn asked(takes: Duration) -> BTreeMap<Stream, u32> {
        let mut polls = Polls::default();
        let rates = [(Stream::Alive, 10), (Stream::Channels, 50), (Stream::Outputs, 50), (Stream::Attitude, 20)];
        for (stream, rate) in rates {
            polls.ask(stream, rate);
        }
        let (mut now, mut count) = (Time(1_000_000), BTreeMap::new());
        while now < Time(11_000_000) {
            if let Some(stream) = polls.next(now) {
                polls.asked(stream, now);
                *count.entry(stream).or_default() += 1;
                now = now + takes;
            } else {
                now = polls.wake();
            }
        }
        count
    }

    #[test]
    fn a_fast_wire_gives_every_rate_that_was_asked_for() {
        let count = asked(Duration::from_millis(1));
        for (stream, least) in
            [(Stream::Alive, 100), (Stream::Channels, 495), (Stream::Outputs, 495), (Stream::Attitude, 198)]
        {
            assert!((least..=least + 10).contains(&count[&stream]), "{count:?}");
        }
    }

    /// A wire that sends back what is typed ends each question without an answer, as soon as it is asked.
    #[test]
    fn questions_that_end_at_once_are_not_asked_as_fast_as_they_end() {
        let mut polls = Polls::default();
        polls.ask(Stream::Alive, 10);
        let (mut now, mut count) = (Time(1_000_000), 0);
        while now < Time(11_000_000) {
            if polls.next(now).is_some() {
                polls.asked(Stream::Alive, now);
                now = now + Duration::from_millis(1);
                polls.failed(Stream::Alive, now);
                count += 1;
            } else {
                now = polls.wake();
            }
        }
        assert!((100..=200).contains(&count), "{count} in ten seconds");
    }

    #[test]
    fn a_slow_wire_keeps_the_armed_flag_at_ten_hertz_and_starves_nobody() {
        let count = asked(Duration::from_millis(20));
        assert!(count[&Stream::Alive] >= 99, "{count:?}");
        assert!(count[&Stream::Channels] > 120 && count[&Stream::Outputs] > 120, "{count:?}");
        assert!(count[&Stream::Attitude] > 40, "{count:?}");
    }
}
