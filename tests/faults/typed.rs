//! Lines typed at a console and what it answers, as the judge reads them, and which of both a wire speaks.
//!
//! Shares no code with the program's console; the words are those of the virtual console's own help. Must not be here: what
//! is right.

use super::frames::{self, Frame, Means};
use std::ops::Range;

/// How a wire is spoken on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Speech {
    #[default]
    Frames,
    Lines,
}

/// Lines carry no number of a message: from here on, one for each first word.
const FIRST_LINE: u32 = 1 << 24;
/// First words of lines that ask, or take leave.
const ASKS: [&str; 10] = ["leave", "show", "list", "who", "armed", "channels", "outputs", "tilt", "pack", "speeds"];
/// Ends what is open: a break, the end of a line, the next page.
const CLEARS: [u8; 3] = [3, b'\r', b' '];
const PROMPT: &str = "finch> ";

impl Frame {
    /// Whether it was typed: it has no number of its own then, so that one sent twice looks like two.
    pub fn is_typed(&self) -> bool {
        self.id >= FIRST_LINE
    }
}

fn line(means: Means, word: u32, payload: &[u8]) -> Frame {
    let payload = payload.to_vec();
    Frame { sequence: 0, system: 1, component: 1, id: FIRST_LINE + word, repeat: 0, means, payload }
}

/// What a line asks a board for; `None`: it has no such word.
#[expect(clippy::cast_possible_truncation, reason = "places in a short list")]
fn typed(text: &str) -> Option<Frame> {
    let words: Vec<&str> = text.split_ascii_whitespace().collect();
    let (means, word) = match words[..] {
        ["put", value, "into", name] => (Means::Write(name.to_owned(), value.parse::<f32>().ok()?.to_bits()), 1),
        ["keep"] => (Means::Store(true), 2),
        ["again"] => (Means::Restart, 3),
        ["spin", motor, pulse, ms] => {
            let run = Means::Run { motor: motor.parse().ok()?, pulse: pulse.parse().ok()?, ms: ms.parse().ok()? };
            (run, 4)
        }
        ["rest"] => (Means::Arm { on: false, forced: false }, 5),
        [first, ..] => (Means::Asks, 10 + ASKS.iter().position(|word| *word == first)? as u32),
        [] => return None,
    };
    Some(line(means, word, text.as_bytes()))
}

/// What a line of a board tells.
fn said(text: &str) -> Means {
    let words: Vec<&str> = text.trim_start_matches(PROMPT).split_ascii_whitespace().collect();
    match words[..] {
        ["armed:", said] => Means::Alive { armed: said == "yes", vehicle: true },
        [value, "for", name] => {
            value.parse::<f32>().map_or(Means::Other(0), |value| Means::Value(name.to_owned(), value.to_bits()))
        }
        _ => Means::Other(0),
    }
}

impl Speech {
    /// Where each whole frame or line lies of what goes to a board, with what it is; what makes none lies between as `None`.
    pub fn split(self, bytes: &[u8]) -> Vec<(Range<usize>, Option<Frame>)> {
        match self {
            Self::Frames => frames::split(bytes),
            Self::Lines => {
                let (mut parts, mut at) = (Vec::new(), 0);
                while at < bytes.len() {
                    if CLEARS.contains(&bytes[at]) {
                        parts.push((at..at + 1, Some(line(Means::Clears, 0, b""))));
                        at += 1;
                        continue;
                    }
                    let end = bytes[at..].iter().position(|byte| *byte == b'\r');
                    let text = end.and_then(|end| std::str::from_utf8(&bytes[at..at + end]).ok());
                    let end = end.map_or(bytes.len(), |end| at + end + 1);
                    parts.push((at..end, text.and_then(typed)));
                    at = end;
                }
                parts
            }
        }
    }

    /// The parts of what a board says that may be lost or late by themselves.
    pub fn parts(self, bytes: &[u8]) -> Vec<(Range<usize>, Option<Means>)> {
        match self {
            Self::Frames => {
                frames::split(bytes).into_iter().map(|(at, frame)| (at, frame.map(|frame| frame.means))).collect()
            }
            Self::Lines => {
                let mut at = 0;
                let ends = bytes.split_inclusive(|byte| *byte == b'\n').map(|part| {
                    at += part.len();
                    (at - part.len()..at, Some(said(&String::from_utf8_lossy(part))))
                });
                ends.collect()
            }
        }
    }

    /// What has come whole of what a board said; `open` keeps the rest of a line.
    pub fn heard(self, bytes: &[u8], open: &mut Vec<u8>) -> Vec<Frame> {
        match self {
            Self::Frames => frames::frames(bytes).collect(),
            Self::Lines => {
                open.extend(bytes);
                let whole = open.iter().rposition(|byte| *byte == b'\n').map_or(0, |end| end + 1);
                let came: Vec<u8> = open.drain(..whole).collect();
                let lines = String::from_utf8_lossy(&came).into_owned();
                lines.lines().map(|text| line(said(text), 20, b"")).collect()
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each line of the virtual console's own help is known, and each answer that counts is read, in pieces too.
    #[test]
    fn lines_are_read_as_the_consoles_help_says() {
        let means = |text: &str| {
            let parts = Speech::Lines.split(text.as_bytes());
            parts.into_iter().map(|(_, frame)| frame.map(|frame| frame.means)).collect::<Vec<_>>()
        };
        let stop = Some(Means::Arm { on: false, forced: false });
        let clears = || Some(Means::Clears);
        assert_eq!(means("\u{3}\r\rrest\r"), [clears(), clears(), clears(), stop]);
        assert_eq!(means("put 1150 into IDLE_US\r"), [Some(Means::Write("IDLE_US".to_owned(), 1150_f32.to_bits()))]);
        assert_eq!(means("spin 2 1100 500\r"), [Some(Means::Run { motor: 2, pulse: 1100, ms: 500 })]);
        assert_eq!(means("keep\ragain\r"), [Some(Means::Store(true)), Some(Means::Restart)]);
        assert_eq!(means("show IDLE_US\r"), [Some(Means::Asks)]);
        // Half a line, and one that nobody knows.
        assert_eq!(means("rest"), [None]);
        assert_eq!(means("spin up\r"), [None]);

        let mut open = Vec::new();
        let mut heard = |text: &str| {
            Speech::Lines.heard(text.as_bytes(), &mut open).into_iter().map(|frame| frame.means).collect::<Vec<_>>()
        };
        assert_eq!(heard("finch> armed\r\narmed: y"), [Means::Other(0)]);
        assert_eq!(heard("es\r\nfinch> "), [Means::Alive { armed: true, vehicle: true }]);
        assert_eq!(
            heard("show IDLE_US\r\n1150 for IDLE_US\r\n")[1],
            Means::Value("IDLE_US".to_owned(), 1150_f32.to_bits())
        );
    }
}
