//! How far each channel went since a moment, taken in as it comes.
//!
//! Promises: what was looked at once is not looked at again, however often one asks. Must not be here: what counts as
//! moved by a hand (see `measure::moved`).

use crate::interlock::signals::Signals;
use crate::measure::time::Time;

/// A channel that went further than this did so by no noise, µs.
const JUMP: i32 = 100;

/// See the module.
#[derive(Debug, Clone)]
pub(in crate::bench) struct Spans {
    /// Least and highest pulse by channel from 0, once one was heard.
    each: [Option<(i32, i32)>; 18],
    /// The moment of the last that was taken in.
    last: Time,
}

impl Spans {
    /// Of what is heard later than `after`.
    pub fn since(after: Time) -> Self {
        Self { each: [None; 18], last: after }
    }

    /// Takes in what was heard since the last look.
    pub fn take(&mut self, live: &Signals) {
        for sample in live.channels.since(self.last) {
            self.last = sample.at;
            for (span, pulse) in self.each.iter_mut().zip(sample.value.pulses) {
                let Some(pulse) = pulse.map(i32::from) else { continue };
                let (least, most) = span.get_or_insert((pulse, pulse));
                (*least, *most) = (pulse.min(*least), pulse.max(*most));
            }
        }
    }

    /// By channel from 1: least and highest of those that were heard.
    pub fn heard(&self) -> impl Iterator<Item = (u32, i32, i32)> {
        (1..).zip(&self.each).filter_map(|(channel, span)| span.map(|(least, most)| (channel, least, most)))
    }

    /// Channels that went further than so many µs.
    pub fn further_than(&self, most: i32) -> impl Iterator<Item = u32> {
        self.heard().filter(move |(_, low, high)| high - low > most).map(|(channel, ..)| channel)
    }

    /// Whether a channel has gone further than noise goes.
    pub fn jumped(&self) -> bool {
        self.further_than(JUMP).next().is_some()
    }

    /// Whether channels were heard later than `after`, and none has jumped since. What was taken in reaches back further,
    /// so that a channel which never jumped in it need not be looked at.
    pub fn rest_since(&self, live: &Signals, after: Time) -> bool {
        let rests = |channel| {
            let pulses = live.channels.since(after).filter_map(|sample| sample.value.of(channel));
            let (least, most) = pulses.fold((i32::MAX, i32::MIN), |(l, m), pulse| (l.min(pulse.0), m.max(pulse.0)));
            most <= least.saturating_add(JUMP)
        };
        live.channels.last().is_some_and(|last| last.at > after) && self.further_than(JUMP).all(rests)
    }
}
