//! What left for whom, what both crafts truly did, and what was shown, all with their moments; and questions about it.

use super::frames::Class;
use quadjig::measure::time::Time;
use quadjig::seam::ui::{About, Question, UiEvent};
use std::fmt::Write as _;
use std::time::Duration;

/// Which of the two.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Craft {
    A,
    B,
}

/// Something that left.
#[derive(Debug, Clone)]
pub struct Sent {
    /// When it left the session, or the writer's hold.
    pub at: Time,
    /// When it reached a board; `None`: never.
    pub reached: Option<Time>,
    /// Whom.
    pub to: Craft,
    /// By the writer's own hold, not by the session.
    pub held: bool,
    pub class: Class,
}

/// What chance did to the frames of one direction.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Weathered {
    pub frames: usize,
    pub lost: usize,
    /// Signs of life among these.
    pub flags_lost: usize,
    /// The longest that one took.
    pub longest: Duration,
}

/// What a craft truly was at a moment.
#[derive(Debug, Clone, Copy)]
pub struct Truth {
    pub at: Time,
    pub craft: Craft,
    pub armed: bool,
    pub fastest: f64,
    pub highest: u16,
    /// The battery is in.
    pub powered: bool,
}

/// Something handed to the session, or shown by it.
#[derive(Debug, Clone)]
pub enum Seen {
    /// An event, in words.
    Event(String),
    Asked(Box<Question>),
    Shown(Box<UiEvent>),
    /// Something for the disk.
    Stored(String),
    /// What the spy did.
    Did(String),
}

/// See the module.
#[derive(Debug, Default)]
pub struct Log {
    pub sent: Vec<Sent>,
    pub truth: Vec<Truth>,
    pub seen: Vec<(Time, usize, Seen)>,
    pub to_board: Weathered,
    pub from_board: Weathered,
    /// What was handed to the session over a console.
    pub told: Vec<(Time, String)>,
    /// When the first frame of the other craft was handed to the session.
    pub first_of_b: Option<Time>,
}

impl Log {
    /// Times that the program was frozen.
    pub fn freezes(&self) -> usize {
        let is = |seen: &Seen| matches!(seen, Seen::Did(what) if what.starts_with("the program is frozen"));
        self.seen.iter().filter(|(_, _, seen)| is(seen)).count()
    }

    /// Everything of these kinds, in order.
    pub fn sent_that(&self, is: impl Fn(&Sent) -> bool) -> Vec<&Sent> {
        self.sent.iter().filter(|sent| is(sent)).collect()
    }

    /// What reached the other craft but for identity questions: how often each.
    pub fn reached_b(&self) -> Vec<String> {
        self.reached_b_that(|sent| sent.class != Class::Identity)
    }

    /// What reached the other craft of which this is so: how often each.
    pub fn reached_b_that(&self, is: impl Fn(&Sent) -> bool) -> Vec<String> {
        let mut kinds: Vec<(String, usize)> = Vec::new();
        for sent in self.sent.iter().filter(|s| s.to == Craft::B && s.reached.is_some() && is(s)) {
            let name = format!("{}{:?}", if sent.held { "held " } else { "" }, sent.class);
            match kinds.iter_mut().find(|(known, _)| *known == name) {
                Some((_, count)) => *count += 1,
                None => kinds.push((name, 1)),
            }
        }
        kinds.into_iter().map(|(name, count)| format!("{count} x {name}")).collect()
    }

    /// The fastest that a motor of a craft ever turned, rpm.
    pub fn fastest(&self, craft: Craft) -> f64 {
        self.truth.iter().filter(|truth| truth.craft == craft).map(|truth| truth.fastest).fold(0.0, f64::max)
    }

    /// The highest pulse that a craft ever commanded, µs.
    pub fn highest(&self, craft: Craft) -> u16 {
        self.truth.iter().filter(|truth| truth.craft == craft).map(|truth| truth.highest).max().unwrap_or(0)
    }

    /// When a motor of a craft first turned faster than this.
    pub fn first_over(&self, craft: Craft, rpm: f64) -> Option<Time> {
        self.truth.iter().find(|truth| truth.craft == craft && truth.fastest > rpm).map(|truth| truth.at)
    }

    /// When it was first armed.
    pub fn first_armed(&self, craft: Craft) -> Option<Time> {
        self.truth.iter().find(|truth| truth.craft == craft && truth.armed).map(|truth| truth.at)
    }

    /// The first thing that stops, from a moment on.
    pub fn stop_after(&self, from: Time) -> Option<&Sent> {
        self.sent.iter().find(|sent| sent.at >= from && sent.class.stops())
    }

    /// When an event was handed over whose words begin so: the last one.
    pub fn event(&self, words: &str) -> Option<Time> {
        let is = |seen: &Seen| matches!(seen, Seen::Event(event) if event.starts_with(words));
        self.seen.iter().rfind(|(_, _, seen)| is(seen)).map(|(at, ..)| *at)
    }

    /// Events that were handed over after a moment, in words.
    pub fn events_after(&self, from: Time) -> Vec<(Time, &str)> {
        self.seen
            .iter()
            .filter_map(|(at, _, seen)| match seen {
                Seen::Event(event) if *at > from => Some((*at, event.as_str())),
                _ => None,
            })
            .collect()
    }

    /// Questions, with their moments.
    pub fn questions(&self) -> Vec<(Time, &Question)> {
        self.seen
            .iter()
            .filter_map(|(at, _, seen)| match seen {
                Seen::Asked(question) => Some((*at, &**question)),
                _ => None,
            })
            .collect()
    }

    /// Questions before motors, with their moments.
    pub fn motor_questions(&self) -> Vec<(Time, &Question)> {
        self.questions().into_iter().filter(|(_, q)| matches!(q.about, About::Motor(_))).collect()
    }

    /// What was asked of the hands, with the moments.
    pub fn invitations(&self) -> Vec<(Time, String)> {
        self.seen
            .iter()
            .filter_map(|(at, _, seen)| match seen {
                Seen::Shown(shown) => match &**shown {
                    UiEvent::Invite(_, text, ..) => Some((*at, text.clone())),
                    _ => None,
                },
                _ => None,
            })
            .collect()
    }

    /// Times that it was asked whether the propellers are off.
    pub fn props_asked(&self) -> usize {
        self.questions().iter().filter(|(_, question)| question.about == About::Props).count()
    }

    /// Whether a stop was shown.
    pub fn stopped(&self) -> bool {
        self.seen
            .iter()
            .any(|(_, _, seen)| matches!(seen, Seen::Shown(shown) if matches!(**shown, UiEvent::StopBegins { .. })))
    }

    /// Whether a line that was shown, or the closing, holds a text.
    pub fn says(&self, text: &str) -> bool {
        self.lines().iter().any(|line| line.contains(text))
    }

    /// Lines that were shown, and those of the closing.
    pub fn lines(&self) -> Vec<String> {
        let mut all = Vec::new();
        for (_, _, seen) in &self.seen {
            if let Seen::Shown(shown) = seen {
                match &**shown {
                    UiEvent::Line(_, text) | UiEvent::Noted(_, text) | UiEvent::Invite(_, text, ..) => {
                        all.push(text.clone());
                    }
                    UiEvent::Closing { lines, .. } => all.extend(lines.iter().cloned()),
                    UiEvent::StopBegins { reason, .. } => all.push(format!("stop: {reason}")),
                    _ => {}
                }
            }
        }
        all
    }

    /// The moment at which a text was shown or asked.
    pub fn when(&self, text: &str) -> Option<Time> {
        self.seen.iter().find(|(_, _, seen)| words(seen).contains(text)).map(|(at, ..)| *at)
    }

    /// The last things that happened, for a message.
    pub fn tail(&self) -> String {
        let mut all: Vec<(Time, String)> = self.seen.iter().map(|(at, _, seen)| (*at, words(seen))).collect();
        let told = |sent: &&Sent| !matches!(sent.class, Class::Heartbeat | Class::Ask | Class::Streams);
        all.extend(self.sent.iter().filter(told).map(|sent| {
            let by = if sent.held { "hold sends" } else { "sends" };
            (
                sent.at,
                format!("{by} {:?} to {:?}, reached {:?}", sent.class, sent.to, sent.reached.map(|at| at.0 / 1000)),
            )
        }));
        all.sort_by_key(|(at, _)| *at);
        let mut text = String::new();
        for (at, what) in all.iter().skip(all.len().saturating_sub(60)) {
            let _ = writeln!(text, "{:>9} ms  {}", at.0 / 1000, what.chars().take(260).collect::<String>());
        }
        text
    }

    /// Within `bound` of a moment something that stops left.
    #[track_caller]
    pub fn stops_within(&self, from: Time, bound: Duration, what: &str) {
        match self.stop_after(from) {
            Some(stop) => {
                let took = stop.at.since(from);
                assert!(took <= bound, "{what}: the stop left after {took:?}\n{}", self.tail());
            }
            None => panic!("{what}: no stop ever left\n{}", self.tail()),
        }
    }
}

fn words(seen: &Seen) -> String {
    match seen {
        Seen::Event(event) => format!("event {event}"),
        Seen::Asked(question) => format!("asks {} {:?} {:?}", question.title, question.lines, question.reply),
        Seen::Shown(shown) => format!("shows {shown:?}"),
        Seen::Stored(text) => format!("stores {text}"),
        Seen::Did(what) => format!("SPY {what}"),
    }
}
