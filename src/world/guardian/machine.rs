//! What a guardian does, as a machine: without a clock, a wire or a process.
//!
//! Promises: it fires 200 ms after the last renewal, or at once when the program ends without a release; once it has
//! fired, renewals count for nothing and only a release ends it; nothing leaves later than its time after the last
//! renewal; it never piles up stops on a wire that is slow. Must not be here: what the bytes mean.

use crate::measure::time::Time;
use crate::seam::guardian::{GuardianEvent, HOLDS, QUICK, QUICK_FOR, SLOW, StopFrames, burst};
use std::time::Duration;

/// What a guardian hears.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GuardianInput {
    /// What to send, should it come to that.
    Prepare(StopFrames),
    /// The program judged at this moment that everything is as it should be.
    Renew(u32, Time),
    /// Everything was seen at rest.
    Release,
    /// The program is gone, or lets go of the wire.
    End,
    /// The wire is gone.
    HungUp,
}

/// What it does, in this order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GuardianOutput {
    /// Tells the program.
    Tell(GuardianEvent),
    /// Throws away what has not been sent yet, of whomever.
    Discard,
    /// One stop for the wire.
    Write(Vec<u8>),
    /// Words for the person: the stop is not sent any more.
    Say,
    /// Closes the wire and ends.
    Leave,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum State {
    Idle,
    Held { renewed: Time },
    Firing { since: Time, ends: Time, next: Time },
    Spent,
    Left,
}

/// See the module.
#[derive(Debug, Clone)]
pub struct Guardian {
    state: State,
    stops: Vec<Vec<u8>>,
    next: usize,
    lasts: Duration,
    /// The program is gone.
    alone: bool,
}

impl Default for Guardian {
    fn default() -> Self {
        Self { state: State::Idle, stops: Vec::new(), next: 0, lasts: Duration::ZERO, alone: false }
    }
}

impl Guardian {
    /// When it has something to do by itself.
    #[must_use]
    pub fn due(&self) -> Time {
        match self.state {
            State::Held { renewed } => renewed + HOLDS,
            State::Firing { ends, next, .. } => next.min(ends),
            State::Idle | State::Spent | State::Left => Time::NEVER,
        }
    }

    /// Takes what was heard.
    pub fn hear(&mut self, now: Time, heard: GuardianInput) -> Vec<GuardianOutput> {
        match (heard, self.state) {
            (_, State::Left) => Vec::new(),
            (GuardianInput::HungUp, _) => self.leave(),
            (GuardianInput::Prepare(frames), State::Idle | State::Held { .. }) => {
                self.stops = frames.stops;
                self.next = 0;
                self.lasts = frames.lasts;
                Vec::new()
            }
            (GuardianInput::Renew(number, at), State::Idle | State::Held { .. }) if !self.stops.is_empty() => {
                // What lay in the pipe is as old as it is.
                self.state = State::Held { renewed: at.min(now) };
                vec![GuardianOutput::Tell(GuardianEvent::Held(number))]
            }
            (GuardianInput::Release, _) => {
                self.state = State::Idle;
                // Signed stops that were begun, or lay long, are not taken a second time.
                self.stops.clear();
                vec![GuardianOutput::Tell(GuardianEvent::Released)]
            }
            (GuardianInput::Prepare(_) | GuardianInput::Renew(..), _) => Vec::new(),
            (GuardianInput::End, state) => {
                self.alone = true;
                match state {
                    State::Held { renewed } => self.fire(now, renewed),
                    State::Idle | State::Spent => self.leave(),
                    State::Firing { .. } | State::Left => Vec::new(),
                }
            }
        }
    }

    /// Does what is due. `clear`: everything written so far has left.
    pub fn work(&mut self, now: Time, clear: bool) -> Vec<GuardianOutput> {
        match self.state {
            State::Held { renewed } if now >= renewed + HOLDS => self.fire(now, renewed),
            State::Firing { ends, .. } if now >= ends => self.spent(),
            State::Firing { since, ends, next } if now >= next => {
                let step = if now.since(since) < QUICK_FOR { QUICK } else { SLOW };
                self.state = State::Firing { since, ends, next: now + step };
                if clear { vec![GuardianOutput::Write(self.stop())] } else { Vec::new() }
            }
            _ => Vec::new(),
        }
    }

    fn fire(&mut self, now: Time, renewed: Time) -> Vec<GuardianOutput> {
        let ends = renewed + self.lasts;
        if now >= ends {
            return [vec![GuardianOutput::Tell(GuardianEvent::TooLate)], self.spent()].concat();
        }
        self.state = State::Firing { since: now, ends, next: now + QUICK };
        let length = self.stops.first().map_or(0, Vec::len);
        let mut deeds = vec![GuardianOutput::Discard];
        deeds.extend((0..burst(length)).map(|_| GuardianOutput::Write(self.stop())));
        deeds.push(GuardianOutput::Tell(GuardianEvent::Fired));
        deeds
    }

    fn stop(&mut self) -> Vec<u8> {
        let stop = self.stops.get(self.next).cloned().unwrap_or_default();
        self.next = (self.next + 1) % self.stops.len().max(1);
        stop
    }

    fn spent(&mut self) -> Vec<GuardianOutput> {
        self.state = State::Spent;
        // What a stuck wire did not take in time must not leave later.
        let mut deeds = vec![GuardianOutput::Discard, GuardianOutput::Say];
        if self.alone {
            deeds.extend(self.leave());
        }
        deeds
    }

    fn leave(&mut self) -> Vec<GuardianOutput> {
        self.state = State::Left;
        vec![GuardianOutput::Leave]
    }
}
