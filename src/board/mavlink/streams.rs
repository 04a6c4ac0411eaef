//! Rates of streams: changed for a run, and put back afterwards.
//!
//! Before a stream is changed for the first time, its present interval is asked and remembered; where the board does
//! not tell, putting back means the board's own default. It is asked by requesting the message, by the older command
//! where the board does not know that, and no more once it was silent. Source: common.xml,
//! `MAV_CMD_SET_MESSAGE_INTERVAL`, `MAV_CMD_GET_MESSAGE_INTERVAL` (superseded), `MESSAGE_INTERVAL`.

use super::commands::{Command, End, IntervalQuery, Purpose};
use super::refusal::{CommandResult, Refusal};
use crate::board::refusal::Common;
use crate::board::signals::{Stream, Ticket};
use std::collections::BTreeMap;

/// Interval that asks for the board's own default.
const DEFAULT: i32 = 0;
/// `MESSAGE_INTERVAL`.
pub(super) const MESSAGE_INTERVAL: u32 = 244;

/// Message id of a stream.
#[must_use]
pub(super) fn message(stream: Stream) -> u32 {
    match stream {
        Stream::Alive => 0,
        Stream::Channels => 65,
        Stream::Outputs => 36,
        Stream::Attitude => 30,
        Stream::Power => 1,
        Stream::Speeds => 291,
    }
}

/// Intervals from before the first change, by message; `None` where the board did not tell.
#[derive(Debug, Default)]
pub(super) struct Streams {
    before: BTreeMap<u32, Option<i32>>,
    way: IntervalQuery,
}

impl Streams {
    /// The command for a request; `None`: there is nothing to put back.
    ///
    /// # Errors
    ///
    /// If the rate is zero.
    pub(super) fn request(
        &mut self,
        ticket: Ticket,
        stream: Stream,
        hertz: Option<u32>,
    ) -> Result<Option<(Command, Purpose)>, Refusal> {
        let message = message(stream);
        let Some(hertz) = hertz else {
            let Some(before) = self.before.remove(&message) else { return Ok(None) };
            let back = before.unwrap_or(DEFAULT);
            return Ok(Some((Command::interval(message, back), Purpose::Plain(ticket))));
        };
        let then = 1_000_000_u32.checked_div(hertz).ok_or(Common::RateZero)?;
        let then = i32::try_from(then.max(1)).unwrap_or(1);
        Ok(Some(self.next(self.way, ticket, message, then)))
    }

    /// The command that comes next: a question for what is not known yet, else the change.
    fn next(&mut self, way: IntervalQuery, ticket: Ticket, message: u32, then: i32) -> (Command, Purpose) {
        let ask = match way {
            _ if self.before.contains_key(&message) => None,
            IntervalQuery::Request => Some(Command::request(MESSAGE_INTERVAL, message)),
            IntervalQuery::Get => Some(Command::get_interval(message)),
            IntervalQuery::Untold => None,
        };
        if let Some(ask) = ask {
            return (ask, Purpose::Interval { ticket, message, then, way });
        }
        self.remember(message, None);
        (Command::interval(message, then), Purpose::Plain(ticket))
    }

    /// A question has ended, the answer being remembered if there was one: what comes next.
    pub(super) fn asked(&mut self, asked: (Ticket, u32, i32), way: IntervalQuery, end: &End) -> (Command, Purpose) {
        let (learned, here) = match end {
            End::Accepted => (way, way),
            End::Silent => (IntervalQuery::Untold, IntervalQuery::Untold),
            // It knows no such question at all, or has no answer to this one.
            End::Refused(Refusal::Result(CommandResult::Unsupported)) => (way.other(), way.other()),
            End::Refused(_) => (IntervalQuery::Request, way.other()),
        };
        self.way = self.way.max(learned);
        let (ticket, message, then) = asked;
        self.next(self.way.max(here), ticket, message, then)
    }

    /// Remembers what was before, once; `None` if the board did not tell.
    pub(super) fn remember(&mut self, message: u32, interval: Option<i32>) {
        // 0 is "not available" (common.xml): then the default is the best that can be put back. −1 is "off".
        let known = interval.filter(|interval| *interval == -1 || *interval > 0);
        self.before.entry(message).or_insert(known);
    }
}
