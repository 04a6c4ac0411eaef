//! Everything that happened, in order, and questions about it.

use crate::spy::is_forced_stop;
use quadjig::board::mavlink::{FrameClass, classify, decode, frames};
use quadjig::measure::time::Time;
use quadjig::seam::ui::{About, Question, StartedBy, UiEvent};
use std::fmt::Write as _;
use std::time::Duration;

/// Outputs up to this command no turning.
const REST: u16 = 1005;

/// One thing that happened.
#[derive(Debug, Clone)]
pub enum Did {
    /// An event was handed to the session.
    Event(String),
    /// A frame left; `overtaking`: by the way of a stop.
    Frame { class: Option<FrameClass>, forced: bool, overtaking: bool, bytes: Vec<u8> },
    /// The writer's hold was renewed.
    Hold,
    /// The hold ended.
    Release,
    /// Something went to the disk.
    Store { text: String, failed: bool },
    /// A question.
    Asked(Question),
    /// It was closed.
    Closed,
    /// Something was shown.
    UiEvent(UiEvent),
    /// Another effect.
    Other,
}

/// See [`Did`].
#[derive(Debug, Clone)]
pub struct Entry {
    pub at: Time,
    /// Number of the event during which it happened.
    pub event: usize,
    pub did: Did,
}

/// What really was, at one moment.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    pub at: Time,
    pub fastest: f64,
    pub highest: u16,
    pub armed: bool,
}

/// See the module.
#[derive(Debug, Default)]
pub struct Log {
    pub entries: Vec<Entry>,
    pub truth: Vec<Truth>,
    /// Every byte that reached the wire, the writer's own hold included.
    pub spied: Vec<(Time, Vec<u8>)>,
}

/// The frames of bytes that left, each with its class.
pub fn classed(bytes: &[u8]) -> impl Iterator<Item = (Option<FrameClass>, bool, Vec<u8>)> + '_ {
    frames(bytes).into_iter().map(|frame| (classify(frame), is_forced_stop(frame), frame.to_vec()))
}

/// Whether a question stands before a start.
pub fn is_start(question: &Question) -> bool {
    matches!(&question.about, About::Motor(step) if !matches!(step.by, StartedBy::Change { .. }))
}

impl Log {
    /// The last things that happened, for a message.
    pub fn tail(&self) -> String {
        let mut text = String::new();
        let told = self.entries.iter().filter(|entry| !matches!(entry.did, Did::Hold));
        let told: Vec<_> =
            told.filter(|e| !matches!(&e.did, Did::Frame { class: Some(FrameClass::Heartbeat), .. })).collect();
        for entry in told.iter().skip(told.len().saturating_sub(40)) {
            let mut what = format!("{:?}", entry.did);
            what.truncate(what.char_indices().nth(300).map_or(what.len(), |(at, _)| at));
            let _ = writeln!(text, "{:>9} ms  {what}", entry.at.0 / 1000);
        }
        text
    }

    /// Frames of a class, with their moments.
    pub fn sent(&self, wanted: FrameClass) -> Vec<&Entry> {
        self.entries
            .iter()
            .filter(|e| matches!(&e.did, Did::Frame { class: Some(class), .. } if *class == wanted))
            .collect()
    }

    /// Frames of a class after an entry.
    pub fn sent_after(&self, wanted: FrameClass, event: usize) -> usize {
        self.sent(wanted).into_iter().filter(|entry| entry.event > event).count()
    }

    /// Every frame is of a known class, on the wire as a spy sees it.
    #[track_caller]
    pub fn every_frame_is_known(&self) {
        for (at, bytes) in &self.spied {
            assert_eq!(frames(bytes).iter().map(|frame| frame.len()).sum::<usize>(), bytes.len(), "at {at:?}");
            for (class, ..) in classed(bytes) {
                assert!(class.is_some(), "an unknown frame at {at:?}");
            }
        }
    }

    /// Frames by which a motor could start.
    pub fn motor_frames(&self) -> usize {
        self.spied.iter().flat_map(|(_, bytes)| classed(bytes)).filter(|(c, ..)| *c == Some(FrameClass::Motor)).count()
    }

    /// The fastest that any motor ever turned, rpm, in truth.
    pub fn fastest(&self) -> f64 {
        self.truth.iter().map(|truth| truth.fastest).fold(0.0, f64::max)
    }

    /// The highest pulse that was ever commanded, in truth.
    pub fn highest(&self) -> u16 {
        self.truth.iter().map(|truth| truth.highest).max().unwrap_or(0)
    }

    /// No motor turned and none was commanded to, in truth.
    #[track_caller]
    pub fn nothing_turned(&self) {
        assert!(self.fastest() < 1.0, "a motor turned at {} rpm\n{}", self.fastest(), self.tail());
        assert!(self.highest() <= REST, "{} us were commanded\n{}", self.highest(), self.tail());
        assert_eq!(self.motor_frames(), 0, "{}", self.tail());
    }

    /// Motors did turn: else a test of stopping them proves nothing.
    #[track_caller]
    pub fn motors_turned(&self) {
        assert!(self.fastest() > 1000.0, "no motor turned: {} rpm\n{}", self.fastest(), self.tail());
    }

    /// Since when everything has been still at the end, in truth.
    pub fn still_since(&self) -> Option<Time> {
        let last = self.truth.iter().rposition(|truth| truth.fastest >= 1.0 || truth.highest > REST);
        let first_still = last.map_or(0, |last| last + 1);
        self.truth.get(first_still).map(|truth| truth.at)
    }

    /// Until when a motor was commanded to turn, in truth.
    pub fn driven_until(&self) -> Option<Time> {
        self.truth.iter().rfind(|truth| truth.highest > REST).map(|truth| truth.at)
    }

    /// Questions in order.
    pub fn questions(&self) -> Vec<&Question> {
        self.entries
            .iter()
            .filter_map(|entry| match &entry.did {
                Did::Asked(question) => Some(question),
                _ => None,
            })
            .collect()
    }

    /// Motor questions in order.
    pub fn motor_questions(&self) -> Vec<&Question> {
        self.questions().into_iter().filter(|question| matches!(question.about, About::Motor(_))).collect()
    }

    /// Questions before a start, not those before a change of settings, in order.
    pub fn start_questions(&self) -> Vec<&Question> {
        self.questions().into_iter().filter(|question| is_start(question)).collect()
    }

    /// The lines that were shown, of any tone, and the closing words.
    pub fn lines(&self) -> Vec<String> {
        let mut all = Vec::new();
        for entry in &self.entries {
            match &entry.did {
                Did::UiEvent(UiEvent::Line(_, text) | UiEvent::Noted(_, text)) => all.push(text.clone()),
                Did::UiEvent(UiEvent::Closing { lines, .. }) => all.extend(lines.iter().cloned()),
                _ => {}
            }
        }
        all
    }

    /// Whether a line holds a text.
    pub fn says(&self, text: &str) -> bool {
        self.lines().iter().any(|line| line.contains(text))
    }

    /// The first thing shown of a kind.
    pub fn shown(&self, is: impl Fn(&UiEvent) -> bool) -> Option<&Entry> {
        self.entries.iter().find(|entry| matches!(&entry.did, Did::UiEvent(shown) if is(shown)))
    }

    /// The stop: its moment and event.
    #[track_caller]
    pub fn stop(&self) -> &Entry {
        let stop = self.shown(|shown| matches!(shown, UiEvent::StopBegins { .. }));
        stop.unwrap_or_else(|| panic!("no stop\n{}", self.tail()))
    }

    /// The last event that begins with these words.
    #[track_caller]
    pub fn event(&self, words: &str) -> &Entry {
        let found = self.entries.iter().rfind(|e| matches!(&e.did, Did::Event(event) if event.starts_with(words)));
        found.unwrap_or_else(|| panic!("no event {words}\n{}", self.tail()))
    }

    /// What a stop must be: its bytes the first of all effects of the event that asked for it, at the same moment,
    /// disarms only, again every 20 ms while it is young, and nothing else that could move anything ever after.
    #[track_caller]
    pub fn stop_is_as_promised(&self) {
        let stop = self.stop();
        let mut effects = self.entries.iter().filter(|e| e.event == stop.event && !matches!(e.did, Did::Event(_)));
        let first = effects.next().unwrap();
        assert!(
            matches!(first.did, Did::Frame { class: Some(FrameClass::Stop), forced: false, overtaking: true, .. }),
            "first came {first:?}\n{}",
            self.tail()
        );
        let event = self.entries.iter().find(|e| e.event == stop.event).unwrap();
        assert_eq!(first.at, event.at);
        for class in [FrameClass::Motor, FrameClass::Writes, FrameClass::Stores, FrameClass::Restarts] {
            assert_eq!(self.sent_after(class, stop.event - 1), 0, "{class:?} after the stop\n{}", self.tail());
        }
        let mut moments: Vec<Time> =
            self.sent(FrameClass::Stop).iter().map(|e| e.at).filter(|at| *at >= stop.at).collect();
        moments.dedup();
        let confirmed = self.shown(|s| matches!(s, UiEvent::StopConfirmed)).map(|e| e.at);
        let until = confirmed.unwrap_or(Time::NEVER).min(stop.at + Duration::from_secs(1));
        let young: Vec<Time> = moments.into_iter().filter(|at| *at < until).collect();
        assert!(young.len() >= 40, "{} stops in the first second\n{}", young.len(), self.tail());
        for pair in young.windows(2) {
            assert!(pair[1].since(pair[0]) <= Duration::from_millis(20), "{pair:?}");
        }
    }

    /// Values written, as sent: moment, name, value by the parameter's own bytes.
    pub fn writes(&self) -> Vec<(Time, String, i32)> {
        self.sent(FrameClass::Writes)
            .into_iter()
            .filter_map(|entry| {
                let Did::Frame { bytes, .. } = &entry.did else { return None };
                let mut payload = decode(bytes)?.payload.to_vec();
                // A version 2 payload loses its trailing zeros on the wire (MAVLink serialisation); PARAM_SET has
                // 23 bytes: value, target system, component, name of 16, type.
                payload.resize(23, 0);
                let value = i32::from_le_bytes(payload[..4].try_into().ok()?);
                let name: Vec<u8> = payload[6..22].iter().copied().take_while(|byte| *byte != 0).collect();
                Some((entry.at, String::from_utf8(name).ok()?, value))
            })
            .collect()
    }
}
