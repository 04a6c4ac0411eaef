//! Lines of text from a board, put together from their chunks.
//!
//! A line that lacks chunks is told with `…` in their place, when another line begins, or after a while. Bounded in
//! lines and chunks; what a text says is not judged here. Source: common.xml, `STATUSTEXT`.

use super::fields::Fields;
use crate::board::signals::LinkEvent;
use crate::measure::time::Time;
use std::time::Duration;

/// How long the rest of a line is awaited.
pub const WAIT: Duration = Duration::from_secs(1);
/// Chunks of one line at most; the rest is left out.
pub const MOST_CHUNKS: usize = 16;
/// Characters of one chunk.
const CHUNK: usize = 50;

#[derive(Debug)]
struct Line {
    id: u16,
    severity: u8,
    chunks: Vec<Option<Vec<u8>>>,
    /// Number of chunks, once the last was heard.
    end: Option<usize>,
    due: Time,
}

impl Line {
    fn whole(&self) -> bool {
        self.end.is_some_and(|end| self.chunks.len() >= end && self.chunks.iter().all(Option::is_some))
    }

    fn told(self) -> LinkEvent {
        let mut bytes = Vec::new();
        for chunk in &self.chunks {
            bytes.extend_from_slice(chunk.as_deref().unwrap_or("…".as_bytes()));
        }
        if self.end.is_none_or(|end| self.chunks.len() < end) {
            bytes.extend_from_slice("…".as_bytes());
        }
        LinkEvent::Text { severity: self.severity, text: String::from_utf8_lossy(&bytes).into_owned() }
    }
}

/// The line that is being put together.
#[derive(Debug, Default)]
pub(super) struct Text {
    line: Option<Line>,
}

impl Text {
    /// Takes one message.
    pub(super) fn take(&mut self, now: Time, fields: Fields, heard: &mut Vec<LinkEvent>) {
        let severity = fields.u8(0);
        let all: [u8; CHUNK] = fields.bytes(1);
        let length = all.iter().position(|byte| *byte == 0);
        let text = all[..length.unwrap_or(CHUNK)].to_vec();
        let (id, place) = (fields.u16(51), usize::from(fields.u8(53)));
        if id == 0 {
            self.flush(heard);
            heard.push(LinkEvent::Text { severity, text: String::from_utf8_lossy(&text).into_owned() });
            return;
        }
        if self.line.as_ref().is_some_and(|line| line.id != id) {
            self.flush(heard);
        }
        let fresh = || Line { id, severity, chunks: Vec::new(), end: None, due: now };
        let line = self.line.get_or_insert_with(fresh);
        line.due = now + WAIT;
        if place < MOST_CHUNKS {
            if line.chunks.len() <= place {
                line.chunks.resize(place + 1, None);
            }
            line.chunks[place] = Some(text);
            if length.is_some() {
                line.end = Some(place + 1);
            }
        }
        if line.whole() {
            self.flush(heard);
        }
    }

    /// Tells a line whose rest did not come.
    pub(super) fn work(&mut self, now: Time, heard: &mut Vec<LinkEvent>) {
        if self.wake() <= now {
            self.flush(heard);
        }
    }

    pub(super) fn wake(&self) -> Time {
        self.line.as_ref().map_or(Time::NEVER, |line| line.due)
    }

    fn flush(&mut self, heard: &mut Vec<LinkEvent>) {
        heard.extend(self.line.take().map(Line::told));
    }

    pub(super) fn clear(&mut self) {
        self.line = None;
    }
}
