//! What a page remembers from one drawing to the next: the board's last words, and frames lost of late.
//!
//! Must not be here: signals themselves.

use crate::measure::time::Time;
use crate::seam::page::BoardText;
use std::collections::VecDeque;
use std::time::Duration;

/// How many of the board's words stay on the page.
const WORDS: usize = 8;
/// How many are kept to be told after it.
const KEPT: usize = 200;
/// Loss is counted over this time.
const LATE: Duration = Duration::from_secs(10);
/// Between two counts.
const APART: Duration = Duration::from_millis(500);
/// Fewer frames than this say nothing of a share.
const ENOUGH: u64 = 50;

/// The board's words while the page stands.
#[derive(Debug, Default)]
pub(in crate::bench) struct Words {
    shown: VecDeque<(Time, String, u32)>,
    all: VecDeque<(u8, String)>,
}

impl Words {
    /// Takes what was said since the last time.
    pub(in crate::bench) fn take(&mut self, now: Time, texts: &mut VecDeque<(u8, String)>) {
        for (severity, text) in texts.drain(..) {
            match self.shown.back_mut().filter(|(_, last, _)| *last == text) {
                Some((at, _, times)) => {
                    *at = now;
                    *times += 1;
                }
                None => self.shown.push_back((now, text.clone(), 1)),
            }
            self.all.push_back((severity, text));
        }
        while self.shown.len() > WORDS {
            self.shown.pop_front();
        }
        while self.all.len() > KEPT {
            self.all.pop_front();
        }
    }

    /// The last words, the newest last.
    pub(in crate::bench) fn said(&self, now: Time) -> Vec<BoardText> {
        let said = |(at, text, times): &(Time, String, u32)| BoardText {
            text: text.clone(),
            ago: now.since(*at),
            times: *times,
        };
        self.shown.iter().map(said).collect()
    }

    /// Puts everything back before what came since.
    pub(in crate::bench) fn give_back(&mut self, texts: &mut VecDeque<(u8, String)>) {
        for said in self.all.drain(..).rev() {
            texts.push_front(said);
        }
    }
}

/// Counts of frames over the last seconds.
#[derive(Debug, Default)]
pub(in crate::bench) struct OfLate {
    counts: VecDeque<(Time, u64, u64)>,
}

impl OfLate {
    /// Thousandths of the frames that were lost of late; `None` where that is not known.
    pub(in crate::bench) fn loss(&mut self, now: Time, frames: Option<(u64, u64)>) -> Option<u32> {
        let (heard, lost) = frames?;
        if self.counts.back().is_none_or(|(at, ..)| now.since(*at) >= APART) {
            self.counts.push_back((now, heard, lost));
        }
        while self.counts.front().is_some_and(|(at, ..)| now.since(*at) > LATE) {
            self.counts.pop_front();
        }
        let (_, heard_then, lost_then) = self.counts.front()?;
        let (heard, lost) = (heard.saturating_sub(*heard_then), lost.saturating_sub(*lost_then));
        let all = heard + lost;
        if all < ENOUGH { None } else { u32::try_from(lost * 1000 / all).ok() }
    }
}
